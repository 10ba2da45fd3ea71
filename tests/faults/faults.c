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
 *	fchown, fchmod, fstat, stat, read, pread, lseek, readlink, realpath, faccessat
 *	open	of a file for reading
 *	thread	pthread_create
 *	alloc	malloc, calloc, realloc, also inside the C library, from the start of main on
 *
 * "KILL" in place of errno: the call is done, and SIGTERM comes just behind it; "SHORT" (write
 * only): it takes the first byte. A file called $FAULT_MARK is made when the fault happens. The calls, all
 * of them, are listed in $FAULT_LOG.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

enum { FAULTS = 2 };

static atomic_int met[FAULTS];

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

		int nth;

		next = strchr(wish, ';');
		next = next != NULL ? next + 1 : NULL;
		if (strncmp(wish, call, n) != 0 || wish[n] != ' ')
			continue;
		at = strtol(wish + n, &end, 10);
		nth = ++met[i];
		if (*end == '+' ? nth < at : nth != at)
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
	const char *what = flags & O_EXCL              ? fault("create")
			   : strcmp(path, "/dev/null") ? fault("open")
						       : NULL;
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
CALL(fchmod, (int fd, mode_t mode), (fd, mode))
CALL(faccessat, (int fd, const char *path, int mode, int flags), (fd, path, mode, flags))
CALL(fstat, (int fd, struct stat *st), (fd, st))
CALL(stat, (const char *path, struct stat *st), (path, st))

/* The names of the same calls where a file may be larger than 2 GiB. */
int
fstat64(int fd, struct stat64 *st)
{
	return fstat(fd, (struct stat *)st);
}

int
stat64(const char *path, struct stat64 *st)
{
	return stat(path, (struct stat *)st);
}

#define LONG_CALL(type, name, as, types, args)                                                     \
	type name types                                                                            \
	{                                                                                          \
		type(*f) types;                                                                    \
		const char *what = fault(as);                                                      \
                                                                                                   \
		REAL(f, #name);                                                                    \
		return what != NULL && !killed(what) ? (type)fails(what, -1) : f args;             \
	}

LONG_CALL(ssize_t, read, "read", (int fd, void *p, size_t n), (fd, p, n))
LONG_CALL(ssize_t, pread64, "pread", (int fd, void *p, size_t n, off64_t at), (fd, p, n, at))
LONG_CALL(off64_t, lseek64, "lseek", (int fd, off64_t at, int from), (fd, at, from))
LONG_CALL(ssize_t, readlink, "readlink", (const char *path, char *p, size_t n), (path, p, n))

char *
realpath(const char *path, char *to)
{
	char *(*f)(const char *, char *);
	const char *what = fault("realpath");

	REAL(f, "realpath");
	if (what == NULL || killed(what))
		return f(path, to);
	fails(what, -1);
	return NULL;
}

int
pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *), void *arg)
{
	int (*f)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *);
	const char *what = fault("thread");

	REAL(f, "pthread_create");
	return what != NULL && !killed(what) ? atoi(what) : f(thread, attr, run, arg);
}

/* --- memory ---------------------------------------------------------------------------------- */

/* What the C library needs before its own allocator is found; never given back. */
static _Alignas(16) char early[4096];
static size_t early_n;
static void *(*real_malloc)(size_t), *(*real_calloc)(size_t, size_t),
    *(*real_realloc)(void *, size_t);
static bool finding, started;

static void
find_allocators(void)
{
	finding = true;
	REAL(real_malloc, "malloc");
	REAL(real_calloc, "calloc");
	REAL(real_realloc, "realloc");
	finding = false;
}

/* Called by the loader when all libraries are there, just before main. */
__attribute__((constructor)) static void
start(void)
{
	if (real_malloc == NULL)
		find_allocators();
	started = true;
}

static void *
take_early(size_t n)
{
	char *p = early + early_n;

	n = (n + 15) & ~(size_t)15;
	if (n > sizeof early - early_n)
		abort();
	early_n += n;
	return p;
}

/* true if this allocation is to fail */
static bool
starved(void)
{
	if (!started || fault("alloc") == NULL)
		return false;
	errno = ENOMEM;
	return true;
}

void *
malloc(size_t n)
{
	if (finding)
		return take_early(n);
	if (real_malloc == NULL)
		find_allocators();
	return starved() ? NULL : real_malloc(n);
}

void *
calloc(size_t n, size_t size)
{
	if (finding)
		return take_early(n * size);
	if (real_malloc == NULL)
		find_allocators();
	return starved() ? NULL : real_calloc(n, size);
}

void *
realloc(void *p, size_t n)
{
	if (real_malloc == NULL)
		find_allocators();
	return starved() ? NULL : real_realloc(p, n);
}
