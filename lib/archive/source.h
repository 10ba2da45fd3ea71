/*
 * source: where the bytes of packs come from.
 *
 *	struct pack_source source;
 *
 *	pack_source_fd(&source, fd, regular);
 *	if (source.known && pack_source_all(&source, source.size - 28, mark, 28, &err))
 *		look_at(mark);
 */
#ifndef THRUM_ARCHIVE_SOURCE_H
#define THRUM_ARCHIVE_SOURCE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

#include "base/err.h"

struct pack_source {
	/*
	 * Reads up to n bytes at offset `at`: how many, 0 at the end, -1 with errno. If `known` is
	 * false `at` only ever goes forward, from where the call before stopped.
	 */
	ssize_t (*read)(const struct pack_source *s, uint64_t at, void *p, size_t n);
	bool known; /* its size, and it can be read anywhere */
	uint64_t size;
	int fd;
	uint64_t start; /* where in the file the source begins */
	const unsigned char *bytes;
};

/* An open file from where it stands now; regular as os_open says. */
void pack_source_fd(struct pack_source *s, int fd, bool regular);

/* n bytes of memory, which must outlive the source; known false: as if they came by a pipe */
void pack_source_memory(struct pack_source *s, const void *bytes, size_t n, bool known);

/* Reads once, up to n bytes at offset `at`: how many, 0 at the end, -1 with err set. */
ssize_t
pack_source_some(const struct pack_source *s, uint64_t at, void *p, size_t n, struct err *err);

/* Reads all n bytes at offset `at` of a known source. false with err set. */
bool pack_source_all(const struct pack_source *s, uint64_t at, void *p, size_t n, struct err *err);

#endif
