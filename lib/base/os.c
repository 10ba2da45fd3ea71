#define _GNU_SOURCE /* F_SETPIPE_SZ */

#include "base/os.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { PIPE_BYTES = 1 << 20 };

/*
 * The one thing here that outlives a call: the temporary files a signal has to remove. A slot is one
 * pointer, so that the handler never sees half of one.
 */
static char *volatile unfinished[OS_UNFINISHED];

void
os_cleanup(void)
{
	for (int i = 0; i < OS_UNFINISHED; i++)
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

int
os_unfinished(char *name)
{
	int slot = 0;

	while (slot < OS_UNFINISHED && unfinished[slot] != NULL)
		slot++;
	if (slot == OS_UNFINISHED) {
		errno = EMFILE;
		return -1;
	}
	unfinished[slot] = name;
	catch_signals();
	return 0;
}

void
os_finished(const char *name)
{
	for (int i = 0; i < OS_UNFINISHED; i++)
		if (unfinished[i] == name)
			unfinished[i] = NULL;
}

void
os_hold_signals(sigset_t *before)
{
	sigset_t all;

	sigfillset(&all);
	sigprocmask(SIG_SETMASK, &all, before);
}

void
os_release_signals(const sigset_t *before)
{
	sigprocmask(SIG_SETMASK, before, NULL);
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
		if (done == 0) { /* trying again would never end */
			errno = EIO;
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

uint64_t
os_random(void)
{
	int fd = open("/dev/urandom", O_RDONLY | O_CLOEXEC);
	struct timespec now = { 0, 0 };
	uint64_t bits = 0;
	bool read = fd >= 0 && os_read(fd, &bits, sizeof bits) == (ssize_t)sizeof bits;

	if (fd >= 0)
		close(fd);
	if (read)
		return bits;
	(void)clock_gettime(CLOCK_MONOTONIC, &now);
	return bits ^ (uint64_t)now.tv_nsec * 0x9e3779b97f4a7c15u ^ (uint64_t)getpid() << 32;
}

static struct os_id
id_of(const struct stat *st)
{
	return (struct os_id){ true, S_ISREG(st->st_mode), st->st_dev, st->st_ino, st->st_size,
		(int64_t)((uint64_t)st->st_mtim.tv_sec * 1000000000 +
			  (uint64_t)st->st_mtim.tv_nsec) };
}

size_t
os_terminal_width(void)
{
	struct winsize size;

	for (int fd = STDOUT_FILENO; fd <= STDERR_FILENO; fd++)
		if (ioctl(fd, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
			return size.ws_col;
	return 0;
}

bool
os_terminal_is_ascii(void)
{
	static const char *const names[] = { "LC_ALL", "LC_CTYPE", "LANG" };
	const char *locale = NULL;

	for (size_t i = 0; i < 3 && (locale == NULL || *locale == '\0'); i++)
		locale = getenv(names[i]);
	return isatty(STDOUT_FILENO) && (locale == NULL || (strstr(locale, "UTF-8") == NULL &&
							       strstr(locale, "utf8") == NULL));
}

struct os_id
os_id_of(int fd)
{
	struct stat st;

	return fstat(fd, &st) == 0 ? id_of(&st) : (struct os_id){ .known = false };
}

struct os_id
os_id_at(const char *path)
{
	struct stat st;

	return stat(path, &st) == 0 ? id_of(&st) : (struct os_id){ .known = false };
}

bool
os_id_same(struct os_id a, struct os_id b)
{
	return a.known && b.known && a.device == b.device && a.inode == b.inode;
}
