#include "match/findings.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/mem.h"

/* what an arc that is not told is counted under; the rules of findings, in their order */
enum rule { UNSURE, ORDER, TWICE, UNPLACED, PRACTICE, ELSEWHERE, RULES, TOLD };

static const struct {
	const char *name;
	bool error;
	const char *says;
} rules[RULES] = {
	[UNSURE] = { "unsure", true, "which joints these are is not sure" },
	[ORDER] = { "slot-order", true,
	    "the order of slots is not known: state it by --order or --visits, or type one fibre" },
	[TWICE] = { "twice", true, "two machines come to the same joints: type one at each" },
	[UNPLACED] = { "unplaced", true, "work in a closure nobody has named" },
	[PRACTICE] = { "practice", false, "practice" },
	[ELSEWHERE] = { "elsewhere", false, "work on what the plan does not have" },
};

struct words {
	const struct match_night *night;
	struct findings *found;
	bool each;
	struct table arcs; /* a place of its own in them */
	struct bytes says, name;
};

/* --- words ----------------------------------------------------------------------------------- */

/* The record of an arc seen; NULL if it is missing. */
static const struct match_record *
record_of(const struct match_night *n, uint32_t s, size_t i)
{
	const struct match_seen *seen = &n->arcs->streams[s].seen[i];

	return seen->rows > 0 ? &n->arcs->v[seen->first] : NULL;
}

static const struct planned_joint *
joint_of(const struct match_night *n, uint32_t s, uint32_t unit)
{
	return &n->arcs->plan->v[n->read[s].course->first[unit]];
}

/* The number of an arc, or its time if it has none. */
static struct field
name_of(struct words *w, const struct match_record *r)
{
	table_at(&w->arcs, r->row);
	return table_field(&w->arcs, r->number != MATCH_NO_NUMBER ? MATCH_ARC : MATCH_MADE_AT);
}

/* names being listed, as "31 to 33, 37" */
struct runs {
	struct bytes *to;
	struct field last;
	size_t run, all;
};

/* The next of all names: whether it is in the list. The end is one that is not. */
static void
runs_next(struct runs *r, bool in, struct field name)
{
	if (!in && r->run > 1) {
		bytes_add_text(r->to, r->run > 2 ? " to " : ", ");
		bytes_add_field(r->to, r->last);
	} else if (in && r->run == 0) {
		bytes_add_text(r->to, r->all > 0 ? ", " : "");
		bytes_add_field(r->to, name);
	}
	r->run = in ? r->run + 1 : 0;
	r->all += in;
	r->last = name;
}

static void
add_meaning(const struct match_night *n, uint32_t s, uint32_t is, struct bytes *b)
{
	if (is == MATCH_IS_PRACTICE)
		bytes_add_text(b, "practice");
	else if (is == MATCH_IS_ELSEWHERE)
		bytes_add_text(b, "work that is not in the plan");
	else if (is != MATCH_NONE)
		bytes_add_field(b, joint_of(n, s, is)->cell[PLANNED_JOINT]);
}

/* What an arc most likely is, and next. */
static void
add_likely(const struct match_night *night, uint32_t s, size_t i, struct bytes *b)
{
	const struct match_verdict *v = &night->read[s].v[i];

	add_meaning(night, s, v->best, b);
	if (v->second != MATCH_NONE) {
		bytes_add_text(b, ", else ");
		add_meaning(night, s, v->second, b);
	}
}

/* Adds a finding at an arc, which says what is in w->says. */
static void
put(struct words *w, const struct match_record *r, struct finding one)
{
	table_at(&w->arcs, r->row);
	one.file = w->arcs.row.file;
	one.line = w->arcs.row.line;
	bytes_add(&w->says, "", 1);
	one.says = w->says.p;
	findings_add(w->found, &one);
	w->says.n = 0;
}

/* The same under a rule of arcs that are not told. */
static void
put_arc(struct words *w, const struct match_record *r, enum rule rule)
{
	const struct match_arcs *arcs = w->night->arcs;

	w->name.n = 0;
	bytes_add_text(&w->name, "arc ");
	bytes_add_field(&w->name, name_of(w, r));
	bytes_add_text(&w->name, " of ");
	bytes_add_field(&w->name, ids_key(&arcs->machines, arcs->streams[r->stream].machine));
	put(w, r,
	    (struct finding){ .rule = rules[rule].name,
		.error = rules[rule].error,
		.found = bytes_field(&w->name) });
}

/* --- stretches ------------------------------------------------------------------------------- */

/* arcs of a stream that are not told: those of [first, end) that are under one rule; so many */
struct stretch {
	uint32_t stream;
	size_t first, end, arcs;
	enum rule rule;
};

static enum rule
rule_of(const struct match_night *n, uint32_t s, size_t i)
{
	const struct match_read *read = &n->read[s];
	const struct match_verdict *v = &read->v[i];
	static const enum rule elsewhere[] = {
		[MATCH_UNNAMED] = UNPLACED, [MATCH_IN_PLAN] = UNSURE, [MATCH_OUTSIDE] = ELSEWHERE
	};

	if (v->fate == MATCH_TOLD)
		return TOLD;
	if (v->fate == MATCH_PRACTISED)
		return PRACTICE;
	if (v->fate == MATCH_ELSEWHERE || (v->best == MATCH_IS_ELSEWHERE && v->odds > 0.5F))
		return elsewhere[v->place];
	if (v->twice)
		return TWICE;
	if (v->best < MATCH_IS_ELSEWHERE && read->unproven[joint_of(n, s, v->best)->closure])
		return ORDER;
	return UNSURE;
}

/* The next stretch from arc i on; false: there is none. Missing records do not part it. */
static bool
next_stretch(const struct match_night *n, uint32_t s, size_t i, struct stretch *out)
{
	*out = (struct stretch){ .stream = s };
	for (; i < n->arcs->streams[s].n; i++) {
		enum rule rule;

		if (record_of(n, s, i) == NULL)
			continue;
		rule = rule_of(n, s, i);
		if (out->arcs > 0 && rule != out->rule)
			break;
		if (rule == TOLD)
			continue;
		if (out->arcs++ == 0) {
			out->first = i;
			out->rule = rule;
		}
		out->end = i + 1;
	}
	return out->arcs > 0;
}

/* The names of a stretch's arcs, or of those that are open. Returns how many. */
static size_t
add_names(struct words *w, const struct stretch *t, bool open)
{
	const struct match_verdict *v = w->night->read[t->stream].v;
	struct runs runs = { .to = &w->says };

	for (size_t i = t->first; i < t->end; i++) {
		const struct match_record *r = record_of(w->night, t->stream, i);

		if (r != NULL)
			runs_next(&runs,
			    rule_of(w->night, t->stream, i) == t->rule &&
				(!open || v[i].fate == MATCH_OPEN),
			    name_of(w, r));
	}
	runs_next(&runs, false, runs.last);
	return runs.all;
}

/* One row for the arcs of this rule, and one for each of them if that is asked for. */
static void
put_stretch(struct words *w, const struct stretch *t)
{
	bytes_add_format(&w->says, "%s: ", rules[t->rule].says);
	add_names(w, t, false);
	if (t->rule == UNSURE) {
		bytes_add_text(&w->says, "; open: ");
		if (add_names(w, t, true) == 0)
			bytes_add_text(&w->says, "none, but what may come later");
	}
	put_arc(w, record_of(w->night, t->stream, t->first), t->rule);
	for (size_t i = t->first; i < t->end && w->each; i++) {
		const struct match_record *r = record_of(w->night, t->stream, i);

		if (r == NULL || rule_of(w->night, t->stream, i) != t->rule)
			continue;
		add_likely(w->night, t->stream, i, &w->says);
		put_arc(w, r, t->rule);
	}
}

/* The stretches of one machine; its practice is one row, and so is its work elsewhere. */
static void
put_stretches(struct words *w, uint32_t s)
{
	const struct match_night *n = w->night;
	struct stretch t, all[RULES] = { { 0 } };

	for (size_t i = 0; next_stretch(n, s, i, &t); i = t.end) {
		if (t.rule < PRACTICE)
			put_stretch(w, &t);
		else if (all[t.rule].arcs == 0)
			all[t.rule] = t;
		else
			all[t.rule].end = t.end;
	}
	for (enum rule rule = PRACTICE; rule < RULES; rule++)
		if (all[rule].arcs > 0)
			put_stretch(w, &all[rule]);
}

/* --- single things --------------------------------------------------------------------------- */

/* What was typed on an arc, and which joint it is by the order of work. */
static void
put_typed(struct words *w, uint32_t s, size_t i)
{
	const struct match_night *n = w->night;
	const struct match_typed *t = &n->arcs->typed[n->read[s].hints[i].typed];
	const struct match_record *r = record_of(n, s, i);

	w->name.n = 0;
	bytes_add_text(&w->says, "by the order of work arc ");
	bytes_add_field(&w->says, name_of(w, r));
	bytes_add_text(&w->says, " is ");
	add_meaning(n, s, n->read[s].v[i].best, &w->says);
	for (int c = 0; c < PLANNED_CELLS; c++)
		if (t->cell[c].n > 0) {
			bytes_add_text(&w->name, w->name.n > 0 ? " " : "");
			bytes_add_field(&w->name, t->cell[c]);
		}
	put(w, r,
	    (struct finding){ .rule = "typed",
		.error = true,
		.found = bytes_field(&w->name),
		.joint = joint_of(n, s, n->read[s].v[i].best)->cell[PLANNED_JOINT] });
}

/* Arcs of one machine, from this one on, that are joints of earlier nights; the first behind them. */
static size_t
put_known(struct words *w, size_t i)
{
	const struct match_arcs *arcs = w->night->arcs;
	const struct match_record *first = &arcs->v[i];
	struct runs runs = { .to = &w->says };

	bytes_add_text(&w->says, "joints of an earlier night: ");
	for (; i < arcs->n && arcs->v[i].known && arcs->v[i].stream == first->stream; i++)
		if (runs.all == 0 || arcs->v[i].number != arcs->v[i - 1].number)
			runs_next(&runs, true, name_of(w, &arcs->v[i]));
	runs_next(&runs, false, runs.last);
	put(w, first, (struct finding){ .rule = "repeated" });
	return i;
}

static void
put_unread(struct words *w)
{
	const struct match_arcs *arcs = w->night->arcs;
	bool no_time;

	for (size_t i = arcs->nread; i < arcs->n;) {
		no_time = arcs->v[i].no_time;
		if (arcs->v[i].known && !w->each) {
			i = put_known(w, i);
			continue;
		}
		bytes_add_text(&w->says, no_time            ? "no time of day"
					 : arcs->v[i].known ? "a joint of an earlier night"
							    : "the same row was there before");
		put(w, &arcs->v[i++],
		    (struct finding){ .rule = no_time ? "no-time" : "repeated", .error = no_time });
	}
}

/* A finding about joints without a record, at the first of them. */
static void
put_joint(struct words *w, uint32_t joint, struct finding one)
{
	struct table plan = *w->night->arcs->plan->table;

	table_at(&plan, w->night->arcs->plan->v[joint].row);
	one.file = plan.row.file;
	one.line = plan.row.line;
	one.rule = "unrecorded";
	findings_add(w->found, &one);
}

/* Joints [first, end) of one closure that have no record. */
static void
put_unrecorded(struct words *w, uint32_t first, uint32_t end)
{
	const struct planned_joint *v = w->night->arcs->plan->v;
	const bool *recorded = w->night->recorded;
	struct runs runs = { .to = &w->says };

	while (first < end && recorded[first])
		first++;
	if (first == end)
		return;
	bytes_add_text(&w->says, "no arc is known to be: ");
	for (uint32_t j = first; j < end; j++)
		runs_next(&runs, !recorded[j], v[j].cell[PLANNED_JOINT]);
	runs_next(&runs, false, runs.last);
	bytes_add(&w->says, "", 1);
	put_joint(w, first,
	    (struct finding){ .found = v[first].cell[PLANNED_CLOSURE], .says = w->says.p });
	w->says.n = 0;
	for (uint32_t j = first; j < end && w->each; j++)
		if (!recorded[j])
			put_joint(w, j,
			    (struct finding){ .joint = v[j].cell[PLANNED_JOINT],
				.says = "no arc is known to be this joint" });
}

/* Answers about arcs that are not in any record. */
static void
put_unanswered(struct words *w)
{
	const struct match_night *n = w->night;
	bool *used = mem_zeroed(n->stated->nanswers + 1, sizeof *used);

	for (uint32_t s = 0; s < n->arcs->nstreams; s++)
		for (size_t i = 0; i < n->arcs->streams[s].n; i++)
			if (n->read[s].hints[i].answer != MATCH_NONE)
				used[n->read[s].hints[i].answer] = true;
	for (size_t i = 0; i < n->stated->nanswers; i++) {
		const struct match_answer *a = &n->stated->answers[i];

		if (used[i])
			continue;
		w->name.n = 0;
		bytes_add_format(&w->name, "arc %" PRId64 " of ", a->number);
		bytes_add_field(&w->name, ids_key(&n->arcs->machines, a->machine));
		findings_add(w->found, &(struct finding){ .rule = "no-arc",
					   .found = bytes_field(&w->name),
					   .says = "an answer, but no such arc, or a second one" });
	}
	free(used);
}

void
match_findings(const struct match_night *night, bool each, struct findings *found)
{
	struct words w = { night, found, each, *night->arcs->table, .says = { NULL, 0, 0 } };
	const struct planned *plan = night->arcs->plan;
	uint32_t end;

	for (uint32_t s = 0; s < night->arcs->nstreams; s++) {
		put_stretches(&w, s);
		for (size_t i = 0; i < night->arcs->streams[s].n; i++)
			if (night->read[s].v[i].mistyped)
				put_typed(&w, s, i);
	}
	put_unread(&w);
	put_unanswered(&w);
	for (uint32_t j = 0; j < plan->n; j = end) {
		for (end = j; end < plan->n && plan->v[end].closure == plan->v[j].closure;)
			end++;
		put_unrecorded(&w, j, end);
	}
	bytes_free(&w.says);
	bytes_free(&w.name);
}

/* --- questions ------------------------------------------------------------------------------- */

static int
by_settles(const void *pa, const void *pb)
{
	const struct match_question *a = pa, *b = pb;

	if (a->settles != b->settles)
		return a->settles > b->settles ? -1 : 1;
	if (a->stream != b->stream)
		return a->stream < b->stream ? -1 : 1;
	return a->seen < b->seen ? -1 : a->seen > b->seen;
}

/* The open arc nearest to the middle of a stretch, or the nearest of any fate. */
static size_t
middle_of(const struct match_night *n, const struct stretch *t)
{
	size_t length = t->end - t->first, best = t->first, least = SIZE_MAX;
	/* in the very middle of a tray all slot orders agree */
	size_t middle = t->first + (t->rule == ORDER ? length / 8 : length / 2);

	for (size_t i = t->first; i < t->end; i++) {
		size_t far = i > middle ? i - middle : middle - i;

		if (record_of(n, t->stream, i) == NULL)
			continue;
		if (n->read[t->stream].v[i].fate != MATCH_OPEN)
			far += length;
		if (far < least) {
			least = far;
			best = i;
		}
	}
	return best;
}

struct match_question *
match_questions(const struct match_night *night, size_t *n)
{
	struct match_question *v = NULL;
	size_t cap = 0;
	struct stretch t;

	*n = 0;
	for (uint32_t s = 0; s < night->arcs->nstreams; s++)
		for (size_t i = 0; next_stretch(night, s, i, &t); i = t.end) {
			size_t middle = middle_of(night, &t);

			/* what has no number cannot be answered */
			if (t.rule >= PRACTICE ||
			    record_of(night, s, middle)->number == MATCH_NO_NUMBER)
				continue;
			v = mem_grow(v, &cap, *n + 1, sizeof *v);
			v[(*n)++] =
			    (struct match_question){ s, (uint32_t)middle, (uint32_t)t.arcs };
		}
	if (*n > 0)
		qsort(v, *n, sizeof *v, by_settles);
	return v;
}

/* What would have happened if the arc is this, seen from the one before. */
static void
add_event(const struct match_night *n, const struct match_question *q, uint32_t is, struct bytes *b)
{
	uint32_t before = MATCH_NONE;

	for (uint32_t i = q->seen; i-- > 0 && before == MATCH_NONE;)
		if (n->read[q->stream].v[i].best < MATCH_IS_ELSEWHERE)
			before = n->read[q->stream].v[i].best;
	add_meaning(n, q->stream, is, b);
	if (is >= MATCH_IS_ELSEWHERE || before == MATCH_NONE)
		return;
	if (is == before)
		bytes_add_text(b, " made again");
	else if (joint_of(n, q->stream, is)->closure != joint_of(n, q->stream, before)->closure)
		bytes_add_text(b, ", in another closure");
	else if (is == before + 1 || is + 1 == before)
		bytes_add_text(b, ", the next one");
	else if (is == before + 2) {
		bytes_add_text(b, ", with ");
		add_meaning(n, q->stream, before + 1, b);
		bytes_add_text(b, " left out");
	} else if (is < before)
		bytes_add_text(b, ", made later");
}

enum { SPLICER, ARC, IS, JOINT, SETTLES, MADE_AT, SAYS, LIKELY };

const struct col match_question_cols[] = {
	[SPLICER] = { "splicer", COL_OUT },
	[ARC] = { "arc", COL_OUT, COL_WHOLE },
	[IS] = { "is", COL_OUT },
	[JOINT] = { "joint", COL_OUT },
	[SETTLES] = { "settles", COL_OUT, COL_WHOLE },
	[MADE_AT] = { "made_at", COL_OUT },
	[SAYS] = { "says", COL_OUT },
	[LIKELY] = { "likely", COL_OUT },
	{ NULL },
};

void
match_questions_write(const struct match_night *night, struct sheet *out)
{
	struct table arcs = *night->arcs->table;
	struct bytes b = { NULL, 0, 0 };
	size_t n;
	struct match_question *v = match_questions(night, &n);

	for (size_t i = 0; i < n; i++) {
		const struct match_record *r = record_of(night, v[i].stream, v[i].seen);
		const struct match_verdict *is = &night->read[v[i].stream].v[v[i].seen];

		table_at(&arcs, r->row);
		put_text(out, SPLICER, table_field(&arcs, MATCH_SPLICER));
		put_whole(out, ARC, r->number);
		put_whole(out, SETTLES, v[i].settles);
		put_text(out, MADE_AT, table_field(&arcs, MATCH_MADE_AT));
		b.n = 0;
		bytes_add_text(&b, "was this ");
		add_event(night, &v[i], is->best, &b);
		if (is->second != MATCH_NONE) {
			bytes_add_text(&b, ", or ");
			add_event(night, &v[i], is->second, &b);
		}
		bytes_add_text(&b, "?");
		put_text(out, SAYS, bytes_field(&b));
		b.n = 0;
		add_likely(night, v[i].stream, v[i].seen, &b);
		put_text(out, LIKELY, bytes_field(&b));
		sheet_row(out);
	}
	free(v);
	bytes_free(&b);
}
