/*
 * forward: the weight of all walks that come to each place, one arc after the other.
 *
 * What a walk costs, moves added up, and which of two ways to a place is the cheaper; or what the odds
 * of a walk are, those of its moves multiplied, and what those of two ways are together: both are the
 * same pass over the arcs, and differ only in what their weights are. So this file is included once
 * for each, by match_walk.c and match_read.c, which say before
 *
 *	weight			a type of numbers
 *	NEVER			the weight of what cannot be
 *	of_cost(cost)		that of a move
 *	along(a, b)		that of one behind the other
 *	either(a, b)		that of both as one
 *	settled(a)		a, or NEVER if it is of no account beside others in its row
 *	inverse(a)		what makes of a, along it, that of a move that costs nothing
 *
 * A row holds the weights of its places (fibre/match_place.h), each along the inverse of all the row
 * before has, so that they stay within range however many arcs there are. What does not count beside
 * the rest of a row counts nowhere: from the weightiest place every other is reached by a jump, or at
 * once where only practice or work elsewhere may follow, for a few times MATCH_COST_MOST.
 *
 * Loops over joints have no branches and no order that matters, so that compilers make vectors of them.
 */

struct work {
	struct match_task task;
	size_t width;  /* of the widest row */
	size_t widest; /* of the closures, in joints */
	size_t every;  /* of so many rows one is kept */
	weight *marks; /* the rows that are kept */
	weight *rows;  /* those from one that is kept to the next */
	weight *last;  /* that behind the last arc */
	weight *all;   /* what each row has in all, but for the last */
	weight *none;  /* NEVER, for the places of the widest closure */
	weight *left;  /* a number a joint of it, with three of NEVER before them */
	weight *far;   /* a number a joint of it */
	bool *weighed; /* of each closure: its joints have the next three */
	weight *begin; /* what a jump to a joint adds */
	weight *start; /* what the move to another tray adds */
	weight *end;   /* what leaving the joint for one adds */

	/* an arc and a meaning it may not have, or the number of arcs */
	size_t barred_arc;
	uint32_t barred;

	/* struct match_costs in weights */
	weight move[MATCH_MOVES], gap[MATCH_GAPS][MATCH_MOVES], look[MATCH_LOOKS][MATCH_MOVES];
	weight after_on[MATCH_LOOKS], after_retry[MATCH_LOOKS], after_practice[MATCH_LOOKS];
	weight further, enter[MATCH_ENTRIES];
	weight unfinished_tray, unfinished_jump, unfinished_elsewhere, begun, stop;
};

/* The moves of one arc, but for what the joint they lead to adds. */
struct step {
	weight move[MATCH_MOVES];
	weight on[MODES]; /* besides, by the mode of the joint that is left: of moves but these */
	weight retry[MODES], practice[MODES], leave[MODES]; /* these whole, by the same */
	weight first[MODES]; /* practice after an attempt, by the mode it leads to */
	weight stay;         /* elsewhere, as next, retry or practice */
};

/* What an arc may be: MATCH_MAY_... */
static unsigned
may_be(const struct work *w, size_t arc)
{
	unsigned may = w->task.machine->arcs[arc].may;

	if (arc == w->barred_arc && w->barred == MATCH_PRACTICE)
		may &= ~(unsigned)MATCH_MAY_PRACTICE;
	if (arc == w->barred_arc && w->barred == MATCH_ELSEWHERE)
		may &= ~(unsigned)MATCH_MAY_ELSEWHERE;
	return may;
}

/* Makes NEVER of the moves an arc may not be. */
static void
bar_moves(struct step *s, unsigned may)
{
	for (size_t m = 0; m < MATCH_MOVES; m++) {
		bool elsewhere = m == MATCH_ELSEWHERE_MOVE;
		bool practice = m == MATCH_PRACTICE_MOVE || m == MATCH_LEAVE;
		unsigned as = elsewhere          ? MATCH_MAY_ELSEWHERE
			      : practice         ? MATCH_MAY_PRACTICE
			      : m == MATCH_RETRY ? MATCH_MAY_ATTEMPT | MATCH_MAY_RETRY
						 : MATCH_MAY_ATTEMPT;

		if (!(may & as))
			s->move[m] = NEVER;
	}
	if (!(may & MATCH_MAY_ELSEWHERE))
		s->stay = NEVER;
}

/* Each move is once along `scale`. */
static struct step
step_to(const struct work *w, size_t arc, weight scale)
{
	const struct match_arc *a = &w->task.machine->arcs[arc];
	const uint8_t before = arc > 0 ? a[-1].look : MATCH_DONE;
	const uint8_t looks[MODES] = { before, MATCH_HIGH, MATCH_DONE };
	const size_t since =
	    before == MATCH_FAILED || before == MATCH_HIGH ? SINCE_BAD : SINCE_FINE;
	struct step s;

	for (int m = 0; m < MATCH_MOVES; m++) {
		s.move[m] = along(along(w->move[m], w->look[a->look][m]), scale);
		if (arc > 0)
			s.move[m] = along(s.move[m], w->gap[a->gap][m]);
	}
	s.stay = either(either(along(s.move[MATCH_NEXT], w->after_on[before]),
			    along(s.move[MATCH_RETRY], w->after_retry[before])),
	    along(s.move[MATCH_PRACTICE_MOVE], w->after_practice[before]));
	bar_moves(&s, may_be(w, arc));
	if (a->begins) {
		s.move[MATCH_PRACTICE_MOVE] = along(s.move[MATCH_PRACTICE_MOVE], w->begun);
		s.move[MATCH_LEAVE] = along(s.move[MATCH_LEAVE], w->begun);
	}
	for (size_t mode = 0; mode < MODES; mode++) {
		weight practice = w->after_practice[looks[mode]];

		s.on[mode] = w->after_on[looks[mode]];
		s.retry[mode] = along(s.move[MATCH_RETRY], w->after_retry[looks[mode]]);
		s.practice[mode] = along(s.move[MATCH_PRACTICE_MOVE], practice);
		s.leave[mode] = along(s.move[MATCH_LEAVE], practice);
		s.first[mode] = mode == since ? s.practice[ATTEMPT] : NEVER;
	}
	return s;
}

/* eight sums at a time, and always in the same order, whatever a compiler makes of it */
#define LANES 8

static weight
any_lane(weight lane[LANES])
{
	for (size_t k = LANES / 2; k > 0; k /= 2)
		for (size_t i = 0; i < k; i++)
			lane[i] = either(lane[i], lane[i + k]);
	return lane[0];
}

/* All of n weights as one. */
static weight
any_of(const weight *v, size_t n)
{
	weight lane[LANES] = { NEVER, NEVER, NEVER, NEVER, NEVER, NEVER, NEVER, NEVER };
	size_t i = 0;

	for (; i + LANES <= n; i += LANES)
		for (size_t k = 0; k < LANES; k++)
			lane[k] = either(lane[k], v[i + k]);
	for (; i < n; i++)
		lane[0] = either(lane[0], v[i]);
	return any_lane(lane);
}

/* The same of each along another. */
static weight
any_along(const weight *a, const weight *b, size_t n)
{
	weight lane[LANES] = { NEVER, NEVER, NEVER, NEVER, NEVER, NEVER, NEVER, NEVER };
	size_t i = 0;

	for (; i + LANES <= n; i += LANES)
		for (size_t k = 0; k < LANES; k++)
			lane[k] = either(lane[k], along(a[i + k], b[i + k]));
	for (; i < n; i++)
		lane[0] = either(lane[0], along(a[i], b[i]));
	return any_lane(lane);
}

/*
 * to[j], for n joints: what from[j], from[j - 1], from[j - 2] and so on are as one, each once more
 * along `further` for each joint between. Four at a time, lest each wait for the one before it.
 */
static void
spread(const weight *from, size_t n, weight further, weight *to)
{
	const weight twice = along(further, further), thrice = along(twice, further);
	weight before = NEVER;
	size_t j = 0;

	for (; j + 4 <= n; j += 4) {
		weight a = from[j], b = either(from[j + 1], along(a, further));
		weight c = either(from[j + 2], along(b, further));
		weight d = either(from[j + 3], along(c, further));

		to[j] = either(a, along(before, further));
		to[j + 1] = either(b, along(before, twice));
		to[j + 2] = either(c, along(before, thrice));
		before = settled(either(d, along(before, along(twice, twice))));
		to[j + 3] = before;
	}
	for (; j < n; j++)
		before = to[j] = settled(either(from[j], along(before, further)));
}

/*
 * Makes NEVER of attempts, v[0] to v[n - 1] at the joints from `first`, that are no meaning of this
 * arc, and adds to the others what they cost more by what was typed.
 */
static void
keep_meant(const struct work *w, size_t arc, size_t first, size_t n, weight *v)
{
	const struct match_arc *a = &w->task.machine->arcs[arc];
	size_t at = 0;

	if (a->anchor != MATCH_NONE) {
		const struct match_list *meant = &w->task.machine->anchors[a->anchor];

		for (size_t i = lower_bound_32(meant->v, meant->n, (uint32_t)first); i < meant->n;
		     i++) {
			if (meant->v[i] - first >= n)
				break;
			while (at < meant->v[i] - first)
				v[at++] = NEVER;
			at++;
		}
		while (at < n)
			v[at++] = NEVER;
	}
	for (size_t j = 0; a->only != MATCH_NONE && j < n; j++)
		if (first + j != a->only)
			v[j] = NEVER;
	if (arc == w->barred_arc && w->barred >= first && w->barred - first < n)
		v[w->barred - first] = NEVER;
	for (size_t j = 0; a->begins && j < n; j++)
		if (w->task.plan->entry[first + j] == MATCH_MIDDLE)
			v[j] = along(v[j], w->begun);
}

/* What a row has: at joints, by their modes, those that are the last of their closures apart. */
struct sums {
	weight midst[MODES], end[MODES], all;
};

static struct sums
sum_row(const struct work *w, size_t r, const weight *row)
{
	struct sums s = { .all = either(row[NOWHERE], row[ELSEWHERE]) };
	const weight *v = row + JOINTS;

	for (size_t mode = 0; mode < MODES; mode++)
		s.midst[mode] = s.end[mode] = NEVER;
	if (r == 0)
		return s;
	for (size_t i = 0; i < match_stage(&w->task, r - 1)->n; i++) {
		size_t n = match_joints(&w->task, match_stage(&w->task, r - 1)->v[i]);

		for (size_t mode = 0; mode < MODES; mode++) {
			s.midst[mode] = either(s.midst[mode], any_of(v, n - 1));
			s.end[mode] = either(s.end[mode], v[n - 1]);
			v += n;
		}
	}
	for (size_t mode = 0; mode < MODES; mode++)
		s.all = either(s.all, either(s.midst[mode], s.end[mode]));
	return s;
}

/* the row before as it is left by moves that ask not from which joint */
struct exits {
	weight jump, elsewhere, practice;
};

static struct exits
leave_row(const struct work *w, const struct step *s, const struct sums *sums, const weight *row)
{
	struct exits x = { row[ELSEWHERE], row[NOWHERE], NEVER };

	x.practice = either(along(row[NOWHERE], s->move[MATCH_PRACTICE_MOVE]),
	    along(row[ELSEWHERE], s->move[MATCH_LEAVE]));
	for (size_t mode = 0; mode < MODES; mode++) {
		weight end = sums->end[mode], midst = sums->midst[mode];
		weight jump = either(end, along(midst, w->unfinished_jump));
		weight elsewhere = either(end, along(midst, w->unfinished_elsewhere));

		x.jump = either(x.jump, along(jump, s->on[mode]));
		x.elsewhere = either(x.elsewhere, along(elsewhere, s->on[mode]));
		x.practice = either(x.practice, along(jump, s->leave[mode]));
	}
	return x;
}

/*
 * The places at a closure's joints, n from the first: v, from those before: block. A jump comes to
 * them with the weight `enter`.
 */
static void
go_on(struct work *w, const struct step *s, size_t first, size_t n, weight enter,
    const weight *restrict block, weight *restrict v)
{
	const weight *restrict begin = w->begin + first, *restrict start = w->start + first;
	const weight *bad = block + SINCE_BAD * n, *fine = block + SINCE_FINE * n;
	weight *restrict left = w->left, *restrict far = w->far, tray;

	for (size_t j = 0; j < n; j++)
		left[j] = either(along(block[j], s->on[ATTEMPT]),
		    either(along(bad[j], s->on[SINCE_BAD]), along(fine[j], s->on[SINCE_FINE])));
	tray = along(any_along(left, w->end + first, n), s->move[MATCH_TRAY]);
	spread(left - 3, n, w->further, far);
	for (size_t j = 0; j < n; j++)
		v[j] = either(either(along(begin[j], enter), along(start[j], tray)),
		    either(either(along(left[j - 1], s->move[MATCH_NEXT]),
			       along(left[j - 2], s->move[MATCH_SKIP])),
			along(far[j], s->move[MATCH_SKIPS])));
	for (size_t j = 0; j < n; j++) {
		v[j] = settled(either(either(v[j], along(block[j], s->retry[ATTEMPT])),
		    either(
			along(bad[j], s->retry[SINCE_BAD]), along(fine[j], s->retry[SINCE_FINE]))));
		v[SINCE_BAD * n + j] = settled(either(
		    along(bad[j], s->practice[SINCE_BAD]), along(block[j], s->first[SINCE_BAD])));
		v[SINCE_FINE * n + j] = settled(either(along(fine[j], s->practice[SINCE_FINE]),
		    along(block[j], s->first[SINCE_FINE])));
	}
}

static void
fill(weight *v, size_t n, weight x)
{
	for (size_t i = 0; i < n; i++)
		v[i] = x;
}

/* The row behind this arc from the one before it. */
static void
forward(struct work *w, size_t arc, const weight *prev, weight *row)
{
	const struct match_list *to = match_stage(&w->task, arc);
	const struct sums sums = sum_row(w, arc, prev);
	const struct step s = step_to(w, arc, inverse(sums.all));
	const struct exits x = leave_row(w, &s, &sums, prev);
	const weight enter =
	    either(along(x.jump, s.move[MATCH_JUMP]), along(prev[NOWHERE], s.move[MATCH_START]));
	weight *v = row + JOINTS;

	w->all[arc] = sums.all;
	row[NOWHERE] = settled(x.practice);
	row[ELSEWHERE] = settled(either(
	    along(prev[ELSEWHERE], s.stay), along(x.elsewhere, s.move[MATCH_ELSEWHERE_MOVE])));
	for (size_t i = 0; i < to->n; i++) {
		size_t first = w->task.plan->first[to->v[i]];
		size_t n = match_joints(&w->task, to->v[i]);
		size_t was =
		    arc > 0 ? match_block(&w->task, match_stage(&w->task, arc - 1), to->v[i]) : 0;

		go_on(w, &s, first, n, enter, was != 0 ? prev + was : w->none, v);
		keep_meant(w, arc, first, n, v);
		v += MODES * n;
	}
}

/* What the end of the record costs at each place behind its last arc. */
static void
pay_end(const struct work *w, weight *row)
{
	const struct match_list *stage = match_stage(&w->task, w->task.machine->n - 1);
	weight *v = row + JOINTS;

	row[NOWHERE] = row[ELSEWHERE] = of_cost(0);
	for (size_t i = 0; i < stage->n; i++)
		for (size_t mode = 0; mode < MODES; mode++) {
			size_t n = match_joints(&w->task, stage->v[i]);

			fill(v, n - 1, w->stop);
			v[n - 1] = of_cost(0);
			v += n;
		}
}

/* --- all arcs -------------------------------------------------------------------------------- */

static void
weigh(const int32_t *costs, size_t n, weight *v)
{
	for (size_t i = 0; i < n; i++)
		v[i] = of_cost(costs[i]);
}

static void
weigh_costs(struct work *w)
{
	const struct match_costs *c = w->task.costs;

	weigh(c->move, MATCH_MOVES, w->move);
	for (size_t gap = 0; gap < MATCH_GAPS; gap++)
		weigh(c->gap[gap], MATCH_MOVES, w->gap[gap]);
	for (size_t look = 0; look < MATCH_LOOKS; look++)
		weigh(c->look[look], MATCH_MOVES, w->look[look]);
	weigh(c->after_on, MATCH_LOOKS, w->after_on);
	weigh(c->after_retry, MATCH_LOOKS, w->after_retry);
	weigh(c->after_practice, MATCH_LOOKS, w->after_practice);
	weigh(c->enter, MATCH_ENTRIES, w->enter);
	w->further = of_cost(c->further);
	w->unfinished_tray = of_cost(c->unfinished_tray);
	w->unfinished_jump = of_cost(c->unfinished_jump);
	w->unfinished_elsewhere = of_cost(c->unfinished_elsewhere);
	w->begun = of_cost(c->begun);
	w->stop = of_cost(c->stop);
}

/* Weighs the joints of a closure, if that has not been done. */
static void
weigh_joints(struct work *w, uint32_t closure)
{
	const uint8_t *entry = w->task.plan->entry;
	size_t first = w->task.plan->first[closure], end = w->task.plan->first[closure + 1];

	if (w->weighed[closure])
		return;
	w->weighed[closure] = true;
	for (size_t j = first; j < end; j++) {
		bool last = j + 1 == end || entry[j + 1] != MATCH_MIDDLE;

		w->begin[j] = w->enter[entry[j]];
		w->start[j] = entry[j] != MATCH_MIDDLE ? of_cost(0) : NEVER;
		w->end[j] = last ? of_cost(0) : w->unfinished_tray;
	}
}

/* Makes room for all rows. */
static void
open_rows(struct work *w)
{
	size_t n = w->task.machine->n;

	w->width = JOINTS;
	for (size_t arc = 0; arc < n; arc++) {
		const struct match_list *stage = match_stage(&w->task, arc);
		size_t width = match_width(&w->task, stage);

		w->width = width > w->width ? width : w->width;
		for (size_t i = 0; i < stage->n; i++) {
			size_t joints = match_joints(&w->task, stage->v[i]);

			w->widest = joints > w->widest ? joints : w->widest;
			weigh_joints(w, stage->v[i]);
		}
	}
	for (w->every = 1; w->every * w->every < n; w->every++)
		;
	w->marks = mem_zeroed((n / w->every + 1) * w->width, sizeof *w->marks);
	w->rows = mem_zeroed((w->every + 1) * w->width, sizeof *w->rows);
	w->last = mem_zeroed(w->width, sizeof *w->last);
	w->all = mem_zeroed(n + 1, sizeof *w->all);
	w->none = mem_zeroed(MODES * w->widest + 1, sizeof *w->none);
	fill(w->none, MODES * w->widest, NEVER);
	w->left = (weight *)mem_zeroed(w->widest + 3, sizeof *w->left) + 3;
	fill(w->left - 3, 3, NEVER);
	w->far = mem_zeroed(w->widest + 1, sizeof *w->far);
}

/*
 * Goes through the arcs from `from`, a row that is kept, keeps each row of w->every, and the last. Or,
 * `again` after a change behind that row and before the next, only as far as to a kept row that is as
 * it was. Returns the arc before which that stands, or the number of arcs.
 */
static size_t
keep_rows(struct work *w, size_t from, bool again)
{
	weight *prev = w->rows, *row = w->rows + w->width, *swap;

	memcpy(prev, w->marks + from / w->every * w->width, w->width * sizeof *prev);
	for (size_t arc = from; arc < w->task.machine->n; arc++) {
		weight *mark = w->marks + arc / w->every * w->width;

		if (arc % w->every == 0 && arc > from) {
			size_t width = match_width(&w->task, match_stage(&w->task, arc - 1));

			if (again && memcmp(mark, prev, width * sizeof *prev) == 0)
				return arc;
			memcpy(mark, prev, width * sizeof *prev);
		}
		forward(w, arc, prev, row);
		swap = prev;
		prev = row;
		row = swap;
	}
	memcpy(w->last, prev, w->width * sizeof *prev);
	return w->task.machine->n;
}

/* Goes through all arcs. To be closed. */
static void
open_work(struct work *w, const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine)
{
	*w = (struct work){ .task = { plan, costs, machine }, .barred_arc = machine->n };
	weigh_costs(w);
	w->weighed = mem_zeroed(plan->closures + 1, sizeof *w->weighed);
	w->begin = mem_zeroed(plan->joints + 1, sizeof *w->begin);
	w->start = mem_zeroed(plan->joints + 1, sizeof *w->start);
	w->end = mem_zeroed(plan->joints + 1, sizeof *w->end);
	open_rows(w);
	fill(w->marks, w->width, NEVER);
	w->marks[NOWHERE] = of_cost(0);
	keep_rows(w, 0, false);
}

static void
close_work(struct work *w)
{
	free(w->marks);
	free(w->rows);
	free(w->last);
	free(w->all);
	free(w->none);
	free(w->left - 3);
	free(w->far);
	free(w->weighed);
	free(w->begin);
	free(w->start);
	free(w->end);
}

/*
 * The rows around those arcs before `end`, above 0, that share a kept one: w->rows begins with that
 * before the first of them, which is returned.
 */
static size_t
rows_before(struct work *w, size_t end)
{
	size_t first = (end - 1) / w->every * w->every;

	memcpy(w->rows, w->marks + first / w->every * w->width, w->width * sizeof *w->rows);
	for (size_t arc = first; arc < end; arc++)
		forward(w, arc, w->rows + (arc - first) * w->width,
		    w->rows + (arc - first + 1) * w->width);
	return first;
}
