/*
 * os: what differs between systems, each in one place.
 */
#ifndef THRUM_BASE_OS_H
#define THRUM_BASE_OS_H

#include <signal.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
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

/* Writes all n bytes. 0, or -1 with errno; a device that takes 0 bytes is an error (EIO). */
int os_write(int fd, const void *p, size_t n);

/*
 * How many columns the terminal has that standard output goes to, or else standard error (of a pager's
 * input); 0: neither goes to one.
 */
size_t os_terminal_width(void);

/* true if standard output is a terminal whose locale has no UTF-8 (LC_ALL, LC_CTYPE, LANG) */
bool os_terminal_is_ascii(void);

/* Asks the system for a 1 MiB pipe behind fd; whatever it answers is fine. */
void os_widen_pipe(int fd);

/* 64 bits that cannot be known outside, from /dev/urandom; from clock and process where that fails */
uint64_t os_random(void);

/* which file something is; all false and 0 for what is not there */
struct os_id {
	bool known, regular;
	dev_t device;
	ino_t inode;
	int64_t size, modified_ns; /* bytes; when it was changed last, since 1970, modulo 2^64 */
};

struct os_id os_id_of(int fd);
struct os_id os_id_at(const char *path);
bool os_id_same(struct os_id a, struct os_id b);

/*
 * Signals wait from os_hold_signals to os_release_signals; no other thread runs. `before` is for
 * the second call.
 */
void os_hold_signals(sigset_t *before);
void os_release_signals(const sigset_t *before);

/*
 * A file to be removed if a signal or the lack of memory ends the program, until os_finished. The
 * name must stay valid until then. 0, or -1 with errno if there are OS_UNFINISHED already.
 */
enum { OS_UNFINISHED = 16 };
int os_unfinished(char *name);
void os_finished(const char *name);

/* Removes all of them; may be called from a signal handler. */
void os_cleanup(void);

#endif
