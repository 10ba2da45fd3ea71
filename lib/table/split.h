/*
 * split: where the bytes are that give a table its shape. A block is marked once, all at a time,
 * and the reader then only walks the marks.
 */
#ifndef THRUM_TABLE_SPLIT_H
#define THRUM_TABLE_SPLIT_H

#include <stddef.h>
#include <stdint.h>

/*
 * Writes to marks the offset of every byte of p[0] to p[n - 1] that is not above CR (0x0d): TAB, LF,
 * CR, NUL and the rarer control bytes near them, which the reader tells apart itself. Returns how
 * many; there must be room for n of them. n must fit 32 bits.
 * Uses SSE2 where the compiler targets it (every x86-64), else 8 bytes at a time.
 */
size_t split_marks(const char *p, size_t n, uint32_t *marks);

/* The portable way of the above on every machine: the same answer, for tests to compare. */
size_t split_marks_portable(const char *p, size_t n, uint32_t *marks);

#endif
