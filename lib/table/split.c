#include "table/split.h"

#include <string.h>

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { LAST_MARK = '\r' };

static size_t
mark_bytes(const char *p, size_t from, size_t to, uint32_t *marks)
{
	size_t k = 0;

	for (size_t i = from; i < to; i++) {
		marks[k] = (uint32_t)i;
		k += (unsigned char)p[i] <= LAST_MARK;
	}
	return k;
}

size_t
split_marks_portable(const char *p, size_t n, uint32_t *marks)
{
	size_t i = 0, k = 0;

	for (; i + 8 <= n; i += 8) {
		const uint64_t high = 0x8080808080808080u, each = 0x0101010101010101u;
		uint64_t word;

		/* a byte below 0x80 carries into its high bit when 0x80 - 14 is added, unless <= 13 */
		memcpy(&word, p + i, 8);
		if (((((word & ~high) + each * (0x80 - LAST_MARK - 1)) | word) & high) == high)
			continue;
		k += mark_bytes(p, i, i + 8, marks + k);
	}
	return k + mark_bytes(p, i, n, marks + k);
}

#ifdef __SSE2__

static uint64_t
mask_64(const char *p)
{
	const __m128i last = _mm_set1_epi8(LAST_MARK);
	uint64_t mask = 0;

	for (int i = 0; i < 4; i++) {
		__m128i v = _mm_loadu_si128((const __m128i *)(const void *)(p + 16 * i));
		unsigned m = (unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(_mm_min_epu8(v, last), v));

		mask |= (uint64_t)m << (16 * i);
	}
	return mask;
}

size_t
split_marks(const char *p, size_t n, uint32_t *marks)
{
	size_t i = 0, k = 0;

	for (; i + 64 <= n; i += 64)
		for (uint64_t mask = mask_64(p + i); mask != 0; mask &= mask - 1)
			marks[k++] = (uint32_t)i + (uint32_t)__builtin_ctzll(mask);
	return k + mark_bytes(p, i, n, marks + k);
}

#else

size_t
split_marks(const char *p, size_t n, uint32_t *marks)
{
	return split_marks_portable(p, n, marks);
}

#endif
