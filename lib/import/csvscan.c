#include "import/csvscan.h"

#include <stdint.h>
#include <stdlib.h>

#include "base/mem.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { BLOCK = 64 };

void
csvscan_begin(struct csvscan *s)
{
	s->n = s->at = 0;
	s->nul = s->cr = s->first_quote = s->last_quote = SIZE_MAX;
	s->tab = s->beyond = false;
}

static void
room_for_block(struct csvscan *s)
{
	if (s->cap - s->n < BLOCK)
		s->marks = mem_grow(s->marks, &s->cap, s->n + BLOCK, sizeof *s->marks);
}

/* One byte; true if it ends the line. */
static inline bool
one_byte(struct csvscan *s, char c, size_t at)
{
	if (c == s->delimiter) {
		s->marks[s->n++] = at;
	} else if (c == '\n') {
		s->at = at;
		return true;
	} else if (c == '\r') {
		s->cr = s->cr == SIZE_MAX ? at : s->cr;
	} else if (c == '\0') {
		s->nul = s->nul == SIZE_MAX ? at : s->nul;
	} else if (c == '\t') {
		s->tab = true;
	} else if (c == s->quote) {
		s->first_quote = s->first_quote == SIZE_MAX ? at : s->first_quote;
		s->last_quote = at;
	} else {
		s->beyond |= (unsigned char)c >= 0x80;
	}
	return false;
}

static bool
bytes_to(struct csvscan *s, const char *line, size_t end)
{
	room_for_block(s);
	for (size_t i = s->at; i < end; i++)
		if (one_byte(s, line[i], i))
			return true;
	s->at = end;
	return false;
}

bool
csvscan_portable(struct csvscan *s, const char *line, size_t n)
{
	while (s->at < n)
		if (bytes_to(s, line, n - s->at < BLOCK ? n : s->at + BLOCK))
			return true;
	return false;
}

#ifdef __SSE2__

/* what is where in 64 bytes */
struct block {
	uint64_t delimiters, others, beyond; /* others: quotes, and everything up to CR */
};

static inline struct block
look(const char *p, __m128i delimiter, __m128i quote)
{
	const __m128i cr = _mm_set1_epi8('\r');
	struct block b = { 0, 0, 0 };

	for (int i = 0; i < BLOCK / 16; i++) {
		__m128i v = _mm_loadu_si128((const __m128i *)(const void *)(p + 16 * i));
		__m128i low = _mm_cmpeq_epi8(_mm_min_epu8(v, cr), v);
		__m128i quotes = _mm_cmpeq_epi8(v, quote);
		unsigned d = (unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(v, delimiter));
		unsigned o = (unsigned)_mm_movemask_epi8(_mm_or_si128(low, quotes));

		b.delimiters |= (uint64_t)d << (16 * i);
		b.others |= (uint64_t)o << (16 * i);
		b.beyond |= (uint64_t)(unsigned)_mm_movemask_epi8(v) << (16 * i);
	}
	b.others &= ~b.delimiters;
	return b;
}

/* what lies below bit i, from 0 to 64 */
static inline uint64_t
below(uint64_t mask, int i)
{
	return i == BLOCK ? mask : mask & (((uint64_t)1 << i) - 1);
}

/* Takes a block; true if the line ends in it. */
static inline bool
one_block(struct csvscan *s, const char *line, struct block b)
{
	int end = BLOCK;
	size_t n = s->n, at = s->at;

	for (uint64_t others = b.others; others != 0; others &= others - 1) {
		int i = __builtin_ctzll(others);

		if (one_byte(s, line[at + (size_t)i], at + (size_t)i)) {
			end = i;
			break;
		}
	}
	s->beyond |= below(b.beyond, end) != 0;
	for (uint64_t d = below(b.delimiters, end); d != 0; d &= d - 1)
		s->marks[n++] = at + (size_t)__builtin_ctzll(d);
	s->n = n;
	s->at = at + (size_t)end;
	return end < BLOCK;
}

bool
csvscan(struct csvscan *s, const char *line, size_t n)
{
	const __m128i delimiter = _mm_set1_epi8(s->delimiter), quote = _mm_set1_epi8(s->quote);

	while (n - s->at >= BLOCK) {
		room_for_block(s);
		if (one_block(s, line, look(line + s->at, delimiter, quote)))
			return true;
	}
	return bytes_to(s, line, n);
}

#else

bool
csvscan(struct csvscan *s, const char *line, size_t n)
{
	return csvscan_portable(s, line, n);
}

#endif

void
csvscan_free(struct csvscan *s)
{
	free(s->marks);
	*s = (struct csvscan){ 0 };
}
