#define _GNU_SOURCE /* F_SETPIPE_SZ */

#include "base/os.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/mem.h"

enum { OUTPUTS = 4, PIPE_BYTES = 1 << 20 };

/*
 * The one thing here that outlives a call: the temporary files a signal has to remove. A slot is
 * taken by storing the pointer last and left by clearing it first, so that the handler never sees
 * half of one.
 */
static char *volatile unfinished[OUTPUTS];

void
os_cleanup(void)
{
	for (int i = 0; i < OUTPUTS; i++)
		if (unfinished[i] != NULL)
			unlink(unfinished[i]);
}

static void
on_signal(int sig)
{
	os_cleanup();
	signal(sig, SIG_DFL);
	raise(sig);
}

static void
catch_signals(void)
{
	static const int caught[] = { SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGPIPE, SIGXCPU, SIGXFSZ };
	struct sigaction sa = { .sa_handler = on_signal, .sa_flags = 0 };

	sigemptyset(&sa.sa_mask);
	for (size_t i = 0; i < sizeof caught / sizeof caught[0]; i++) {
		struct sigaction old;

		/* what the caller ignores (nohup) stays ignored */
		if (sigaction(caught[i], NULL, &old) == 0 && old.sa_handler == SIG_DFL)
			sigaction(caught[i], &sa, NULL);
	}
}

void
os_start(void)
{
	struct rlimit files;
	int fd;

	/* the lowest free descriptor is the closed one; the wrong mode makes using it an error */
	do
		fd = open("/dev/null", O_RDONLY);
	while (fd >= 0 && fd <= 2);
	if (fd > 2)
		close(fd);
	if (getrlimit(RLIMIT_NOFILE, &files) == 0) {
		files.rlim_cur = files.rlim_max;
		setrlimit(RLIMIT_NOFILE, &files);
	}
}

int
os_open(const char *path, bool *regular, struct err *err)
{
	struct stat st;
	int fd =
	    strcmp(path, "-") == 0 ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);

	if (fd < 0 || fstat(fd, &st) != 0)
		return err_set(err, "%s: %s", path, strerror(errno));
	if (S_ISDIR(st.st_mode)) {
		if (fd != STDIN_FILENO)
			close(fd);
		return err_set(err, "%s: %s", path, strerror(EISDIR));
	}
	*regular = S_ISREG(st.st_mode);
	os_widen_pipe(fd);
	return fd;
}

ssize_t
os_read(int fd, void *p, size_t n)
{
	ssize_t got;

	do
		got = read(fd, p, n);
	while (got < 0 && errno == EINTR);
	return got;
}

int
os_write(int fd, const void *p, size_t n)
{
	const char *at = p;

	while (n > 0) {
		ssize_t done = write(fd, at, n);

		if (done < 0) {
			if (errno == EINTR)
				continue;
			return -1;
		}
		at += done;
		n -= (size_t)done;
	}
	return 0;
}

void
os_widen_pipe(int fd)
{
#ifdef F_SETPIPE_SZ
	int kept = errno;

	(void)fcntl(fd, F_SETPIPE_SZ, PIPE_BYTES);
	errno = kept;
#else
	(void)fd;
#endif
}

static struct os_id
id_of(const struct stat *st)
{
	return (struct os_id){ S_ISREG(st->st_mode), st->st_dev, st->st_ino };
}

struct os_id
os_id_of(int fd)
{
	struct stat st;

	return fstat(fd, &st) == 0 ? id_of(&st) : (struct os_id){ false, 0, 0 };
}

struct os_id
os_id_at(const char *path)
{
	struct stat st;

	return stat(path, &st) == 0 ? id_of(&st) : (struct os_id){ false, 0, 0 };
}

bool
os_id_same(struct os_id a, struct os_id b)
{
	return a.known && b.known && a.device == b.device && a.inode == b.inode;
}

/* Creates TARGET.NUMBER~ with the mode an ordinary new file, or the old target, would have. */
static int
open_beside(struct os_output *o, mode_t mode)
{
	size_t room = strlen(o->target) + 32;
	char *name = mem_zeroed(room, 1);
	int slot = 0;

	while (slot < OUTPUTS && unfinished[slot] != NULL)
		slot++;
	if (slot == OUTPUTS) {
		free(name);
		errno = EMFILE;
		return -1;
	}
	for (unsigned try = 0; try < 100; try++) {
		snprintf(name, room, "%s.%ld.%u~", o->target, (long)getpid(), try);
		o->fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
		if (o->fd >= 0) {
			o->temporary = name;
			unfinished[slot] = name;
			return 0;
		}
		if (errno != EEXIST)
			break;
	}
	free(name);
	return -1;
}

static char *
copy_of(const char *path)
{
	size_t n = strlen(path) + 1;

	return memcpy(mem_zeroed(n, 1), path, n);
}

/* Where path leads, be it there or not: a dangling link is followed one step at a time. */
static char *
follow(const char *path)
{
	char *name = realpath(path, NULL);
	char link[PATH_MAX];

	if (name != NULL)
		return name;
	name = copy_of(path);
	for (int hops = 0; hops < 40; hops++) {
		ssize_t n = readlink(name, link, sizeof link - 1);
		const char *slash = strrchr(name, '/');
		size_t dir = slash != NULL ? (size_t)(slash - name) + 1 : 0;
		char *next;

		if (n < 0)
			break;
		if (link[0] == '/')
			dir = 0;
		next = mem_zeroed(dir + (size_t)n + 1, 1);
		memcpy(next, name, dir);
		memcpy(next + dir, link, (size_t)n);
		free(name);
		name = next;
	}
	return name;
}

bool
os_output_is_terminal(const char *path)
{
	struct stat st;
	bool terminal;
	int fd;

	if (path == NULL || strcmp(path, "-") == 0)
		return isatty(STDOUT_FILENO);
	/* nothing else is opened: to open and close a FIFO would end its reader's input */
	if (stat(path, &st) != 0 || !S_ISCHR(st.st_mode))
		return false;
	fd = open(path, O_WRONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
	terminal = fd >= 0 && isatty(fd);
	if (fd >= 0)
		close(fd);
	return terminal;
}

int
os_output_open(struct os_output *o, const char *path, struct err *err)
{
	struct stat st;
	mode_t mode = 0666;
	bool there;

	if (path == NULL || strcmp(path, "-") == 0) {
		*o = (struct os_output){ .fd = STDOUT_FILENO, .id = os_id_of(STDOUT_FILENO) };
		os_widen_pipe(o->fd);
		return 0;
	}
	catch_signals();
	*o = (struct os_output){ .fd = -1 };
	there = stat(path, &st) == 0;
	if (there && !S_ISREG(st.st_mode)) {
		/* not followed: /dev/fd/N leads to a pipe, but by no name that could be opened */
		o->fd = open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);
		o->target = copy_of(path);
		os_widen_pipe(o->fd);
	} else if (path[0] != '\0' && (there || errno == ENOENT)) {
		o->target = follow(path);
		if (there) {
			o->id = id_of(&st);
			mode = st.st_mode & 0777;
		}
		if (open_beside(o, mode) == 0 && there)
			(void)fchmod(o->fd, mode); /* umask must not narrow it */
	}
	if (o->fd >= 0)
		return 0;
	err_set(err, "%s: %s", path, strerror(errno));
	free(o->target);
	*o = (struct os_output){ .fd = -1 };
	return -1;
}

static void
forget(const char *name)
{
	for (int i = 0; i < OUTPUTS; i++)
		if (unfinished[i] == name)
			unfinished[i] = NULL;
}

int
os_output_close(struct os_output *o, bool keep, struct err *err)
{
	const char *name = o->target != NULL ? o->target : "standard output";
	int bad = 0;

	if (o->fd < 0)
		return 0;
	if (o->temporary != NULL && keep && fsync(o->fd) != 0 && errno != EINVAL)
		bad = err_set(err, "%s: %s", name, strerror(errno));
	if (close(o->fd) != 0 && bad == 0)
		bad = err_set(err, "%s: %s", name, strerror(errno));
	if (o->temporary != NULL) {
		if (keep && bad == 0 && rename(o->temporary, o->target) != 0)
			bad = err_set(err, "%s: %s", name, strerror(errno));
		if (!keep || bad != 0)
			unlink(o->temporary);
		forget(o->temporary);
	}
	free(o->temporary);
	free(o->target);
	*o = (struct os_output){ .fd = -1 };
	return bad;
}
