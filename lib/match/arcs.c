#include "match/arcs.h"

#include <stdlib.h>

#include "base/num.h"
#include "match/time.h"

enum { PASS, FAIL };       /* the words of tension */
enum { RUN_STEP = 30 };    /* numbers farther apart than this are not one run */
enum { MISSING_MOST = 6 }; /* of more missing records only so many are followed */
#define NO_NUMBER  INT64_MIN
#define CLOCK_MOST INT64_C(4000000000) /* seconds; more than a hundred years */

int
match_arcs_init(struct match_arcs *a, struct planned *plan, int begins,
    const struct opt_pairs *clocks, struct err *err)
{
	*a = (struct match_arcs){ plan, begins, clocks, .machines = IDS_NONE,
		.stream_ids = IDS_NONE, .typed_ids = IDS_NONE };
	for (size_t i = 0; i < clocks->n; i++) {
		struct field value = clocks->v[i].value;
		char shown[ERR_SHOWN];
		int64_t s;

		if (num_whole(value, &s) != 0 || s < -CLOCK_MOST || s > CLOCK_MOST)
			return err_set(err, "--clock: not a whole number of seconds: '%s'",
			    err_show(shown, value.p, value.n));
	}
	return 0;
}

void
match_arcs_free(struct match_arcs *a)
{
	for (size_t i = 0; i < a->nstreams; i++)
		free(a->streams[i].seen);
	region_free(&a->region);
	bytes_free(&a->text);
	ids_free(&a->machines);
	ids_free(&a->stream_ids);
	ids_free(&a->typed_ids);
	free(a->v);
	free(a->streams);
	free(a->typed);
	*a = (struct match_arcs){
		.machines = IDS_NONE, .stream_ids = IDS_NONE, .typed_ids = IDS_NONE
	};
}

/* --- one row --------------------------------------------------------------------------------- */

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
	uint32_t joint;
	size_t c;

	t->closure[0] = t->closure[1] = MATCH_NONE;
	if (cell[PLANNED_CLOSURE].n > 0) {
		c = ids_find_one(&a->plan->closures, cell[PLANNED_CLOSURE]);
		t->closure[0] = c == SIZE_MAX ? MATCH_NONE : (uint32_t)c;
		t->outside = c == SIZE_MAX;
		return;
	}
	if (cell[PLANNED_JOINT].n > 0) {
		joint = planned_named(a->plan, cell[PLANNED_JOINT]);
		t->outside = joint == MATCH_NONE;
		t->closure[0] = joint == MATCH_NONE ? MATCH_NONE : a->plan->v[joint].closure;
		return;
	}
	for (int side = PLANNED_CABLE_A; side <= PLANNED_CABLE_B; side += 2)
		if (cell[side].n > 0 && cell[side + 1].n > 0 && t->closure[0] == MATCH_NONE)
			planned_closures_of_fibre(a->plan, &cell[side], t->closure);
}

static uint32_t
typed_of(struct match_arcs *a, struct field cell[PLANNED_CELLS])
{
	struct match_typed *t;
	size_t i;
	bool fresh, any = false;

	for (int c = 0; c < PLANNED_CELLS; c++)
		any |= cell[c].n > 0;
	if (!any)
		return MATCH_NONE;
	i = ids_add(&a->typed_ids, cell, PLANNED_CELLS, &fresh);
	if (!fresh)
		return (uint32_t)i;
	a->typed = mem_grow(a->typed, &a->cap_typed, i + 1, sizeof *a->typed);
	t = &a->typed[i];
	*t = (struct match_typed){ .joint = false };
	for (int c = 0; c < PLANNED_CELLS; c++)
		t->cell[c] = cell[c].n > 0 ? region_keep(&a->region, cell[c]) : cell[c];
	t->joint = cell[PLANNED_JOINT].n > 0 || cell[PLANNED_SLOT].n > 0 ||
		   cell[PLANNED_FIBRE_A].n > 0 || cell[PLANNED_FIBRE_B].n > 0;
	t->place = cell[PLANNED_CLOSURE].n > 0 || cell[PLANNED_TRAY].n > 0;
	name_closure(a, t);
	return (uint32_t)i;
}

static void
keep_text(struct match_arcs *a, const struct table *t, struct match_record *r)
{
	r->text = region_keep(&a->region, table_line(t, &a->text));
	if (a->file == NULL || strcmp(a->file, t->row.file) != 0)
		a->file = region_string(&a->region, field_of(t->row.file));
	r->file = a->file;
	r->line = t->row.line;
}

static void
read_looks(struct table *t, struct match_record *r)
{
	double heat_s = 0;
	int tension = -1;

	r->has_est = get_db(t, MATCH_EST, &r->est_udb);
	get_word(t, MATCH_TENSION, &tension);
	r->failed = tension == FAIL;
	r->passed = tension == PASS;
	if (get_num(t, MATCH_HEAT, &heat_s))
		r->heated = heat_s > 0;
}

/* The number of the row's stream: its machine, and how many fibres an arc joins. */
static uint32_t
stream_of(struct match_arcs *a, struct table *t)
{
	struct field key[2] = { { "", 0 }, { "", 0 } };
	int64_t fibres_n = a->plan->ribbons ? 0 : 1; /* 0 to 24 */
	bool fresh;
	size_t s;

	get_text(t, MATCH_SPLICER, &key[0]);
	get_whole(t, MATCH_FIBRES, &fibres_n);
	key[1] = (struct field){ &"ABCDEFGHIJKLMNOPQRSTUVWXY"[fibres_n], 1 };
	s = ids_add(&a->stream_ids, key, 2, &fresh);
	if (fresh) {
		struct match_stream *one;

		a->streams = mem_grow(a->streams, &a->cap_streams, s + 1, sizeof *a->streams);
		one = &a->streams[s];
		*one = (struct match_stream){ (uint32_t)ids_add(&a->machines, key, 1, NULL),
			(uint32_t)fibres_n, 0, NULL, 0 };
		for (size_t i = 0; i < a->clocks->n; i++)
			if (field_same(a->clocks->v[i].name, key[0]))
				num_whole(a->clocks->v[i].value, &one->clock_s);
		a->nstreams++;
	}
	return (uint32_t)s;
}

static void
read_time(struct match_arcs *a, struct table *t, struct match_record *r)
{
	int64_t clock_s = a->streams[r->stream].clock_s;
	struct field made_at = { "", 0 };

	if (!get_time(t, MATCH_MADE_AT, &r->at) || r->at.date_only) {
		r->no_time = true;
		return;
	}
	get_text(t, MATCH_MADE_AT, &made_at);
	a->zoned |= r->at.has_zone;
	a->unzoned |= !r->at.has_zone;
	r->at.seconds += clock_s;
	r->shift = match_shift_day(made_at, clock_s, a->begins);
	a->text.n = 0;
	if (match_time_add(made_at, clock_s, &a->text) != 0)
		table_fail(t, MATCH_MADE_AT, "by --clock outside the years 0000 to 9999");
}

void
match_arcs_add(struct match_arcs *a, struct table *t)
{
	struct field cell[PLANNED_CELLS], note = { "", 0 }, number = { "", 0 }, rest;
	struct match_record *r;
	int64_t position = 0;

	if (a->n >= MATCH_NONE / 8) {
		table_fail(t, MATCH_MADE_AT, "too many arcs");
		return;
	}
	a->v = mem_grow(a->v, &a->cap, a->n + 1, sizeof *a->v);
	r = &a->v[a->n];
	*r = (struct match_record){ .order = (uint32_t)a->n++, .number = NO_NUMBER };
	r->stream = stream_of(a, t);
	read_time(a, t, r);
	if (get_text(t, MATCH_ARC, &number))
		num_whole(number, &r->number);
	if (get_whole(t, MATCH_POSITION, &position))
		r->position = (uint8_t)position;
	read_looks(t, r);
	for (int c = 0; c < PLANNED_CELLS; c++) {
		cell[c] = (struct field){ NULL, 0 };
		get_text(t, c, &cell[c]);
	}
	if (get_text(t, MATCH_NOTE, &note))
		read_note(a, note, r, &cell[PLANNED_JOINT]);
	r->typed = typed_of(a, cell);
	keep_text(a, t, r);
	rest = r->text;
	for (int c = 0; c <= t->at[MATCH_MADE_AT]; c++)
		r->made_at = field_cut(&rest, '\t');
}

/* --- all rows -------------------------------------------------------------------------------- */

static int
by_last(const struct match_record *a, const struct match_record *b)
{
	if (a->position != b->position)
		return a->position < b->position ? -1 : 1;
	return a->order < b->order ? -1 : 1;
}

/* By stream; in it by number and time; those without a time behind all others, as they were read. */
static int
by_number(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;
	int order;

	if (a->no_time != b->no_time)
		return a->no_time ? 1 : -1;
	if (a->no_time)
		return a->order < b->order ? -1 : 1;
	if (a->stream != b->stream)
		return a->stream < b->stream ? -1 : 1;
	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	order = when_order(&a->at, &b->at);
	return order != 0 ? order : by_last(a, b);
}

static int
by_time(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;
	int order = when_order(&a->at, &b->at);

	if (order == 0 && a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return order != 0 ? order : by_last(a, b);
}

/* Runs in the order of time, within one by number. */
static int
by_run(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;

	if (a->run != b->run)
		return a->run < b->run ? -1 : 1;
	return by_number(a, b);
}

static bool
same_arc(const struct match_record *a, const struct match_record *b)
{
	return a->stream == b->stream && a->number == b->number && when_order(&a->at, &b->at) == 0;
}

/* Moves rows that are there once more, and those without a time, behind those that are read. */
static void
move_repeated(struct match_arcs *a)
{
	struct match_record *behind = mem_zeroed(a->n + 1, sizeof *behind);
	size_t kept = 0, moved = 0;

	for (size_t i = 0; i < a->n; i++) {
		struct match_record *r = &a->v[i];

		for (size_t k = kept;
		     k > 0 && !r->no_time && r->number != NO_NUMBER && same_arc(&a->v[k - 1], r);
		     k--)
			r->repeated |= field_same(a->v[k - 1].text, r->text);
		if (!r->no_time && !r->repeated)
			a->v[kept++] = *r;
		else
			behind[moved++] = *r;
	}
	if (moved > 0)
		memcpy(a->v + kept, behind, moved * sizeof *behind);
	free(behind);
	a->nread = kept;
}

struct run {
	struct when from;
	uint32_t run;
};

static int
by_start(const void *pa, const void *pb)
{
	const struct run *a = pa, *b = pb;
	int order = when_order(&a->from, &b->from);

	return order != 0 ? order : a->run < b->run ? -1 : a->run > b->run;
}

/*
 * Puts a stream's rows, by number so far, in the order of work. Where a number is there twice (a
 * counter that begins anew) or not at all, time alone decides.
 */
static void
order_stream(struct match_record *r, size_t n)
{
	struct run *runs = mem_zeroed(n + 1, sizeof *runs);
	uint32_t *rank = mem_zeroed(n + 1, sizeof *rank);
	bool numbered = r[0].number != NO_NUMBER;
	uint32_t k = 0;

	runs[0] = (struct run){ r[0].at, 0 };
	for (size_t i = 1; i < n; i++) {
		numbered &= r[i].number != r[i - 1].number || same_arc(&r[i], &r[i - 1]);
		if (r[i - 1].number == NO_NUMBER || r[i].number - r[i - 1].number > RUN_STEP) {
			k++;
			runs[k] = (struct run){ r[i].at, k };
		}
		r[i].run = k;
	}
	qsort(runs, k + 1u, sizeof *runs, by_start);
	for (uint32_t i = 0; i <= k; i++)
		rank[runs[i].run] = i;
	for (size_t i = 0; i < n; i++)
		r[i].run = numbered ? rank[r[i].run] : 0;
	qsort(r, n, sizeof *r, numbered ? by_run : by_time);
	free(runs);
	free(rank);
}

/* The arcs of a stream's rows, and places for the missing ones. */
static void
see(struct match_arcs *a, struct match_stream *s, size_t first, size_t end)
{
	const struct match_record *r = a->v;
	size_t cap = 0;
	int64_t missing;

	for (size_t i = first; i < end; i++) {
		struct match_seen one = { (uint32_t)i, 1, 0, INT64_MIN };

		if (i > first && r[i].position > 0 && same_arc(&r[i], &r[i - 1]) &&
		    r[i - 1].position > 0) {
			s->seen[s->n - 1].rows++;
			continue;
		}
		missing = i > first && r[i].number != NO_NUMBER && r[i - 1].number != NO_NUMBER &&
				  r[i].run == r[i - 1].run
			      ? r[i].number - r[i - 1].number - 1
			      : 0;
		if (missing < 0 || missing >= RUN_STEP)
			missing = 0;
		if (i > first && r[i].at.seconds >= r[i - 1].at.seconds)
			one.gap_s = r[i].at.seconds - r[i - 1].at.seconds;
		one.missing = (uint32_t)(missing < MISSING_MOST ? missing : MISSING_MOST);
		s->seen = mem_grow(s->seen, &cap, s->n + MISSING_MOST + 1, sizeof *s->seen);
		for (uint32_t k = 0; k < one.missing; k++)
			s->seen[s->n++] =
			    (struct match_seen){ (uint32_t)i, 0, one.missing, one.gap_s };
		s->seen[s->n++] = one;
	}
}

int
match_arcs_order(struct match_arcs *a, struct err *err)
{
	size_t end;

	for (size_t i = 0; i < a->clocks->n; i++) {
		struct field name = a->clocks->v[i].name;
		char shown[ERR_SHOWN];

		if (ids_find_one(&a->machines, name) == SIZE_MAX)
			return err_set(err, "--clock: no arc of this splicer: '%s'",
			    err_show(shown, name.p, name.n));
	}
	if (a->zoned && a->unzoned)
		return err_set(err,
		    "some arcs were made at a time with a zone, others without: they "
		    "cannot be put in order");
	if (a->n > 0)
		qsort(a->v, a->n, sizeof *a->v, by_number);
	move_repeated(a);
	for (size_t i = 0; i < a->nread; i = end) {
		for (end = i; end < a->nread && a->v[end].stream == a->v[i].stream;)
			end++;
		order_stream(a->v + i, end - i);
		see(a, &a->streams[a->v[i].stream], i, end);
	}
	return 0;
}
