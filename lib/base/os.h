/*
 * os: the operating system's oddities, each in one place.
 */
#ifndef THRUM_BASE_OS_H
#define THRUM_BASE_OS_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "base/err.h"

/*
 * To be called first thing in main: fills closed descriptors 0 to 2, so that no table opened later
 * becomes standard output by accident (a closed standard output then fails when written to), and
 * lifts the limit on open files as far as the system lets it.
 */
void os_start(void);

/*
 * An existing file, FIFO, device or, for "-", standard input, opened for reading. Directories are
 * refused. *regular says whether reading can never make anybody wait. Returns the descriptor, or
 * -1 with err set ("PATH: why").
 */
int os_open(const char *path, bool *regular, struct err *err);

/* read(2), again after a signal */
ssize_t os_read(int fd, void *p, size_t n);

/* Writes all n bytes. 0, or -1 with errno. */
int os_write(int fd, const void *p, size_t n);

/* Asks the system for a 1 MiB pipe behind fd; whatever it answers is fine. */
void os_widen_pipe(int fd);

/* which regular file something is; `known` is false for all else, and for what is not there */
struct os_id {
	bool known;
	dev_t device;
	ino_t inode;
};

struct os_id os_id_of(int fd);
struct os_id os_id_at(const char *path);
bool os_id_same(struct os_id a, struct os_id b);

/*
 * An output that is there whole or not at all: written beside its target under a temporary name,
 * then renamed over it. Symbolic links are followed; what is not a regular file (a device, a
 * FIFO) is written directly. Start it as { .fd = -1 }.
 */
struct os_output {
	int fd;
	char *target;    /* NULL for standard output */
	char *temporary; /* NULL if written directly */
	struct os_id id; /* what the target was before */
};

/* true if an output of this name would go to a terminal, as /dev/stdout may */
bool os_output_is_terminal(const char *path);

/* path NULL or "-": standard output. 0, or -1 with err set. */
int os_output_open(struct os_output *o, const char *path, struct err *err);

/* keep: fsync and rename; else remove what was written. 0, or -1 with err set. */
int os_output_close(struct os_output *o, bool keep, struct err *err);

/* Removes what unfinished outputs have left; may be called from a signal handler. */
void os_cleanup(void);

#endif
