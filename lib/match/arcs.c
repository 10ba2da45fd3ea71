#include "match/arcs.h"

#include <stdlib.h>

#include "base/num.h"
#include "match/time.h"

enum { PASS, FAIL };     /* the words of tension */
enum { NAMED_MOST = 4 }; /* more closures than these name none */
enum { GAPS_LEAST = 5 }; /* so many gaps tell a pace */
#define NO_NUMBER  INT64_MIN
#define CLOCK_MOST INT64_C(4000000000) /* seconds; more than a hundred years */

int
match_arcs_init(struct match_arcs *a, struct planned *plan, const struct match_table *table,
    int begins, const struct opt_pairs *clocks, struct err *err)
{
	*a = (struct match_arcs){ plan, table, begins, clocks, .machines = IDS_NONE,
		.typed = IDS_NONE };
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
	region_free(&a->region);
	bytes_free(&a->text);
	ids_free(&a->machines);
	ids_free(&a->typed);
	free(a->v);
	free(a->machine);
	free(a->anchors);
	free(a->meant.v);
	free(a->closures.v);
	free(a->stages.v);
	free(a->anchor_lists);
	free(a->stage_lists);
	free(a->stage);
	free(a->arcs);
	free(a->gaps);
	*a = (struct match_arcs){ .machines = IDS_NONE, .typed = IDS_NONE };
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

/* The few closures of an anchor's joints, which rise, so that closures do as well. */
static void
name_closures(struct match_arcs *a, struct match_anchor *anchor)
{
	anchor->closures = a->closures.n;
	for (size_t i = 0; i < anchor->n; i++) {
		uint32_t c = a->plan->v[a->meant.v[anchor->first + i]].closure;

		if (i > 0 && a->closures.v[a->closures.n - 1] == c)
			continue;
		if (anchor->nclosures == NAMED_MOST) {
			a->closures.n = anchor->closures;
			anchor->nclosures = 0;
			return;
		}
		planned_add(&a->closures, c);
		anchor->nclosures++;
	}
}

static uint32_t
anchor_of(struct match_arcs *a, const struct field typed[PLANNED_CELLS])
{
	struct match_anchor *anchor;
	size_t i;
	bool fresh, any = false;

	for (int cell = 0; cell < PLANNED_CELLS; cell++)
		any |= typed[cell].n > 0;
	if (!any)
		return MATCH_NONE;
	i = ids_add(&a->typed, typed, PLANNED_CELLS, &fresh);
	if (!fresh)
		return (uint32_t)i;
	a->anchors = mem_grow(a->anchors, &a->anchor_cap, i + 1, sizeof *a->anchors);
	anchor = &a->anchors[i];
	*anchor = (struct match_anchor){ .first = a->meant.n };
	anchor->meaning = planned_meant(a->plan, typed, &a->meant);
	anchor->n = a->meant.n - anchor->first;
	anchor->joint = typed[PLANNED_JOINT].n > 0 || typed[PLANNED_SLOT].n > 0 ||
			typed[PLANNED_FIBRE_A].n > 0 || typed[PLANNED_FIBRE_B].n > 0;
	name_closures(a, anchor);
	return (uint32_t)i;
}

static void
keep_text(struct match_arcs *a, const struct table *t, struct match_record *r)
{
	size_t n = reader_columns(t->reader);

	if (t->row.straight)
		r->text = region_keep(&a->region, t->row.raw);
	else {
		a->text.n = 0;
		for (size_t c = 0; c < n; c++) {
			if (c > 0)
				bytes_add(&a->text, "\t", 1);
			bytes_add_field(&a->text, row_field(&t->row, c));
		}
		r->text = region_keep(&a->region, bytes_field(&a->text));
	}
	if (a->file == NULL || strcmp(a->file, t->row.file) != 0)
		a->file = region_string(&a->region, field_of(t->row.file));
	r->file = a->file;
	r->line = t->row.line;
}

static void
read_looks(const struct match_arcs *a, struct table *t, struct match_record *r)
{
	int64_t est_udb = 0;
	double heat_s = 0;
	int tension = -1;

	if (get_db(t, MATCH_EST, &est_udb))
		r->high = est_udb >= a->table->high_udb;
	get_word(t, MATCH_TENSION, &tension);
	r->failed = tension == FAIL;
	r->passed = tension == PASS;
	if (get_num(t, MATCH_HEAT, &heat_s))
		r->heated = heat_s > 0;
}

/* The number of the row's machine. */
static uint32_t
machine_of(struct match_arcs *a, struct table *t)
{
	struct field name = { "", 0 };
	bool fresh;
	size_t m;

	get_text(t, MATCH_SPLICER, &name);
	m = ids_add(&a->machines, &name, 1, &fresh);
	if (fresh) {
		a->machine = mem_grow(a->machine, &a->machine_cap, m + 1, sizeof *a->machine);
		a->machine[m] = (struct match_one){ .clock_s = 0 };
		for (size_t i = 0; i < a->clocks->n; i++)
			if (field_same(a->clocks->v[i].name, name))
				num_whole(a->clocks->v[i].value, &a->machine[m].clock_s);
	}
	return (uint32_t)m;
}

static void
read_time(struct match_arcs *a, struct table *t, struct match_record *r)
{
	int64_t clock_s = a->machine[r->machine].clock_s;
	struct field made_at = { "", 0 };

	if (!get_time(t, MATCH_MADE_AT, &r->at) || r->at.date_only) {
		r->trouble = MATCH_NO_TIME;
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
	struct field typed[PLANNED_CELLS], note = { "", 0 }, number = { "", 0 };
	struct match_record *r;

	if (a->n >= MATCH_ELSEWHERE) {
		table_fail(t, MATCH_MADE_AT, "too many arcs");
		return;
	}
	a->v = mem_grow(a->v, &a->cap, a->n + 1, sizeof *a->v);
	r = &a->v[a->n];
	*r = (struct match_record){ .order = (uint32_t)a->n++, .number = NO_NUMBER };
	r->machine = machine_of(a, t);
	read_time(a, t, r);
	if (get_text(t, MATCH_ARC, &number))
		num_whole(number, &r->number);
	read_looks(a, t, r);
	for (int cell = 0; cell < PLANNED_CELLS; cell++) {
		typed[cell] = (struct field){ NULL, 0 };
		get_text(t, cell, &typed[cell]);
	}
	if (get_text(t, MATCH_NOTE, &note))
		read_note(a, note, r, &typed[PLANNED_JOINT]);
	r->anchor = anchor_of(a, typed);
	keep_text(a, t, r);
}

/* --- all rows -------------------------------------------------------------------------------- */

/* By machine and time; those without a time behind all others, as they were read. */
static int
by_time(const void *pa, const void *pb)
{
	const struct match_record *a = pa, *b = pb;
	int order;

	if ((a->trouble == MATCH_NO_TIME) != (b->trouble == MATCH_NO_TIME))
		return a->trouble == MATCH_NO_TIME ? 1 : -1;
	if (a->trouble == MATCH_NO_TIME)
		return a->order < b->order ? -1 : 1;
	if (a->machine != b->machine)
		return a->machine < b->machine ? -1 : 1;
	order = when_order(&a->at, &b->at);
	if (order != 0)
		return order;
	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return a->order < b->order ? -1 : 1;
}

/* Moves rows that are there once more behind those that are read. */
static void
move_repeated(struct match_arcs *a)
{
	struct match_record *behind = mem_zeroed(a->n + 1, sizeof *behind);
	size_t kept = 0, moved = 0;

	for (size_t i = 0; i < a->n; i++) {
		struct match_record *r = &a->v[i];

		for (size_t k = kept; k > 0 && r->trouble == MATCH_FINE; k--) {
			const struct match_record *before = &a->v[k - 1];

			if (before->machine != r->machine || before->number != r->number ||
			    when_order(&before->at, &r->at) != 0 || r->number == NO_NUMBER)
				break;
			if (field_same(before->text, r->text))
				r->trouble = MATCH_REPEATED;
		}
		if (r->trouble == MATCH_FINE)
			a->v[kept++] = *r;
		else
			behind[moved++] = *r;
	}
	if (moved > 0)
		memcpy(a->v + kept, behind, moved * sizeof *behind);
	free(behind);
	a->nread = kept;
}

static int
by_size(const void *pa, const void *pb)
{
	int64_t a, b;

	memcpy(&a, pa, sizeof a);
	memcpy(&b, pb, sizeof b);
	return a < b ? -1 : a > b;
}

/* The middle one of the gaps between these arcs, or `otherwise` if there are too few. */
static int64_t
pace_of(struct match_arcs *a, const struct match_record *r, size_t n, int64_t otherwise)
{
	if (n < GAPS_LEAST + 1)
		return otherwise;
	for (size_t i = 1; i < n; i++)
		a->gaps[i - 1] = r[i].at.seconds - r[i - 1].at.seconds;
	qsort(a->gaps, n - 1, sizeof *a->gaps, by_size);
	return a->gaps[(n - 1) / 2] > 0 ? a->gaps[(n - 1) / 2] : otherwise;
}

static uint8_t
look_of(const struct match_one *one, const struct match_record *r)
{
	if (r->failed)
		return MATCH_FAILED;
	if (r->high && !r->heated)
		return MATCH_HIGH;
	if (one->tells_heat)
		return r->heated ? MATCH_DONE : MATCH_OPEN;
	if (one->tells_tension)
		return r->passed ? MATCH_PASSED : MATCH_OPEN;
	return MATCH_PLAIN;
}

/* The time classes and looks of one machine's arcs; a pace is that of a shift. */
static void
look_at(struct match_arcs *a, struct match_one *one, struct match_arc *arcs)
{
	struct match_record *r = one->records;
	size_t n = one->match.n, end;
	int64_t whole = pace_of(a, r, n, a->table->pace_s);

	for (size_t i = 0; i < n; i++) {
		one->tells_heat |= r[i].heated;
		one->tells_tension |= r[i].passed || r[i].failed;
	}
	for (size_t i = 0; i < n; i = end) {
		int64_t pace;

		for (end = i + 1; end < n && r[end].shift == r[i].shift;)
			end++;
		pace = pace_of(a, r + i, end - i, whole);
		for (size_t k = i; k < end; k++) {
			arcs[k].gap = (uint8_t)(a->table->gaps - 1);
			if (k > 0)
				arcs[k].gap = match_gap_class(a->table,
				    (double)(r[k].at.seconds - r[k - 1].at.seconds), (double)pace);
			arcs[k].look = look_of(one, &r[k]);
			r[k].backward = k > 0 && r[k].number != NO_NUMBER &&
					r[k - 1].number != NO_NUMBER &&
					r[k].number < r[k - 1].number;
		}
	}
}

/* What the arc may be, by what was typed. */
static void
take_typed(const struct match_arcs *a, struct match_record *r, struct match_arc *arc)
{
	const struct match_anchor *anchor = r->anchor != MATCH_NONE ? &a->anchors[r->anchor] : NULL;

	arc->may = MATCH_MAY_ATTEMPT | MATCH_MAY_PRACTICE | MATCH_MAY_ELSEWHERE;
	arc->anchor = arc->only = MATCH_NONE;
	if (anchor != NULL && anchor->meaning == PLANNED_OUTSIDE) {
		r->outside = true;
		arc->may = MATCH_MAY_PRACTICE | MATCH_MAY_ELSEWHERE;
	} else if (anchor != NULL && anchor->meaning == PLANNED_FITS &&
		   !(r->says_practice && anchor->joint)) {
		/* what was typed is of this closure, not elsewhere, if it says of which */
		arc->anchor = r->anchor;
		r->pinned = anchor->n == 1;
		if (anchor->nclosures > 0)
			arc->may &= (uint8_t)~MATCH_MAY_ELSEWHERE;
		if (anchor->joint)
			arc->may &= (uint8_t)~MATCH_MAY_PRACTICE;
	} else if (anchor != NULL)
		r->trouble = MATCH_UNFITTING;
	if (r->says_practice && !(anchor != NULL && anchor->joint))
		arc->may = MATCH_MAY_PRACTICE;
	else if (r->says_retry && !r->pinned && !r->outside)
		arc->may = MATCH_MAY_RETRY | MATCH_MAY_ELSEWHERE;
}

/* true if what was typed on this arc says in which closures, or that it is in none of the plan */
static bool
names_closure(const struct match_arcs *a, const struct match_record *r)
{
	const struct match_anchor *anchor = r->anchor != MATCH_NONE ? &a->anchors[r->anchor] : NULL;

	return anchor != NULL && r->trouble == MATCH_FINE &&
	       (anchor->meaning == PLANNED_OUTSIDE || anchor->nclosures > 0);
}

static void
add_closures(struct match_arcs *a, size_t first, uint32_t anchor)
{
	const struct match_anchor *from = &a->anchors[anchor];

	for (size_t i = 0; i < from->nclosures; i++) {
		uint32_t c = a->closures.v[from->closures + i];
		size_t k = first;

		while (k < a->stages.n && a->stages.v[k] != c)
			k++;
		if (k == a->stages.n)
			planned_add(&a->stages, c);
	}
}

/* The closures between two anchors; MATCH_NONE: there is none on that side. */
static uint32_t
add_stage(struct match_arcs *a, uint32_t before, uint32_t behind)
{
	struct match_stage *s;

	a->stage = mem_grow(a->stage, &a->stage_cap, a->nstages + 1, sizeof *a->stage);
	s = &a->stage[a->nstages];
	s->first = a->stages.n;
	if (before != MATCH_NONE)
		add_closures(a, s->first, before);
	if (behind != MATCH_NONE && behind != before)
		add_closures(a, s->first, behind);
	if (before == MATCH_NONE && behind == MATCH_NONE && a->plan->match.closures == 1)
		planned_add(&a->stages, 0);
	s->n = a->stages.n - s->first;
	return (uint32_t)a->nstages++;
}

/* Which closures each of a machine's arcs may be in: those named last and next. */
static void
set_stages(struct match_arcs *a, const struct match_one *one, struct match_arc *arcs)
{
	const struct match_record *r = one->records;
	uint32_t last = MATCH_NONE;
	size_t n = one->match.n, next;

	for (size_t i = 0; i < n; i = next + 1) {
		uint32_t named = MATCH_NONE;

		for (next = i; next < n && !names_closure(a, &r[next]);)
			next++;
		if (next < n)
			named = r[next].anchor;
		if (next > i) {
			uint32_t stage = add_stage(a, last, named);

			for (size_t k = i; k < next; k++)
				arcs[k].stage = stage;
		}
		if (next < n)
			arcs[next].stage = add_stage(a, named, named);
		last = named;
	}
}

/* A closure or tray that was not typed last time is taken to be typed where it is begun. */
static void
set_begins(const struct match_one *one, struct match_arc *arcs, const struct match_anchor *anchors)
{
	uint32_t last = MATCH_NONE;

	for (size_t i = 0; i < one->match.n; i++) {
		uint32_t anchor = arcs[i].anchor;

		if (anchor == MATCH_NONE || anchors[anchor].joint)
			continue;
		arcs[i].begins = anchor != last;
		last = anchor;
	}
}

/* Splits the records into machines and fills in their arcs. */
static void
set_machines(struct match_arcs *a)
{
	size_t end;

	a->arcs = mem_zeroed(a->nread + 1, sizeof *a->arcs);
	a->gaps = mem_zeroed(a->nread + 1, sizeof *a->gaps);
	for (size_t i = 0; i < a->nread; i = end) {
		struct match_one *one = &a->machine[a->v[i].machine];

		for (end = i; end < a->nread && a->v[end].machine == a->v[i].machine;)
			end++;
		one->records = a->v + i;
		one->match.arcs = a->arcs + i;
		one->match.n = end - i;
		look_at(a, one, a->arcs + i);
		for (size_t k = i; k < end; k++)
			take_typed(a, &a->v[k], &a->arcs[k]);
		set_stages(a, one, a->arcs + i);
		set_begins(one, a->arcs + i, a->anchors);
	}
}

/* The lists can be pointed to only once they have stopped growing. */
static void
set_lists(struct match_arcs *a)
{
	a->anchor_lists = mem_zeroed(a->typed.n + 1, sizeof *a->anchor_lists);
	a->stage_lists = mem_zeroed(a->nstages + 1, sizeof *a->stage_lists);
	for (size_t i = 0; i < a->typed.n; i++)
		a->anchor_lists[i] =
		    (struct match_list){ a->meant.v + a->anchors[i].first, a->anchors[i].n };
	for (size_t i = 0; i < a->nstages; i++)
		a->stage_lists[i] =
		    (struct match_list){ a->stages.v + a->stage[i].first, a->stage[i].n };
	for (size_t m = 0; m < a->machines.n; m++) {
		a->machine[m].match.anchors = a->anchor_lists;
		a->machine[m].match.stages = a->stage_lists;
	}
}

int
match_arcs_order(struct match_arcs *a, struct err *err)
{
	char shown[ERR_SHOWN];

	if (err_is_set(err))
		return -1;
	for (size_t i = 0; i < a->clocks->n; i++) {
		struct field name = a->clocks->v[i].name;

		if (ids_find_one(&a->machines, name) == SIZE_MAX)
			return err_set(err, "--clock: no arc of this splicer: '%s'",
			    err_show(shown, name.p, name.n));
	}
	if (a->zoned && a->unzoned)
		return err_set(err, "some arcs were made at a time with a zone, others without: "
				    "they cannot be put in order");
	if (a->n > 0)
		qsort(a->v, a->n, sizeof *a->v, by_time);
	move_repeated(a);
	set_machines(a);
	set_lists(a);
	return 0;
}
