#include "table/split.h"

#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { LAST_MARK = '\r', CHUNK = 64 };

void
marks_room(struct marks *m, size_t n)
{
	free(m->at);
	free(m->ends);
	m->room = n;
	/* one more: what is no mark is stored too, and then overwritten */
	m->at = mem_zeroed(n + 1, sizeof *m->at);
	m->ends = mem_zeroed(n + 1, sizeof *m->ends);
}

void
marks_free(struct marks *m)
{
	free(m->at);
	free(m->ends);
	*m = (struct marks){ NULL };
}

static void
mark_bytes(const char *p, size_t from, size_t to, struct marks *m)
{
	for (size_t i = from; i < to; i++) {
		char c = p[i];

		m->at[m->n] = (uint32_t)i;
		m->n += (unsigned char)c <= LAST_MARK;
		m->ends[m->nends] = (uint32_t)i;
		m->nends += c == '\n';
		m->odd |= (unsigned char)c <= LAST_MARK && c != '\t' && c != '\n';
	}
}

void
split_marks_portable(const char *p, size_t n, struct marks *m)
{
	size_t i = 0;

	m->n = m->nends = 0;
	m->odd = false;
	for (; i + 8 <= n; i += 8) {
		const uint64_t high = 0x8080808080808080u, each = 0x0101010101010101u;
		uint64_t word;

		/* a byte below 0x80 carries into its high bit when 0x80 - 14 is added, unless <= 13 */
		memcpy(&word, p + i, 8);
		if (((((word & ~high) + each * (0x80 - LAST_MARK - 1)) | word) & high) != high)
			mark_bytes(p, i, i + 8, m);
	}
	mark_bytes(p, i, n, m);
}

#ifdef __SSE2__

/* a bit for each byte of a chunk */
struct masks {
	uint64_t marks, ends;
};

static inline struct masks
masks_of(const char *p, __m128i *odd)
{
	const __m128i last = _mm_set1_epi8(LAST_MARK), tab = _mm_set1_epi8('\t'),
		      lf = _mm_set1_epi8('\n');
	struct masks m = { 0, 0 };

	for (int i = 0; i < CHUNK / 16; i++) {
		__m128i v = _mm_loadu_si128((const __m128i *)(const void *)(p + 16 * i));
		__m128i mark = _mm_cmpeq_epi8(_mm_min_epu8(v, last), v);
		__m128i end = _mm_cmpeq_epi8(v, lf);
		__m128i usual = _mm_or_si128(end, _mm_cmpeq_epi8(v, tab));

		m.marks |= (uint64_t)(unsigned)_mm_movemask_epi8(mark) << (16 * i);
		m.ends |= (uint64_t)(unsigned)_mm_movemask_epi8(end) << (16 * i);
		*odd = _mm_or_si128(*odd, _mm_andnot_si128(usual, mark));
	}
	return m;
}

/* the number of the lowest bit; of no bit anything */
static inline size_t
lowest(uint64_t mask)
{
	const uint64_t top = (uint64_t)1 << 63;

	return (size_t)__builtin_ctzll(mask | top);
}

static inline size_t
append(uint32_t *to, size_t n, uint64_t mask, size_t base)
{
	for (; mask != 0; mask &= mask - 1)
		to[n++] = (uint32_t)(base + (size_t)__builtin_ctzll(mask));
	return n;
}

void
split_marks(const char *p, size_t n, struct marks *m)
{
	__m128i odd = _mm_setzero_si128();
	size_t i = 0, marks = 0, ends = 0;

	for (; i + CHUNK <= n; i += CHUNK) {
		struct masks masks = masks_of(p + i, &odd);

		marks = append(m->at, marks, masks.marks, i);
		/* mostly none or one: without a branch, as it would be an unpredictable one */
		m->ends[ends] = (uint32_t)(i + lowest(masks.ends));
		ends += masks.ends != 0;
		ends = append(m->ends, ends, masks.ends & (masks.ends - 1), i);
	}
	m->n = marks;
	m->nends = ends;
	m->odd = _mm_movemask_epi8(odd) != 0;
	mark_bytes(p, i, n, m);
}

#else

void
split_marks(const char *p, size_t n, struct marks *m)
{
	split_marks_portable(p, n, m);
}

#endif
