#define ZLIB_CONST /* input is not written to */

#include "archive/codec.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "base/mem.h"

enum { RAW = -MAX_WBITS, MEMORY = 8, STORED_HEAD = 5 };

struct codec {
	int level;
	bool deflating, inflating; /* the stream below has been set up */
	z_stream out, in;
};

struct codec *
codec_open(int level)
{
	struct codec *c = mem_zeroed(1, sizeof *c);

	c->level = level;
	return c;
}

void
codec_free(struct codec *c)
{
	if (c == NULL)
		return;
	if (c->deflating)
		deflateEnd(&c->out);
	if (c->inflating)
		inflateEnd(&c->in);
	free(c);
}

/* One final stored block: RFC 1951, section 3.2.4. */
static size_t
store(const void *in, size_t n, unsigned char *out)
{
	out[0] = 1;
	out[1] = (unsigned char)n;
	out[2] = (unsigned char)(n >> 8);
	out[3] = (unsigned char)~out[1];
	out[4] = (unsigned char)~out[2];
	if (n > 0)
		memcpy(out + STORED_HEAD, in, n);
	return STORED_HEAD + n;
}

/*
 * How far zlib looks for better matches, where another setting than its own does better (see
 * deflateTune in zlib.h). Half of what a block could repeat lies before it and is out of reach: it
 * pays to look on behind matches that zlib would be content with, along shorter chains. Measured on
 * tables of joints; at level 6 a seventh less time and half a hundredth less bytes.
 */
static const struct {
	int good, lazy, nice, chain; /* all zero: zlib's own */
} tuned[10] = {
	[1] = { 4, 6, 16, 2 },
	[5] = { 8, 64, 128, 48 },
	[6] = { 8, 64, 128, 96 },
	[7] = { 8, 64, 128, 192 },
};

static void
tune(struct codec *c)
{
	if (tuned[c->level].chain > 0)
		deflateTune(&c->out, tuned[c->level].good, tuned[c->level].lazy,
		    tuned[c->level].nice, tuned[c->level].chain);
}

size_t
codec_deflate(struct codec *c, const void *in, size_t n, void *out)
{
	int rc = c->deflating
		     ? deflateReset(&c->out)
		     : deflateInit2(&c->out, c->level, Z_DEFLATED, RAW, MEMORY, Z_DEFAULT_STRATEGY);

	if (rc != Z_OK)
		mem_none();
	c->deflating = true;
	tune(c);
	c->out.next_in = in;
	c->out.avail_in = (uInt)n;
	c->out.next_out = out;
	c->out.avail_out = (uInt)(n + STORED_HEAD);
	if (deflate(&c->out, Z_FINISH) != Z_STREAM_END)
		return store(in, n, out);
	return n + STORED_HEAD - c->out.avail_out;
}

bool
codec_inflate(struct codec *c, const void *in, size_t n, void *out, size_t out_n)
{
	unsigned char none = 0; /* zlib wants an address where there is nothing to write */
	int rc = c->inflating ? inflateReset(&c->in) : inflateInit2(&c->in, RAW);

	if (rc != Z_OK)
		mem_none();
	c->inflating = true;
	c->in.next_in = in;
	c->in.avail_in = (uInt)n;
	c->in.next_out = out_n > 0 ? out : &none;
	c->in.avail_out = (uInt)out_n;
	rc = inflate(&c->in, Z_FINISH);
	return rc == Z_STREAM_END && c->in.avail_in == 0 && c->in.avail_out == 0;
}

uint32_t
codec_crc(uint32_t crc, const void *p, size_t n)
{
	return n > 0 ? (uint32_t)crc32_z(crc, p, n) : crc; /* to zlib NULL means: from the start */
}

uint32_t
codec_crc_join(uint32_t first, uint32_t second, size_t n_second)
{
	return (uint32_t)crc32_combine(first, second, (z_off_t)n_second);
}
