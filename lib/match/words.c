#include "match/words.h"

#include <inttypes.h>

struct words {
	const struct match_night *n;
	struct findings *found;
	struct bytes says, shown;
};

static const struct match_record *
record(const struct words *w, size_t i)
{
	return &w->n->arcs->v[i];
}

static struct field
joint_name(const struct words *w, uint32_t joint)
{
	return w->n->arcs->plan->v[joint].cell[PLANNED_JOINT];
}

/* Adds a finding about one arc; says is in w->says, found in w->shown. */
static void
add(struct words *w, size_t i, const char *rule, bool error, const char *wanted)
{
	const struct match_record *r = record(w, i);

	bytes_add(&w->says, "", 1);
	findings_add(w->found, &(struct finding){ .file = r->file,
				   .line = r->line,
				   .rule = rule,
				   .error = error,
				   .found = bytes_field(&w->shown),
				   .wanted = wanted,
				   .says = w->says.p });
	w->says.n = w->shown.n = 0;
}

static void
say_label(const struct words *w, uint32_t label, struct bytes *b)
{
	if (label == MATCH_PRACTICE)
		bytes_add_text(b, "practice");
	else if (label == MATCH_ELSEWHERE)
		bytes_add_text(b, "work elsewhere");
	else
		bytes_add_field(b, joint_name(w, label));
}

/* which machine's arc, or arcs */
static void
say_arcs(const struct words *w, size_t first, size_t end, struct bytes *b)
{
	const struct match_record *from = record(w, first), *to = record(w, end - 1);
	struct field name = ids_key(&w->n->arcs->machines, from->machine);

	if (from->number != INT64_MIN && to->number != INT64_MIN) {
		bytes_add_format(
		    b, end - first > 1 ? "arcs %" PRId64 : "arc %" PRId64, from->number);
		if (end - first > 1)
			bytes_add_format(b, " to %" PRId64, to->number);
		if (name.n > 0)
			bytes_add_text(b, " of ");
	} else
		bytes_add_format(b, "%zu arc%s%s", end - first, end - first > 1 ? "s" : "",
		    name.n > 0 ? " of " : "");
	bytes_add_field(b, name);
}

/* --- readings -------------------------------------------------------------------------------- */

static uint32_t
label_in(const struct words *w, size_t i, bool other)
{
	return other ? w->n->v[i].other : w->n->v[i].one;
}

/* The end of the run of labels from i on that can be said at once. */
static size_t
run_end(const struct words *w, size_t i, size_t end, bool other)
{
	uint32_t label = label_in(w, i, other);
	uint32_t step = 0;
	size_t k = i + 1;

	if (k < end && label < MATCH_ELSEWHERE)
		step = label_in(w, k, other) == label + 1;
	while (k < end && label_in(w, k, other) == label_in(w, k - 1, other) + step)
		k++;
	return k;
}

/* so many runs are said of a reading */
enum { RUNS = 8 };

/* "SKE-003 to SKE-011, SKE-011 2 times again, practice" */
static void
say_reading(struct words *w, size_t first, size_t end, bool other)
{
	int runs = 0;
	size_t next;

	for (size_t i = first; i < end; i = next) {
		uint32_t label = label_in(w, i, other), last;
		bool again = i > first && label == label_in(w, i - 1, other);

		next = run_end(w, i, end, other);
		if (++runs > RUNS) {
			bytes_add_text(&w->says, ", ...");
			return;
		}
		if (i > first)
			bytes_add_text(&w->says, ", ");
		say_label(w, label, &w->says);
		last = label_in(w, next - 1, other);
		if (last != label) {
			bytes_add_text(&w->says, " to ");
			say_label(w, last, &w->says);
		} else if (next - i > 1)
			bytes_add_format(&w->says, " %zu times", next - i);
		if (again)
			bytes_add_text(&w->says, " again");
	}
}

static bool
is_long(const struct words *w, const struct match_stretch *s, bool other)
{
	size_t runs = 0;

	for (size_t i = s->first; i < s->end && runs <= RUNS; runs++)
		i = run_end(w, i, s->end, other);
	return runs > RUNS;
}

static bool
is_alike(const struct words *w, size_t i)
{
	return label_in(w, i, false) == label_in(w, i, true);
}

/*
 * Both readings. If one is too long to be said, only where they differ, and an arc on either side if
 * there is one.
 */
static void
say_both(struct words *w, const struct match_stretch *s)
{
	size_t first = s->first, end = s->end;

	if (is_long(w, s, false) || is_long(w, s, true)) {
		while (end - first > 1 && is_alike(w, first) && is_alike(w, first + 1))
			first++;
		while (end - first > 1 && is_alike(w, end - 1) && is_alike(w, end - 2))
			end--;
		bytes_add_text(&w->says, "they differ at ");
		say_arcs(w, first, end, &w->says);
		bytes_add_text(&w->says, ": ");
	}
	bytes_add_text(&w->says, "either ");
	say_reading(w, first, end, false);
	bytes_add_text(&w->says, "; or ");
	say_reading(w, first, end, true);
}

static const char *
stretch_rule(const struct words *w, const struct match_stretch *s)
{
	size_t unfitting = 0, away = 0, n = 0;

	for (size_t i = s->first; i < s->end; i++) {
		n += w->n->v[i].fate >= MATCH_LEFT;
		unfitting += record(w, i)->trouble == MATCH_UNFITTING;
		away += w->n->v[i].fate == MATCH_AWAY;
	}
	if (unfitting == n)
		return NULL; /* each of them has a finding of its own */
	return s->two ? "ambiguous" : away == n ? "unplaced" : "doubtful";
}

static void
say_stretch(struct words *w, const struct match_stretch *s)
{
	const char *rule = stretch_rule(w, s);
	const char *wanted = "type the joint of one of these arcs, or of their neighbours";
	bool claimed = false;

	if (rule == NULL)
		return;
	say_arcs(w, s->first, s->end, &w->shown);
	if (strcmp(rule, "ambiguous") == 0)
		say_both(w, s);
	else if (strcmp(rule, "unplaced") == 0) {
		wanted = "type the closure where a visit to it begins";
		bytes_add_text(&w->says, "work in a closure nobody has named");
	} else {
		for (size_t i = s->first; i < s->end; i++)
			claimed |= w->n->v[i].claimed;
		bytes_add_text(&w->says, "perhaps ");
		say_reading(w, s->first, s->end, false);
		bytes_add_text(&w->says,
		    claimed
			? ", but other arcs come to the same joints, or their numbers run backwards"
			: ", but other arcs that are left might be attempts at these joints");
	}
	add(w, s->first, rule, true, wanted);
}

/* --- one arc --------------------------------------------------------------------------------- */

static void
say_left(struct words *w, size_t i)
{
	const struct match_settled *s = &w->n->v[i];

	say_arcs(w, i, i + 1, &w->shown);
	bytes_add_text(&w->says, "left: ");
	say_label(w, s->label, &w->says);
	if (s->second != MATCH_NONE && s->margin < w->n->threshold) {
		bytes_add_text(&w->says, " or ");
		say_label(w, s->second, &w->says);
	}
	add(w, i, "left", false, NULL);
}

static void
say_practice(struct words *w, size_t i)
{
	static const char *const looks[] = {
		[MATCH_FAILED] = "failed the tension test",
		[MATCH_HIGH] = "high estimate, not kept",
		[MATCH_OPEN] = "not kept",
		[MATCH_PLAIN] = "nothing tells whether it was kept",
		[MATCH_PASSED] = "passed the tension test",
		[MATCH_DONE] = "heated",
	};
	const struct match_settled *s = &w->n->v[i];
	const struct match_record *r = record(w, i);
	const struct match_one *one = &w->n->arcs->machine[r->machine];
	size_t k = (size_t)(r - one->records);

	say_arcs(w, i, i + 1, &w->shown);
	if (r->says_practice)
		bytes_add_text(&w->says, "practice, as was typed");
	else
		bytes_add_format(&w->says, "practice: %s", looks[one->match.arcs[k].look]);
	if (!r->says_practice && k > 0)
		bytes_add_format(&w->says, ", %" PRId64 " s after the arc before",
		    r->at.seconds - r[-1].at.seconds);
	if (!r->says_practice && s->second != MATCH_NONE) {
		bytes_add_text(&w->says, "; else most likely ");
		say_label(w, s->second, &w->says);
	}
	add(w, i, "practice", false, NULL);
}

static void
say_arc(struct words *w, size_t i)
{
	const struct match_settled *s = &w->n->v[i];
	const struct match_record *r = record(w, i);

	if (r->backward) {
		say_arcs(w, i, i + 1, &w->shown);
		bytes_add_format(
		    &w->says, "numbered below arc %" PRId64 ", which is earlier", r[-1].number);
		add(w, i, "backward", true, "numbers of arcs that rise with their times");
	}
	if (r->trouble == MATCH_UNFITTING) {
		say_arcs(w, i, i + 1, &w->shown);
		bytes_add_text(&w->says, "no joint of the plan fits all that was typed");
		add(w, i, "unfitting", true, NULL);
	}
	if (s->fate >= MATCH_LEFT)
		say_left(w, i);
	else if (s->fate == MATCH_PRACTISED)
		say_practice(w, i);
	else if (s->fate == MATCH_OUTSIDE) {
		say_arcs(w, i, i + 1, &w->shown);
		bytes_add_text(&w->says,
		    r->outside ? "the plan has not what was typed"
			       : "goes on from an arc of which the plan has not what was typed");
		add(w, i, "outside", false, NULL);
	}
}

/* --- all ------------------------------------------------------------------------------------- */

static void
say_unread(struct words *w, size_t i)
{
	bool repeated = record(w, i)->trouble == MATCH_REPEATED;

	say_arcs(w, i, i + 1, &w->shown);
	bytes_add_text(&w->says, repeated ? "the same row was there before"
					  : "no time of day, so its place is not known");
	add(w, i, repeated ? "repeated" : "no-time", !repeated, NULL);
}

static void
say_unrecorded(struct words *w)
{
	const struct planned *plan = w->n->arcs->plan;

	for (size_t j = 0; j < plan->match.joints; j++) {
		if (w->n->recorded[j])
			continue;
		findings_add(w->found,
		    &(struct finding){ .file = plan->file,
			.line = plan->v[j].line,
			.joint = plan->v[j].cell[PLANNED_JOINT],
			.rule = "unrecorded",
			.says = w->n->doubtful[j] ? "no arc is known to be this joint, but some "
						    "that are left might be"
						  : "no arc is this joint" });
	}
}

void
match_words_all(const struct match_night *n, struct findings *found)
{
	struct words w = { n, found };
	const struct match_stretch *s = n->stretch, *end = s + n->nstretches;

	for (size_t i = 0; i < n->arcs->nread; i++) {
		if (s != end && s->first == i)
			say_stretch(&w, s++);
		say_arc(&w, i);
	}
	for (size_t i = n->arcs->nread; i < n->arcs->n; i++)
		say_unread(&w, i);
	say_unrecorded(&w);
	bytes_free(&w.says);
	bytes_free(&w.shown);
}
