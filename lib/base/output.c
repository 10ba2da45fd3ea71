#define _XOPEN_SOURCE 700 /* realpath */

#include "base/output.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/mem.h"

enum {
	TRIES = 100, /* of names for a temporary file */
	SHOWN_BASE =
	    60 /* bytes of the target's name in it, so that it fits where the target does */
};

static bool
is_standard(const char *path)
{
	return path == NULL || strcmp(path, "-") == 0;
}

/* --- where a path leads ---------------------------------------------------------------------- */

static char *
joined(const char *folder, size_t n, const char *base)
{
	size_t more = strlen(base) + 1;
	char *path = mem_zeroed(n + 1 + more, 1);

	memcpy(path, folder, n);
	path[n] = '/';
	memcpy(path + n + 1, base, more);
	return path;
}

/* The folder that holds `name`, an absolute path without links; NULL with errno. */
static char *
folder_of(const char *name)
{
	const char *slash = strrchr(name, '/');
	char *folder, *real;

	if (slash == NULL)
		return realpath(".", NULL);
	folder = joined(name, (size_t)(slash - name), "");
	real = realpath(folder, NULL);
	free(folder);
	return real;
}

/* N of an absolute path that is /dev/fd/N by its true name; -1: it is another file */
static int
descriptor_of(const char *folder, const char *base)
{
	char *all = realpath("/dev/fd", NULL);
	bool in = all != NULL && strcmp(all, folder) == 0;
	size_t n = strlen(base);

	free(all);
	return in && n > 0 && n < 7 && strspn(base, "0123456789") == n ? atoi(base) : -1;
}

/*
 * Follows o->path, be the file there or not, to target, base and folder. Descriptors end the way:
 * behind them is a file, but by no name that could be opened. 0 with *descriptor set if one was
 * met, or -1 with errno.
 */
static int
follow(struct output *o, int *descriptor)
{
	char link[PATH_MAX], *name = mem_zeroed(strlen(o->path) + 1, 1);

	memcpy(name, o->path, strlen(o->path));
	for (int hops = 0; hops < 40; hops++) {
		char *folder = folder_of(name);
		const char *slash = strrchr(name, '/');
		ssize_t n;

		free(o->target);
		o->target = NULL;
		if (folder == NULL)
			break;
		o->target = joined(folder, strlen(folder), slash != NULL ? slash + 1 : name);
		o->base = o->target + strlen(folder) + 1;
		o->folder = os_id_at(folder);
		*descriptor = descriptor_of(folder, o->base);
		n = *descriptor < 0 ? readlink(o->target, link, sizeof link - 1) : -1;
		free(name);
		name = NULL;
		if (n >= 0) {
			link[n] = '\0';
			name = link[0] == '/' ? joined("", 0, link + 1)
					      : joined(folder, strlen(folder), link);
		}
		free(folder);
		if (name == NULL)
			return *descriptor >= 0 || errno == EINVAL || errno == ENOENT ? 0 : -1;
		errno = ELOOP;
	}
	free(name);
	return -1;
}

/* --- opening --------------------------------------------------------------------------------- */

/* Makes the names that finishing needs, so that lack of memory cannot stop it halfway. */
static void
make_names(struct output *o)
{
	size_t n = strlen(o->temporary), folder_n = (size_t)(o->base - o->target);

	o->spare = mem_zeroed(n + 2, 1);
	memcpy(o->spare, o->temporary, n);
	o->spare[n] = '~';
	o->folder_name = mem_zeroed(folder_n + 1, 1);
	memcpy(o->folder_name, o->target, folder_n);
}

/* Creates o->temporary beside the target. No signal comes before it is known to be unfinished. */
static int
open_beside(struct output *o, mode_t mode)
{
	size_t room = strlen(o->target) + 48, cut = strlen(o->base);
	char *name = mem_zeroed(room, 1);
	sigset_t before;

	if (cut > SHOWN_BASE) {
		cut = SHOWN_BASE;
		while (cut > 0 && ((unsigned char)o->base[cut] & 0xc0) == 0x80)
			cut--; /* not inside a character */
	}
	cut += (size_t)(o->base - o->target);
	os_hold_signals(&before);
	for (unsigned try = 0; try < TRIES && o->fd < 0 && (try == 0 || errno == EEXIST); try++) {
		snprintf(name, room, "%.*s.%ld.%u~", (int)cut, o->target, (long)getpid(), try);
		o->fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
	}
	if (o->fd >= 0 && os_unfinished(name) != 0) {
		int why = errno;

		unlink(name);
		close(o->fd);
		o->fd = -1;
		errno = why;
	}
	if (o->fd >= 0)
		o->temporary = name;
	os_release_signals(&before);
	if (o->temporary == name) {
		make_names(o);
		return 0;
	}
	free(name);
	return -1;
}

/* Gives fd the mode, owner and group of the file that it will replace. */
static void
take_after(int fd, const struct stat *old)
{
	mode_t mode = old->st_mode & 0777;

	/* the rights of a group are not for another group: it gets what all others have */
	if (fchown(fd, old->st_uid, old->st_gid) != 0 && fchown(fd, (uid_t)-1, old->st_gid) != 0)
		mode &= ~(mode_t)070 | (mode & 07) << 3;
	(void)fchmod(fd, mode); /* umask must not narrow it */
}

static int
open_instead(struct output *o, const struct stat *old, struct err *err)
{
	if (!os_id_same(o->file, os_id_at(o->target)))
		return err_set(err, "%s: leads to a file without a name", o->path);
	if ((old->st_mode & 0222) == 0)
		return err_set(err, "%s: is read-only", o->path);
	if (faccessat(AT_FDCWD, o->target, W_OK, AT_EACCESS) != 0 || open_beside(o, 0600) != 0)
		return -1;
	take_after(o->fd, old);
	return 0;
}

static int
open_direct(struct output *o, int fd)
{
	if (fd < 0)
		return -1;
	free(o->target);
	o->target = NULL;
	o->fd = fd;
	o->file = os_id_of(fd);
	os_widen_pipe(fd);
	return 0;
}

/* 0, or -1 with errno, or err set */
static int
open_path(struct output *o, struct err *err)
{
	struct stat st;
	bool there = stat(o->path, &st) == 0;
	int descriptor = -1;

	if (!there && errno != ENOENT)
		return -1;
	if (follow(o, &descriptor) != 0)
		return -1;
	if (descriptor >= 0) /* as >&N: what is behind it keeps its place and is added to */
		return open_direct(o, fcntl(descriptor, F_DUPFD_CLOEXEC, 3));
	if (there && !S_ISREG(st.st_mode))
		return open_direct(o, open(o->path, O_WRONLY | O_CLOEXEC | O_NOCTTY));
	if (o->base[0] == '\0') {
		errno = o->path[0] == '\0' ? ENOENT : EISDIR;
		return -1;
	}
	if (!there)
		return open_beside(o, 0666);
	o->file = os_id_at(o->path);
	return open_instead(o, &st, err);
}

/* true if both would be written to one place, other than /dev/null */
static bool
same_target(const struct output *a, const struct output *b)
{
	if (os_id_same(a->file, b->file))
		return !os_id_same(a->file, os_id_at("/dev/null"));
	return a->target != NULL && b->target != NULL && os_id_same(a->folder, b->folder) &&
	       strcmp(a->base, b->base) == 0;
}

/* Closes and frees what is still open. */
static void
release(struct output *o)
{
	if (o->fd >= 0 && o->fd != STDOUT_FILENO)
		close(o->fd);
	if (o->temporary != NULL) {
		if (!o->renamed)
			unlink(o->temporary);
		os_finished(o->temporary);
	}
	free(o->target);
	free(o->temporary);
	free(o->spare);
	free(o->folder_name);
	free(o->owner);
	*o = (struct output){ .fd = -1 };
}

struct output *
output_add(struct outputs *all, const char *path, struct err *err)
{
	bool standard = is_standard(path);
	struct output *o = &all->v[all->n];
	const char *name = path != NULL ? path : "standard output";

	if (all->n == OUTPUTS_MOST) {
		err_set(err, "%s: more than %d outputs", name, OUTPUTS_MOST);
		return NULL;
	}
	*o = (struct output){ .path = standard ? "standard output" : path, .fd = -1 };
	if ((standard ? open_direct(o, STDOUT_FILENO) : open_path(o, err)) != 0) {
		err_set(err, "%s: %s", o->path, strerror(errno));
		release(o);
		return NULL;
	}
	for (size_t i = 0; i < all->n; i++)
		if (same_target(o, &all->v[i])) {
			err_set(err, "%s: is written twice at once", path != NULL ? path : "-");
			release(o);
			return NULL;
		}
	all->n++;
	return o;
}

void
output_owned(struct output *o, void (*flush)(void *), void *owner)
{
	o->flush = flush;
	o->owner = owner;
}

bool
outputs_have_file(const struct outputs *all)
{
	for (size_t i = 0; i < all->n; i++)
		if (all->v[i].file.regular)
			return true;
	return false;
}

const struct output *
outputs_with(const struct outputs *all, struct os_id file)
{
	for (size_t i = 0; i < all->n && file.regular; i++)
		if (os_id_same(all->v[i].file, file))
			return &all->v[i];
	return NULL;
}

bool
output_is_terminal(const char *path)
{
	struct stat st;
	bool terminal;
	int fd;

	if (is_standard(path))
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

/* --- finishing ------------------------------------------------------------------------------- */

/* Writes what is held back; `sync`: until it is on the disk. Closes. */
static void
write_out(struct output *o, bool sync, struct err *err)
{
	if (o->flush != NULL)
		o->flush(o->owner);
	if (sync && !err_is_set(err) && fsync(o->fd) != 0 && errno != EINVAL)
		err_set(err, "%s: %s", o->path, strerror(errno));
	if (close(o->fd) != 0)
		err_set(err, "%s: %s", o->path, strerror(errno));
	o->fd = -1;
}

/*
 * The temporary file gets the target's name, and the old file the name `backup`: by a link, so that
 * the target is there at every moment; without links by a rename, if there are others that may fail.
 */
static int
put_in_place(struct output *o, bool others)
{
	o->backup = o->spare;
	if (link(o->target, o->backup) != 0) {
		bool moved = errno != ENOENT && others && rename(o->target, o->backup) == 0;

		if (!moved) {
			o->fresh = errno == ENOENT;
			o->backup = NULL;
			if (!o->fresh && others)
				return -1;
		}
	}
	if (rename(o->temporary, o->target) != 0)
		return -1;
	o->renamed = true;
	return 0;
}

/* Syncs a folder; not one that cannot be opened for reading, or cannot be synced at all. */
static int
sync_folder(const struct output *o)
{
	int fd = open(o->folder_name, O_RDONLY | O_DIRECTORY | O_CLOEXEC), status = 0;

	if (fd >= 0 && fsync(fd) != 0 && errno != EINVAL && errno != ENOTSUP)
		status = -1;
	if (fd >= 0) {
		int why = errno;

		close(fd);
		errno = why;
	}
	return status;
}

/* Renames the old file back, or removes the new one if there was none. 0, or -1. */
static int
put_back(struct output *o)
{
	if (o->backup == NULL)
		return o->renamed && o->fresh ? unlink(o->target) : 0;
	if (rename(o->backup, o->target) != 0)
		return -1;
	unlink(o->backup); /* two names of one file are left as they are by rename */
	o->backup = NULL;
	return 0;
}

static int
rename_all(struct outputs *all, struct err *err)
{
	const struct output *bad = NULL, *lost = NULL;
	size_t files = 0;

	for (size_t i = 0; i < all->n; i++)
		files += all->v[i].temporary != NULL;
	for (size_t i = 0; i < all->n && bad == NULL; i++)
		if (all->v[i].temporary != NULL && put_in_place(&all->v[i], files > 1) != 0)
			bad = &all->v[i];
	for (size_t i = 0; i < all->n && bad == NULL; i++)
		if (all->v[i].temporary != NULL && sync_folder(&all->v[i]) != 0)
			bad = &all->v[i];
	if (bad != NULL) {
		const char *why = strerror(errno);

		for (size_t i = all->n; i-- > 0;)
			if (put_back(&all->v[i]) != 0)
				lost = &all->v[i];
		if (lost == NULL)
			return err_set(err, "%s: %s", bad->path, why);
		return err_set(err, "%s: %s; %s could not be put back%s%s", bad->path, why,
		    lost->path, lost->backup != NULL ? ": the old file is " : "",
		    lost->backup != NULL ? lost->backup : "");
	}
	for (size_t i = 0; i < all->n; i++)
		if (all->v[i].backup != NULL)
			unlink(all->v[i].backup);
	return 0;
}

int
outputs_finish(struct outputs *all, bool keep, struct err *err)
{
	sigset_t before;

	for (size_t i = 0; i < all->n; i++)
		if (all->v[i].temporary != NULL && keep && !err_is_set(err))
			write_out(&all->v[i], true, err);
	for (size_t i = 0; i < all->n; i++)
		if (all->v[i].temporary == NULL)
			write_out(&all->v[i], false, err);
	/* a signal comes before all of this or behind it */
	os_hold_signals(&before);
	if (keep && !err_is_set(err))
		rename_all(all, err);
	for (size_t i = 0; i < all->n; i++)
		release(&all->v[i]);
	all->n = 0;
	os_release_signals(&before);
	return err_is_set(err) ? -1 : 0;
}
