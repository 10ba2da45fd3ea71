#include "match/words.h"

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
	struct bytes says, name;
};

static const struct match_seen *
seen_of(const struct match_night *n, uint32_t s, size_t i)
{
	return &n->arcs->streams[s].seen[i];
}

static struct field
joint_name(const struct match_night *n, uint32_t s, uint32_t unit)
{
	const struct planned_course *c = &n->courses[n->course_of[s]];

	return n->arcs->plan->v[c->first[unit]].cell[PLANNED_JOINT];
}

static uint32_t
closure_of(const struct match_night *n, uint32_t s, uint32_t unit)
{
	const struct planned_course *c = &n->courses[n->course_of[s]];

	return n->arcs->plan->v[c->first[unit]].closure;
}

/* The number of an arc as it was written, or the time if it has none. */
static void
add_number(struct bytes *b, const struct match_record *r)
{
	if (r->number != INT64_MIN)
		bytes_add_format(b, "%" PRId64, r->number);
	else
		bytes_add_format(b, "%s:%" PRIu64, r->file, r->line);
}

static enum rule
rule_of(const struct match_night *n, uint32_t s, size_t i)
{
	const struct match_read *read = &n->read[s];
	const struct match_verdict *v = &read->v[i];
	const struct match_hint *h = &read->hints[i];
	bool outside =
	    (h->typed != MATCH_NONE && n->arcs->typed[h->typed].outside) ||
	    (h->answer != MATCH_NONE && n->stated->answers[h->answer].is == MATCH_SAID_ELSEWHERE);

	if (v->fate == MATCH_TOLD)
		return TOLD;
	if (v->fate == MATCH_PRACTISED)
		return PRACTICE;
	if (v->fate == MATCH_ELSEWHERE || (v->best == MATCH_IS_ELSEWHERE && v->odds > 0.5F))
		return outside ? ELSEWHERE : UNPLACED;
	if (v->twice)
		return TWICE;
	if (v->best < MATCH_IS_ELSEWHERE && read->unproven[closure_of(n, s, v->best)])
		return ORDER;
	return UNSURE;
}

/* --- stretches ------------------------------------------------------------------------------- */

/* arcs [first, end) of a stream that are not told, under one rule */
struct stretch {
	uint32_t stream;
	size_t first, end, arcs;
	enum rule rule;
};

/* The next stretch from arc i on; false: there is none. Missing records do not part it. */
static bool
next_stretch(const struct match_night *n, uint32_t s, size_t i, struct stretch *out)
{
	size_t arcs = n->arcs->streams[s].n;

	while (i < arcs && (seen_of(n, s, i)->rows == 0 || rule_of(n, s, i) == TOLD))
		i++;
	if (i == arcs)
		return false;
	*out = (struct stretch){ s, i, i, 0, rule_of(n, s, i) };
	for (; i < arcs; i++) {
		if (seen_of(n, s, i)->rows == 0)
			continue;
		if (rule_of(n, s, i) != out->rule)
			break;
		out->end = i + 1;
		out->arcs++;
	}
	return true;
}

/* "31 to 33, 37": the numbers of those arcs of a stretch that are of this fate, or of any. */
static size_t
add_numbers(struct words *w, const struct stretch *t, bool open)
{
	const struct match_night *n = w->night;
	const struct match_record *last = NULL;
	size_t all = 0, run = 0;

	for (size_t i = t->first; i <= t->end; i++) {
		const struct match_seen *seen = i < t->end ? seen_of(n, t->stream, i) : NULL;
		bool in = seen != NULL && seen->rows > 0 &&
			  (!open || n->read[t->stream].v[i].fate == MATCH_OPEN);

		if (seen != NULL && seen->rows == 0)
			continue;
		if (!in && run > 1) {
			bytes_add_text(&w->says, run > 2 ? " to " : ", ");
			add_number(&w->says, last);
		}
		if (!in) {
			run = 0;
			continue;
		}
		if (run++ == 0) {
			bytes_add_text(&w->says, all > 0 ? ", " : "");
			add_number(&w->says, &n->arcs->v[seen->first]);
		}
		last = &n->arcs->v[seen->first];
		all++;
	}
	return all;
}

static void
put(struct words *w, const struct match_record *r, enum rule rule, const char *says)
{
	struct finding one = { .file = r->file,
		.line = r->line,
		.rule = rules[rule].name,
		.error = rules[rule].error,
		.says = says };

	w->name.n = 0;
	bytes_add_text(&w->name, "arc ");
	add_number(&w->name, r);
	bytes_add_text(&w->name, " of ");
	bytes_add_field(&w->name,
	    ids_key(&w->night->arcs->machines, w->night->arcs->streams[r->stream].machine));
	one.found = bytes_field(&w->name);
	findings_add(w->found, &one);
}

static const char *
said(struct words *w)
{
	bytes_add(&w->says, "", 1);
	return w->says.p;
}

static void
add_meaning(const struct match_night *n, uint32_t s, uint32_t is, struct bytes *b)
{
	if (is == MATCH_IS_PRACTICE)
		bytes_add_text(b, "practice");
	else if (is == MATCH_IS_ELSEWHERE)
		bytes_add_text(b, "work that is not in the plan");
	else if (is != MATCH_NONE)
		bytes_add_field(b, joint_name(n, s, is));
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

static void
put_each(struct words *w, const struct stretch *t)
{
	for (size_t i = t->first; i < t->end; i++) {
		const struct match_seen *seen = seen_of(w->night, t->stream, i);

		if (seen->rows == 0)
			continue;
		w->says.n = 0;
		add_likely(w->night, t->stream, i, &w->says);
		put(w, &w->night->arcs->v[seen->first], t->rule, said(w));
	}
}

static void
put_stretch(struct words *w, const struct stretch *t)
{
	const struct match_arcs *arcs = w->night->arcs;

	w->says.n = 0;
	bytes_add_text(&w->says, rules[t->rule].says);
	bytes_add_text(&w->says, ": ");
	add_numbers(w, t, false);
	if (t->rule == UNSURE) {
		bytes_add_text(&w->says, "; open: ");
		if (add_numbers(w, t, true) == 0)
			bytes_add_text(&w->says, "none, but what may come later");
	}
	put(w, &arcs->v[seen_of(w->night, t->stream, t->first)->first], t->rule, said(w));
	if (w->each)
		put_each(w, t);
}

/* Practice and work elsewhere of one machine: one row for all of it. */
static void
put_all(struct words *w, uint32_t s, enum rule rule)
{
	const struct match_night *n = w->night;
	const struct match_record *first = NULL;
	struct stretch t;

	w->says.n = 0;
	bytes_add_text(&w->says, rules[rule].says);
	for (size_t i = 0; next_stretch(n, s, i, &t); i = t.end)
		if (t.rule == rule) {
			bytes_add_text(&w->says, first == NULL ? ": " : ", ");
			add_numbers(w, &t, false);
			if (first == NULL)
				first = &n->arcs->v[seen_of(n, s, t.first)->first];
		}
	if (first != NULL)
		put(w, first, rule, said(w));
	for (size_t i = 0; w->each && next_stretch(n, s, i, &t); i = t.end)
		if (t.rule == rule)
			put_each(w, &t);
}

/* --- single things --------------------------------------------------------------------------- */

/* What was typed on an arc, and which joint it is by the order of work. */
static void
put_typed(struct words *w, uint32_t s, size_t i)
{
	const struct match_night *n = w->night;
	const struct match_typed *t = &n->arcs->typed[n->read[s].hints[i].typed];
	const struct match_record *r = &n->arcs->v[seen_of(n, s, i)->first];
	struct finding one = { .file = r->file, .line = r->line, .rule = "typed", .error = true };

	w->says.n = w->name.n = 0;
	bytes_add_format(&w->says, "by the order of work arc ");
	add_number(&w->says, r);
	bytes_add_text(&w->says, " is ");
	add_meaning(n, s, n->read[s].v[i].best, &w->says);
	for (int c = 0; c < PLANNED_CELLS; c++)
		if (t->cell[c].n > 0) {
			bytes_add_text(&w->name, w->name.n > 0 ? " " : "");
			bytes_add_field(&w->name, t->cell[c]);
		}
	one.found = bytes_field(&w->name);
	one.joint = joint_name(n, s, n->read[s].v[i].best);
	one.says = said(w);
	findings_add(w->found, &one);
}

static void
put_unread(struct words *w)
{
	const struct match_arcs *arcs = w->night->arcs;

	for (size_t i = arcs->nread; i < arcs->n; i++)
		findings_add(
		    w->found, &(struct finding){ .file = arcs->v[i].file,
				  .line = arcs->v[i].line,
				  .rule = arcs->v[i].no_time ? "no-time" : "repeated",
				  .error = arcs->v[i].no_time,
				  .says = arcs->v[i].no_time ? "no time of day"
							     : "the same row was there before" });
}

/* Joints without a record, one row a closure. */
static void
put_unrecorded(struct words *w, size_t first, size_t end)
{
	const struct match_night *n = w->night;
	const struct planned *plan = n->arcs->plan;
	struct finding one = { .file = plan->file, .rule = "unrecorded" };
	size_t all = 0, run = 0;

	w->says.n = 0;
	for (size_t j = first; j <= end; j++) {
		bool in = j < end && !n->recorded[j];

		if (!in && run > 1) {
			bytes_add_text(&w->says, run > 2 ? " to " : ", ");
			bytes_add_field(&w->says, plan->v[j - 1].cell[PLANNED_JOINT]);
		}
		if (in && run == 0) {
			bytes_add_text(&w->says, all > 0 ? ", " : "no arc is known to be: ");
			bytes_add_field(&w->says, plan->v[j].cell[PLANNED_JOINT]);
		}
		if (in && all == 0)
			one.line = plan->v[j].line;
		run = in ? run + 1 : 0;
		all += in;
	}
	if (all == 0)
		return;
	one.found = plan->v[first].cell[PLANNED_CLOSURE];
	one.says = said(w);
	findings_add(w->found, &one);
	for (size_t j = first; j < end && w->each; j++)
		if (!n->recorded[j])
			findings_add(w->found, &(struct finding){ .file = plan->file,
						   .line = plan->v[j].line,
						   .joint = plan->v[j].cell[PLANNED_JOINT],
						   .rule = "unrecorded",
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
	struct words w = { night, found, each };
	const struct planned *plan = night->arcs->plan;
	struct stretch t;
	size_t end;

	for (uint32_t s = 0; s < night->arcs->nstreams; s++) {
		for (size_t i = 0; next_stretch(night, s, i, &t); i = t.end)
			if (t.rule < PRACTICE)
				put_stretch(&w, &t);
		put_all(&w, s, PRACTICE);
		put_all(&w, s, ELSEWHERE);
		for (size_t i = 0; i < night->arcs->streams[s].n; i++)
			if (night->read[s].v[i].mistyped)
				put_typed(&w, s, i);
	}
	put_unread(&w);
	put_unanswered(&w);
	for (size_t j = 0; j < plan->n; j = end) {
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

/* The least sure arc near the middle of a stretch. */
static size_t
middle_of(const struct match_night *n, const struct stretch *t)
{
	size_t middle = (t->first + t->end) / 2, best = t->first, least = SIZE_MAX;

	/* in the very middle of a tray all slot orders agree */
	if (t->rule == ORDER)
		middle = t->first + (t->end - t->first) / 8;
	for (size_t i = t->first; i < t->end; i++) {
		size_t far = i > middle ? i - middle : middle - i;

		if (seen_of(n, t->stream, i)->rows == 0)
			continue;
		if (n->read[t->stream].v[i].fate != MATCH_OPEN)
			far += t->end - t->first;
		if (far < least) {
			least = far;
			best = i;
		}
	}
	return best;
}

/* What has no number cannot be answered. */
static bool
has_numbers(const struct match_night *n, const struct stretch *t)
{
	return n->arcs->v[seen_of(n, t->stream, t->first)->first].number != INT64_MIN;
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
			if (t.rule >= PRACTICE || !has_numbers(night, &t))
				continue;
			v = mem_grow(v, &cap, *n + 1, sizeof *v);
			v[(*n)++] = (struct match_question){ s, (uint32_t)middle_of(night, &t),
				(uint32_t)t.arcs };
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
	else if (closure_of(n, q->stream, is) != closure_of(n, q->stream, before))
		bytes_add_text(b, ", in another closure");
	else if (is == before + 1 || is + 1 == before)
		bytes_add_text(b, ", the next one");
	else if (is == before + 2) {
		bytes_add_text(b, ", with ");
		bytes_add_field(b, joint_name(n, q->stream, before + 1));
		bytes_add_text(b, " left out");
	} else if (is < before)
		bytes_add_text(b, ", made later");
}

static void
add_question(const struct match_night *night, const struct match_question *q, struct bytes *b)
{
	const struct match_verdict *v = &night->read[q->stream].v[q->seen];

	bytes_add_text(b, "was this ");
	add_event(night, q, v->best, b);
	if (v->second != MATCH_NONE) {
		bytes_add_text(b, ", or ");
		add_event(night, q, v->second, b);
	}
	bytes_add_text(b, "?");
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
	struct bytes b = { NULL, 0, 0 };
	size_t n;
	struct match_question *v = match_questions(night, &n);

	for (size_t i = 0; i < n; i++) {
		const struct match_stream *stream = &night->arcs->streams[v[i].stream];
		const struct match_record *r = &night->arcs->v[stream->seen[v[i].seen].first];

		put_text(out, SPLICER, ids_key(&night->arcs->machines, stream->machine));
		put_whole(out, ARC, r->number);
		put_whole(out, SETTLES, v[i].settles);
		put_text(out, MADE_AT, r->made_at);
		b.n = 0;
		add_question(night, &v[i], &b);
		put_text(out, SAYS, bytes_field(&b));
		b.n = 0;
		add_likely(night, v[i].stream, v[i].seen, &b);
		put_text(out, LIKELY, bytes_field(&b));
		sheet_row(out);
	}
	free(v);
	bytes_free(&b);
}
