#include "match/arcs.h"

#include <stdlib.h>

#include "base/num.h"
#include "match/time.h"

enum { PASS, FAIL };                   /* the words of tension */
enum { RUN_STEP = 30 };                /* numbers farther apart than this are not one run */
enum { MISSING_MOST = 6 };             /* of more missing records only so many are followed */
#define CLOCK_MOST INT64_C(4000000000) /* seconds; more than a hundred years */

/* --- what was typed -------------------------------------------------------------------------- */

static bool
is_separator(char c)
{
	return c == ' ' || c == ',' || c == ';' || c == ':';
}

/* Words of the note: practice, retry, and the one joint it names, if it names one. */
static void
read_note(
    const struct match_arcs *a, struct field note, struct match_record *r, struct field *joint)
{
	struct field named = { NULL, 0 };
	size_t end;

	for (size_t i = 0; i < note.n; i = end + 1) {
		struct field word;

		for (end = i; end < note.n && !is_separator(note.p[end]);)
			end++;
		word = (struct field){ note.p + i, end - i };
		r->says_practice |= field_is(word, "practice");
		r->says_retry |= field_is(word, "retry");
		if (word.n == 0 || planned_named(a->plan, word) == MATCH_NONE)
			continue;
		if (named.n > 0 && !field_same(named, word))
			return;
		named = word;
	}
	if (joint->n == 0)
		*joint = named;
}

/* The closure that is meant by what was typed, and whether the plan has it. */
static void
name_closure(const struct match_arcs *a, struct match_typed *t)
{
	struct field *cell = t->cell;

	t->closure[0] = t->closure[1] = MATCH_NONE;
	if (cell[PLANNED_CLOSURE].n > 0) {
		size_t c = ids_find_one(&a->plan->closures, cell[PLANNED_CLOSURE]);

		t->closure[0] = c == SIZE_MAX ? MATCH_NONE : (uint32_t)c;
		t->outside = c == SIZE_MAX;
	} else if (cell[PLANNED_JOINT].n > 0) {
		uint32_t joint = planned_named(a->plan, cell[PLANNED_JOINT]);

		t->outside = joint == MATCH_NONE;
		t->closure[0] = joint == MATCH_NONE ? MATCH_NONE : a->plan->v[joint].closure;
	} else
		for (int side = PLANNED_CABLE_A; side <= PLANNED_CABLE_B; side += 2)
			if (cell[side].n > 0 && cell[side + 1].n > 0 && t->closure[0] == MATCH_NONE)
				planned_closures_of_fibre(a->plan, &cell[side], t->closure);
}

static uint32_t
typed_of(struct match_arcs *a, const struct field cell[PLANNED_CELLS])
{
	struct match_typed t = { .joint = false };
	bool fresh, any = false;
	size_t i;

	for (int c = 0; c < PLANNED_CELLS; c++) {
		t.cell[c] = cell[c];
		any |= cell[c].n > 0;
	}
	if (!any)
		return MATCH_NONE;
	i = ids_add(&a->typed_ids, cell, PLANNED_CELLS, &fresh);
	if (fresh) {
		t.joint = cell[PLANNED_JOINT].n > 0 || cell[PLANNED_SLOT].n > 0 ||
			  cell[PLANNED_FIBRE_A].n > 0 || cell[PLANNED_FIBRE_B].n > 0;
		name_closure(a, &t);
		a->typed = mem_grow(a->typed, &a->cap_typed, i + 1, sizeof *a->typed);
		a->typed[i] = t;
	}
	return (uint32_t)i;
}

/* --- one row --------------------------------------------------------------------------------- */

/* The number of the row's stream: its machine, and how many fibres an arc joins. */
static uint32_t
stream_of(struct match_arcs *a, struct table *t)
{
	struct field key[2] = { table_field(t, MATCH_SPLICER) };
	int64_t fibres_n = a->plan->ribbons ? 0 : 1; /* 0 to 24 */
	struct match_stream *one;
	bool fresh;
	size_t s;

	get_whole(t, MATCH_FIBRES, &fibres_n);
	key[1] = (struct field){ &"ABCDEFGHIJKLMNOPQRSTUVWXY"[fibres_n], 1 };
	s = ids_add(&a->stream_ids, key, 2, &fresh);
	if (!fresh)
		return (uint32_t)s;
	a->streams = mem_grow(a->streams, &a->cap_streams, s + 1, sizeof *a->streams);
	one = &a->streams[a->nstreams++];
	*one = (struct match_stream){ .fibres_n = (uint32_t)fibres_n };
	one->machine = (uint32_t)ids_add(&a->machines, key, 1, NULL);
	for (size_t i = 0; i < a->clocks->n; i++)
		if (field_same(a->clocks->v[i].name, key[0]))
			num_whole(a->clocks->v[i].value, &one->clock_s);
	return (uint32_t)s;
}

static int
read_time(struct match_arcs *a, struct table *t, struct match_record *r, int begins)
{
	int64_t clock_s = a->streams[r->stream].clock_s;
	struct field made_at = table_field(t, MATCH_MADE_AT);

	if (!get_time(t, MATCH_MADE_AT, &r->at) || r->at.date_only) {
		r->no_time = true;
		return 0;
	}
	r->at.seconds += clock_s;
	r->shift = match_shift_day(made_at, clock_s, begins);
	a->text.n = 0;
	return match_time_add(made_at, clock_s, &a->text) == 0
		   ? 0
		   : table_fail(t, MATCH_MADE_AT, "by --clock outside the years 0000 to 9999");
}

static int
read_record(struct match_arcs *a, struct table *t, struct match_record *r, int begins)
{
	struct field cell[PLANNED_CELLS], number, line = table_line(t, &a->text);
	int64_t position = 0;
	double heat_s = 0;
	int tension = -1;
	bool fresh;

	ids_add(&a->lines, &line, 1, &fresh);
	r->stream = stream_of(a, t);
	if (read_time(a, t, r, begins) != 0)
		return -1;
	r->number = MATCH_NO_NUMBER;
	if (get_text(t, MATCH_ARC, &number))
		num_whole(number, &r->number);
	if (!r->no_time && r->number != MATCH_NO_NUMBER) {
		r->known =
		    match_earlier_has(a->earlier, table_field(t, MATCH_SPLICER), r->number, &r->at);
		r->repeated = !fresh || r->known;
	}
	get_whole(t, MATCH_POSITION, &position);
	r->position = (uint8_t)position;
	r->has_est = get_db(t, MATCH_EST, &r->est_udb);
	get_word(t, MATCH_TENSION, &tension);
	r->failed = tension == FAIL;
	r->passed = tension == PASS;
	r->heated = get_num(t, MATCH_HEAT, &heat_s) && heat_s > 0;
	for (int c = 0; c < PLANNED_CELLS; c++)
		cell[c] = table_field(t, c);
	read_note(a, table_field(t, MATCH_NOTE), r, &cell[PLANNED_JOINT]);
	r->typed = typed_of(a, cell);
	return 0;
}

/* --- the order of work ----------------------------------------------------------------------- */

static bool
is_matched(const struct match_record *r)
{
	return !r->no_time && !r->repeated;
}

static bool
same_arc(const struct match_record *a, const struct match_record *b)
{
	return a->stream == b->stream && a->number == b->number && when_order(&a->at, &b->at) == 0;
}

/* By number and time in each stream; those that are not matched behind all others, as they were read. */
static int
by_number(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;
	int order = is_matched(b) - is_matched(a);

	if (order != 0)
		return order;
	if (is_matched(a)) {
		if (a->stream != b->stream)
			return a->stream < b->stream ? -1 : 1;
		if (a->number != b->number)
			return a->number < b->number ? -1 : 1;
		order = when_order(&a->at, &b->at);
		if (order != 0)
			return order;
		if (a->position != b->position)
			return a->position < b->position ? -1 : 1;
	}
	return a->row < b->row ? -1 : a->row > b->row;
}

/* By the time of the run in each stream, within a run by number. */
static int
by_work(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;
	int order;

	if (!is_matched(a) || !is_matched(b) || a->stream != b->stream)
		return by_number(a, b);
	order = when_order(&a->run_at, &b->run_at);
	if (order != 0)
		return order;
	if (a->run != b->run)
		return a->run < b->run ? -1 : 1;
	return by_number(a, b);
}

/* How far b's number is behind a's, which is no greater; any two have a difference. */
static uint64_t
apart(const struct match_record *a, const struct match_record *b)
{
	return (uint64_t)b->number - (uint64_t)a->number;
}

/*
 * The runs of a stream's rows, which are by number. Where a number is there twice (a counter that
 * begins anew) or not at all, time alone decides: each row is a run.
 */
static void
set_runs(struct match_record *r, size_t n)
{
	bool numbered = r[0].number != MATCH_NO_NUMBER;

	for (size_t i = 1; i < n; i++)
		numbered &= r[i].number != r[i - 1].number || same_arc(&r[i], &r[i - 1]);
	for (size_t i = 0; i < n; i++) {
		bool goes_on = numbered && i > 0 && apart(&r[i - 1], &r[i]) <= RUN_STEP;

		r[i].run_at = goes_on ? r[i - 1].run_at : r[i].at;
		r[i].run = goes_on ? r[i - 1].run : numbered ? r[i].number : 0;
	}
}

/* So many numbers are missing before a row, behind the one before it. */
static uint32_t
missing_before(const struct match_record *r)
{
	uint64_t behind = apart(&r[-1], r);

	if (r->number == MATCH_NO_NUMBER || r[-1].number == MATCH_NO_NUMBER ||
	    r->run != r[-1].run || behind == 0 || behind > RUN_STEP)
		return 0;
	return (uint32_t)(behind - 1 < MISSING_MOST ? behind - 1 : MISSING_MOST);
}

/* The arcs of a stream's rows, and places for the missing ones. */
static void
see(struct match_arcs *a, struct match_stream *s, size_t first, size_t end)
{
	const struct match_record *r = a->v;
	size_t cap = 0;

	for (size_t i = first; i < end; i++) {
		struct match_seen one = { (uint32_t)i, 1, 0, INT64_MIN };

		if (i > first && r[i].position > 0 && r[i - 1].position > 0 &&
		    same_arc(&r[i], &r[i - 1])) {
			s->seen[s->n - 1].rows++;
			continue;
		}
		if (i > first && r[i].at.seconds >= r[i - 1].at.seconds)
			one.gap_s = r[i].at.seconds - r[i - 1].at.seconds;
		one.missing = i > first ? missing_before(&r[i]) : 0;
		s->seen = mem_grow(s->seen, &cap, s->n + one.missing + 1, sizeof *s->seen);
		for (uint32_t k = 0; k <= one.missing; k++) {
			s->seen[s->n] = one;
			s->seen[s->n++].rows = k == one.missing;
		}
	}
}

static size_t
end_of_stream(const struct match_arcs *a, size_t first)
{
	size_t end = first;

	while (end < a->nread && a->v[end].stream == a->v[first].stream)
		end++;
	return end;
}

static void
put_in_order(struct match_arcs *a)
{
	qsort(a->v, a->n, sizeof *a->v, by_number);
	while (a->nread < a->n && is_matched(&a->v[a->nread]))
		a->nread++;
	for (size_t i = 0; i < a->nread; i = end_of_stream(a, i))
		set_runs(a->v + i, end_of_stream(a, i) - i);
	qsort(a->v, a->n, sizeof *a->v, by_work);
	for (size_t i = 0; i < a->nread; i = end_of_stream(a, i))
		see(a, &a->streams[a->v[i].stream], i, end_of_stream(a, i));
}

/* --- all ------------------------------------------------------------------------------------- */

static int
clock_fails(struct err *err, const char *what, struct field f)
{
	char shown[ERR_SHOWN];

	return err_set(err, "--clock: %s: '%s'", what, err_show(shown, f.p, f.n));
}

static int
read_rows(struct match_arcs *a, int begins)
{
	bool unzoned = false;

	for (; a->n < table_rows(a->table); a->n++) {
		struct match_record *r = &a->v[a->n];

		table_at(a->table, a->n);
		r->row = a->n;
		if (read_record(a, a->table, r, begins) != 0)
			return -1;
		a->zoned |= !r->no_time && r->at.has_zone;
		unzoned |= !r->no_time && !r->at.has_zone;
	}
	if (a->zoned && unzoned)
		return err_set(a->table->err,
		    "some arcs were made at a time with a zone, others without: they "
		    "cannot be put in order");
	return 0;
}

int
match_arcs_read(struct match_arcs *a, struct table *t, struct planned *plan,
    struct match_earlier *earlier, int begins, const struct opt_pairs *clocks)
{
	int64_t s;

	*a = (struct match_arcs){ t, plan, .machines = IDS_NONE, .stream_ids = IDS_NONE,
		.typed_ids = IDS_NONE, .lines = IDS_NONE, .clocks = clocks, .earlier = earlier };
	a->v = mem_zeroed(table_rows(t) + 1, sizeof *a->v);
	for (size_t i = 0; i < clocks->n; i++)
		if (num_whole(clocks->v[i].value, &s) != 0 || s < -CLOCK_MOST || s > CLOCK_MOST)
			return clock_fails(
			    t->err, "not a whole number of seconds", clocks->v[i].value);
	if (read_rows(a, begins) != 0)
		return -1;
	for (size_t i = 0; i < clocks->n; i++)
		if (ids_find_one(&a->machines, clocks->v[i].name) == SIZE_MAX)
			return clock_fails(t->err, "no arc of this splicer", clocks->v[i].name);
	put_in_order(a);
	return 0;
}

void
match_arcs_free(struct match_arcs *a)
{
	for (uint32_t i = 0; i < a->nstreams; i++)
		free(a->streams[i].seen);
	ids_free(&a->machines);
	ids_free(&a->stream_ids);
	ids_free(&a->typed_ids);
	ids_free(&a->lines);
	bytes_free(&a->text);
	free(a->v);
	free(a->streams);
	free(a->typed);
}
