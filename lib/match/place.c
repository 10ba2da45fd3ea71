#include "match/place.h"

size_t
match_width(const struct match_task *t, const struct match_list *stage)
{
	size_t width = JOINTS;

	for (size_t i = 0; i < stage->n; i++)
		width += (size_t)MODES * match_joints(t, stage->v[i]);
	return width;
}

size_t
match_block(const struct match_task *t, const struct match_list *stage, uint32_t closure)
{
	size_t at = JOINTS;

	for (size_t i = 0; i < stage->n; i++) {
		if (stage->v[i] == closure)
			return at;
		at += (size_t)MODES * match_joints(t, stage->v[i]);
	}
	return 0;
}

struct match_place
match_place_of(const struct match_task *t, const struct match_list *stage, size_t at)
{
	size_t from = JOINTS;

	for (size_t i = 0; i < stage->n && at >= JOINTS; i++) {
		uint32_t n = match_joints(t, stage->v[i]);

		if (at < from + (size_t)MODES * n)
			return (struct match_place){ true, stage->v[i], (uint32_t)((at - from) % n),
				(at - from) / n };
		from += (size_t)MODES * n;
	}
	return (struct match_place){ false };
}
