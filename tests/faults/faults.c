/*
 * Faults of the system, for tests only: preloaded, it lets one call of a program fail.
 *
 *	FAULT="rename 2 5" LD_PRELOAD=build/tests/faults.so thrum-match ...
 *
 * lets the second rename fail with errno 5; "rename 2+ 5" every one from the second on;
 * "link 1+ 1;rename 2 5" is two faults. The calls:
 *
 *	create	open of a file that is not there yet
 *	write	of anything but standard error; errno 0: takes nothing, and says so
 *	fsync, rename, link, unlink
 *	close	of what was open for writing; it is closed all the same
 *	fchown
 *
 * "KILL" in place of errno: the call is done, and SIGTERM comes just behind it; "SHORT" (write
 * only): it takes the first byte. A file called $FAULT_MARK is made when the fault happens. The calls, all
 * of them, are listed in $FAULT_LOG.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

enum { FAULTS = 2 };

static int met[FAULTS];

static void *
real(const char *name)
{
	void *f = dlsym(RTLD_NEXT, name);

	if (f == NULL)
		abort();
	return f;
}

/* The function `name` as a pointer of f's type. */
#define REAL(f, name)                                                                              \
	do {                                                                                       \
		void *found = real(name);                                                          \
		memcpy(&(f), &found, sizeof(f));                                                   \
	} while (0)

/* The third word, and what stands behind it, if this call is the one; else NULL. */
static const char *
fault(const char *call)
{
	const char *wish = getenv("FAULT"), *mark = getenv("FAULT_MARK"), *next;
	const char *log = getenv("FAULT_LOG");
	const size_t n = strlen(call);

	if (log != NULL) {
		long fd = syscall(SYS_openat, AT_FDCWD, log, O_WRONLY | O_CREAT | O_APPEND, 0600);

		syscall(SYS_write, fd, call, n);
		syscall(SYS_write, fd, "\n", 1L);
		syscall(SYS_close, fd);
	}
	for (int i = 0; i < FAULTS && wish != NULL; i++, wish = next) {
		char *end;
		long at;

		next = strchr(wish, ';');
		next = next != NULL ? next + 1 : NULL;
		if (strncmp(wish, call, n) != 0 || wish[n] != ' ')
			continue;
		at = strtol(wish + n, &end, 10);
		met[i]++;
		if (*end == '+' ? met[i] < at : met[i] != at)
			continue;
		if (mark != NULL)
			syscall(SYS_close,
			    syscall(SYS_openat, AT_FDCWD, mark, O_WRONLY | O_CREAT, 0600));
		return end + (*end == '+' ? 2 : 1);
	}
	return NULL;
}

static bool
is(const char *what, const char *word)
{
	return strncmp(what, word, strlen(word)) == 0;
}

/* What the call gives in place of what it gave. */
static int
fails(const char *what, int done)
{
	if (is(what, "KILL")) {
		raise(SIGTERM);
		return done;
	}
	errno = atoi(what);
	return -1;
}

static bool
killed(const char *what)
{
	return what == NULL || is(what, "KILL");
}

static int
opened(const char *call, const char *path, int flags, mode_t mode)
{
	int (*f)(const char *, int, ...);
	const char *what = flags & O_EXCL ? fault("create") : NULL;
	int fd = -1;

	REAL(f, call);
	if (killed(what))
		fd = f(path, flags, mode);
	return what != NULL ? fails(what, fd) : fd;
}

#define OPEN(name)                                                                                 \
	int name(const char *path, int flags, ...)                                                 \
	{                                                                                          \
		va_list ap;                                                                        \
		mode_t mode = 0;                                                                   \
                                                                                                   \
		va_start(ap, flags);                                                               \
		if (flags & O_CREAT)                                                               \
			mode = va_arg(ap, mode_t);                                                 \
		va_end(ap);                                                                        \
		return opened(#name, path, flags, mode);                                           \
	}

OPEN(open)
OPEN(open64)

ssize_t
write(int fd, const void *p, size_t n)
{
	ssize_t (*f)(int, const void *, size_t);
	const char *what = fd != STDERR_FILENO ? fault("write") : NULL;

	REAL(f, "write");
	if (what != NULL && is(what, "SHORT"))
		return f(fd, p, n > 0 ? 1 : 0);
	if (what != NULL && is(what, "0"))
		return 0;
	if (what == NULL)
		return f(fd, p, n);
	return killed(what) ? fails(what, (int)f(fd, p, n)) : fails(what, -1);
}

int
close(int fd)
{
	int (*f)(int);
	int flags = fcntl(fd, F_GETFL);
	const char *what = flags >= 0 && (flags & O_ACCMODE) != O_RDONLY ? fault("close") : NULL;
	int done;

	REAL(f, "close");
	done = f(fd);
	return what != NULL ? fails(what, done) : done;
}

#define CALL(name, types, args)                                                                    \
	int name types                                                                             \
	{                                                                                          \
		int(*f) types;                                                                     \
		const char *what = fault(#name);                                                   \
		int done = -1;                                                                     \
                                                                                                   \
		REAL(f, #name);                                                                    \
		if (killed(what))                                                                  \
			done = f args;                                                             \
		return what != NULL ? fails(what, done) : done;                                    \
	}

CALL(fsync, (int fd), (fd))
CALL(rename, (const char *from, const char *to), (from, to))
CALL(link, (const char *from, const char *to), (from, to))
CALL(unlink, (const char *path), (path))
CALL(fchown, (int fd, uid_t owner, gid_t group), (fd, owner, group))
