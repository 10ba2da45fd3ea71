/*
 * codec: the one place that talks to a compression library. Another library takes this file's
 * .c only.
 *
 *	struct codec *c = codec_open(6);
 *	size_t packed = codec_deflate(c, text, n, room, sizeof room);
 *
 *	if (codec_inflate(c, room, packed, back, n))
 *		same(text, back);
 *	codec_free(c);
 */
#ifndef THRUM_ARCHIVE_CODEC_H
#define THRUM_ARCHIVE_CODEC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* state of one thread; what it needs is allocated at first use and kept */
struct codec;

/* level: 1 (fast) to 9 (small) of codec_deflate. No memory ends the program (base/mem.h). */
struct codec *codec_open(int level);

/* NULL is fine */
void codec_free(struct codec *c);

/*
 * Packs n bytes, at most 65,535, into one deflate stream (RFC 1951) of no more than n + 5 bytes:
 * what does not shrink is stored. Returns the stream's length. The same bytes in, level and library
 * give the same bytes out. out has room for n + 5 bytes.
 */
size_t codec_deflate(struct codec *c, const void *in, size_t n, void *out);

/* true if in is exactly one deflate stream, of exactly out_n bytes, which are written to out */
bool codec_inflate(struct codec *c, const void *in, size_t n, void *out, size_t out_n);

/* CRC-32 of gzip, taken further by n bytes from `crc`, 0 at the start */
uint32_t codec_crc(uint32_t crc, const void *p, size_t n);

/* CRC-32 of two stretches, one behind the other, from theirs and the second's length */
uint32_t codec_crc_join(uint32_t first, uint32_t second, size_t n_second);

#endif
