#include "route/network.h"

#include <stdlib.h>

#include "base/lower_bound.h"
#include "base/mem.h"

const int span_nm[SPAN_WAVELENGTHS] = { 850, 1270, 1300, 1310, 1490, 1550, 1577, 1625, 1650 };

#define ATTEN(i, name) [SPAN_ATTEN + (i)] = { name, COL_MAY, COL_DB, 0, 100 }

const struct col span_cols[] = {
	[SPAN_CABLE] = { "cable", COL_NEED, COL_TEXT },
	[SPAN_SECTION] = { "section", COL_MAY, COL_WHOLE, 0, 1e9 },
	[SPAN_SITE_A] = { "site_a", COL_NEED, COL_TEXT },
	[SPAN_SITE_B] = { "site_b", COL_NEED, COL_TEXT },
	[SPAN_CUT_A] = { "cut_a", COL_MAY, COL_WORD, .words = "yes no" },
	[SPAN_CUT_B] = { "cut_b", COL_MAY, COL_WORD, .words = "yes no" },
	[SPAN_FIBRE_KM] = { "fibre_km", COL_MAY, COL_DB, 0, 100000 },
	[SPAN_SHEATH_KM] = { "sheath_km", COL_MAY, COL_DB, 0, 100000 },
	[SPAN_MARK_A] = { "mark_a_m", COL_MAY, COL_DB, -1e6, 1e7 },
	[SPAN_MARK_B] = { "mark_b_m", COL_MAY, COL_DB, -1e6, 1e7 },
	[SPAN_FIBRES] = { "fibres", COL_MAY, COL_WHOLE, 1, 100000 },
	[SPAN_CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[SPAN_CD] = { "cd_ps_nm_km", COL_MAY, COL_NUM, -1000, 1000 },
	[SPAN_PMD] = { "pmd_ps_sqrt_km", COL_MAY, COL_NUM, 0, 1000 },
	[SPAN_SLACK_A] = { "slack_a_m", COL_MAY, COL_NUM, 0, 1e6 },
	[SPAN_SLACK_B] = { "slack_b_m", COL_MAY, COL_NUM, 0, 1e6 },
	[SPAN_INDEX] = { "index", COL_MAY, COL_NUM, 1.4, 1.6 },
	ATTEN(0, "atten_850_db_km"),
	ATTEN(1, "atten_1270_db_km"),
	ATTEN(2, "atten_1300_db_km"),
	ATTEN(3, "atten_1310_db_km"),
	ATTEN(4, "atten_1490_db_km"),
	ATTEN(5, "atten_1550_db_km"),
	ATTEN(6, "atten_1577_db_km"),
	ATTEN(7, "atten_1625_db_km"),
	ATTEN(8, "atten_1650_db_km"),
	{ NULL },
};

enum { EITHER = 2 };

static int
by_cable(const void *pa, const void *pb)
{
	const struct section *a = pa, *b = pb;

	if (a->cable != b->cable)
		return a->cable < b->cable ? -1 : 1;
	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return a->row < b->row ? -1 : a->row > b->row;
}

static int
fail_at(struct table *spans, uint32_t row, int col, const char *what)
{
	/* of a table held as columns alone the field itself is gone */
	table_at(spans, row);
	return err_set(spans->err, "%s:%llu: column '%.*s': %s", spans->row.file,
	    (unsigned long long)spans->row.line, (int)table_name(spans, col).n,
	    table_name(spans, col).p, what);
}

static int
take_row(struct network *net, struct table *spans, size_t i)
{
	static const int texts[] = { SPAN_CABLE, SPAN_SITE_A, SPAN_SITE_B };
	const int64_t *fibres = table_wholes(spans, SPAN_FIBRES);
	uint32_t at[3];

	for (int k = 0; k < 3; k++) {
		at[k] = table_texts(spans, texts[k])[i];
		if (at[k] == HOLD_NO_TEXT)
			return fail_at(spans, (uint32_t)i, texts[k], "is empty");
	}
	net->v[i] = (struct section){
		.cable = at[0],
		.site = { at[1], at[2] },
		.row = (uint32_t)i,
		.number = table_wholes(spans, SPAN_SECTION)[i],
		.says_fibres = fibres[i] != HOLD_NO_WHOLE,
		.fibres = fibres[i] != HOLD_NO_WHOLE ? (uint32_t)fibres[i] : 0,
		/* not known is not uncut */
		.cut = { table_words(spans, SPAN_CUT_A)[i] != 1,
		    table_words(spans, SPAN_CUT_B)[i] != 1 },
	};
	return 0;
}

int
network_load(struct network *net, struct table *spans, const struct ids *texts)
{
	*net = (struct network){ .n = table_rows(spans), .texts_n = texts->n };
	net->v = mem_zeroed(net->n + 1, sizeof *net->v);
	net->of_cable = mem_zeroed(texts->n + 1, sizeof *net->of_cable);
	for (size_t i = 0; i < texts->n; i++)
		net->of_cable[i] = END_NONE;
	for (size_t i = 0; i < net->n; i++)
		if (take_row(net, spans, i) != 0)
			return -1;
	if (net->n > 0)
		qsort(net->v, net->n, sizeof *net->v, by_cable);
	for (size_t i = 0; i < net->n; i++) {
		const struct section *s = &net->v[i];

		if (i > 0 && s->cable == s[-1].cable && s->number == s[-1].number)
			return fail_at(
			    spans, s->row, SPAN_SECTION, "a second row of this cable and section");
		if (net->of_cable[s->cable] == END_NONE)
			net->of_cable[s->cable] = (uint32_t)i;
	}
	return 0;
}

/* Does the section have such a fibre? A cable that does not say how many has as many as are named. */
static bool
has_fibre(struct section *s, int64_t fibre)
{
	if (fibre < 1 || fibre > 100000)
		return false;
	if (s->says_fibres)
		return fibre <= s->fibres;
	if (fibre > s->fibres)
		s->fibres = (uint32_t)fibre;
	return true;
}

unsigned
network_find(struct network *net, const struct place *place, struct spot spot[2])
{
	unsigned found = 0;
	uint32_t at;

	if (place->cable >= net->texts_n || net->of_cable[place->cable] == END_NONE)
		return 0;
	for (at = net->of_cable[place->cable]; at < net->n && net->v[at].cable == place->cable;
	     at++) {
		struct section *s = &net->v[at];
		bool tail = s->site[0] == s->site[1];

		if (place->section != HOLD_NO_WHOLE && s->number != place->section)
			continue;
		for (unsigned side = 0; side < (tail ? 1 : 2); side++) {
			if (s->site[side] != place->site ||
			    (place->toward != HOLD_NO_TEXT && s->site[1 - side] != place->toward) ||
			    !has_fibre(s, place->fibre))
				continue;
			if (found < 2)
				spot[found] = (struct spot){ 4 * at + (tail ? EITHER : side),
					(uint32_t)place->fibre };
			found++;
		}
	}
	return found;
}

int
network_number(struct network *net, struct err *err)
{
	uint64_t ends = 0;

	net->firsts = mem_zeroed(net->n + 1, sizeof *net->firsts);
	for (size_t i = 0, end; i < net->n; i = end) {
		uint32_t most = 0;

		for (end = i; end < net->n && net->v[end].cable == net->v[i].cable; end++)
			if (net->v[end].fibres > most)
				most = net->v[end].fibres;
		for (size_t k = i; k < end; k++) {
			struct section *s = &net->v[k];

			if (!s->says_fibres)
				s->fibres = most;
			s->first = net->firsts[k] = (uint32_t)ends;
			ends += 2 * (uint64_t)s->fibres;
			if (ends >= (uint64_t)1 << 29)
				return err_set(
				    err, "spans: more than 268 million fibres in all sections");
		}
	}
	net->ends = (uint32_t)ends;
	return 0;
}

uint32_t
network_section(const struct network *net, uint32_t end)
{
	/* the last section that begins at or before it; those without fibres begin where the next does */
	return (uint32_t)lower_bound_32(net->firsts, net->n, end + 1) - 1;
}

uint32_t
network_fibre(const struct network *net, uint32_t end)
{
	return (end - net->firsts[network_section(net, end)]) / 2 + 1;
}

uint32_t
network_site(const struct network *net, uint32_t end)
{
	return net->v[network_section(net, end)].site[end & 1];
}

uint32_t
network_beyond(const struct network *net, uint32_t end, bool *cut)
{
	uint32_t at = network_section(net, end), side = end & 1;
	const struct section *s = &net->v[at], *next = side == 1 ? s + 1 : s - 1;
	uint32_t fibre = (end - s->first) / 2;

	*cut = true;
	if ((side == 1 && at + 1 == net->n) || (side == 0 && at == 0) || next->cable != s->cable ||
	    next->site[1 - side] != s->site[side] || s->site[0] == s->site[1] ||
	    fibre >= next->fibres)
		return END_NONE;
	*cut = s->cut[side] || next->cut[1 - side];
	return next->first + 2 * fibre + (1 - side);
}

size_t
network_hole(const struct network *net, size_t after)
{
	for (size_t i = after + 1; i < net->n; i++) {
		const struct section *s = &net->v[i], *last = s - 1;

		if (s->cable == last->cable &&
		    (last->site[1] != s->site[0] || s->number > last->number + 1))
			return i;
	}
	return 0;
}

void
network_free(struct network *net)
{
	free(net->v);
	free(net->of_cable);
	free(net->firsts);
	*net = (struct network){ .n = 0 };
}
