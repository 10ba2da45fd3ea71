#include "table/pattern.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

enum { NOT_UTF8 = 0x110000, LAST_LETTER = NOT_UTF8 + 0xff, MANY = -1 };

size_t
pattern_letter(struct field f, uint32_t *letter)
{
	static const unsigned char mask[] = { 0, 0x7f, 0x1f, 0x0f, 0x07 };
	unsigned char c = (unsigned char)*f.p;
	size_t n = c < 0x80 ? 1 : c < 0xc2 ? 0 : c < 0xe0 ? 2 : c < 0xf0 ? 3 : c < 0xf5 ? 4 : 0;

	if (n > 1 && (n > f.n || utf8_fault((struct field){ f.p, n }) < n))
		n = 0;
	*letter = n == 0 ? NOT_UTF8 + c : c & mask[n];
	for (size_t i = 1; i < n; i++)
		*letter = *letter << 6 | ((unsigned char)f.p[i] & 0x3f);
	return n > 0 ? n : 1;
}

/* --- the expression as a tree ---------------------------------------------------------------- */

struct range {
	uint32_t from, to;
};

struct set {
	bool negated;
	size_t at, n; /* its ranges */
};

/* what one step of the program does, and what a leaf of the tree says */
enum op { LETTER, ANY, SET, START, END, FORK, JUMP, SAVE, MATCH };

struct node {
	enum { EMPTY, LEAF, CHAIN, EITHER, REPEAT, GROUP } kind;
	enum op op;    /* of a leaf */
	uint32_t x;    /* of a leaf: the letter or the set; of a group its number */
	int a, b;      /* the nodes it is made of */
	int low, high; /* of a repeat; high MANY: no end */
};

struct step {
	enum op op;
	uint32_t x, y; /* FORK: x before y */
};

/* the threads that are alive between two letters, the preferred ones first */
struct list {
	uint32_t *v; /* the step each stands at */
	size_t n;
	size_t *saves;  /* for each where its groups begin and end, as far as known */
	uint32_t *mark; /* for each step the round in which it was added */
};

struct pattern {
	struct node *nodes;
	struct set *sets;
	struct range *ranges;
	struct step *steps;
	size_t nnodes, cap_nodes, nsets, cap_sets, nranges, cap_ranges, nsteps, cap_steps;
	size_t groups;

	/* for parsing */
	struct field rest;
	const char *why;

	/* for matching */
	struct list now, next;
	size_t present[2 * PATTERN_GROUPS]; /* the offsets of the thread being added */
	uint32_t round;
	size_t
	    nsaves; /* offsets kept for a thread: 2 for each group, or 0 if they are not wanted */
};

static int
add_node(struct pattern *p, struct node node)
{
	p->nodes = mem_grow(p->nodes, &p->cap_nodes, p->nnodes + 1, sizeof *p->nodes);
	p->nodes[p->nnodes] = node;
	return (int)p->nnodes++;
}

static int
fail(struct pattern *p, const char *why)
{
	if (p->why == NULL)
		p->why = why;
	p->rest = (struct field){ "", 0 };
	return add_node(p, (struct node){ .kind = EMPTY });
}

static bool
next_is(const struct pattern *p, char c)
{
	return p->rest.n > 0 && *p->rest.p == c;
}

static void
pass(struct pattern *p, size_t n)
{
	p->rest.p += n;
	p->rest.n -= n;
}

static uint32_t
take_letter(struct pattern *p)
{
	uint32_t letter;

	pass(p, pattern_letter(p->rest, &letter));
	return letter;
}

static void
add_range(struct pattern *p, uint32_t from, uint32_t to)
{
	p->ranges = mem_grow(p->ranges, &p->cap_ranges, p->nranges + 1, sizeof *p->ranges);
	p->ranges[p->nranges++] = (struct range){ from, to };
	p->sets[p->nsets - 1].n++;
}

/* "[:alpha:]" at the start of the rest; only ASCII, as in the C locale */
static bool
take_class(struct pattern *p)
{
	static const struct {
		const char *name, *ranges; /* pairs: from and to */
	} classes[] = { { "[:alpha:]", "azAZ" }, { "[:digit:]", "09" }, { "[:alnum:]", "azAZ09" },
		{ "[:upper:]", "AZ" }, { "[:lower:]", "az" }, { "[:space:]", "  \t\r" },
		{ "[:blank:]", "  \t\t" }, { "[:xdigit:]", "09afAF" }, { "[:punct:]", "!/:@[`{~" },
		{ "[:print:]", " ~" }, { "[:graph:]", "!~" }, { "[:cntrl:]", "\1\x1f\x7f\x7f" } };

	for (size_t i = 0; i < sizeof classes / sizeof classes[0]; i++)
		if (field_starts(p->rest, classes[i].name)) {
			for (const char *r = classes[i].ranges; *r != '\0'; r += 2)
				add_range(p, (unsigned char)r[0], (unsigned char)r[1]);
			pass(p, strlen(classes[i].name));
			return true;
		}
	return false;
}

static int
parse_set(struct pattern *p)
{
	bool first = true;
	struct set *set;

	p->sets = mem_grow(p->sets, &p->cap_sets, p->nsets + 1, sizeof *p->sets);
	set = &p->sets[p->nsets++];
	*set = (struct set){ next_is(p, '^'), p->nranges, 0 };
	if (set->negated)
		pass(p, 1);
	for (; p->rest.n > 0 && (first || !next_is(p, ']')); first = false) {
		uint32_t from, to;

		if (take_class(p))
			continue;
		if (p->rest.n > 1 && *p->rest.p == '[' && strchr(":.=", p->rest.p[1]) != NULL)
			return fail(p, "a class of letters that is not known");
		from = to = take_letter(p);
		if (p->rest.n > 1 && *p->rest.p == '-' && p->rest.p[1] != ']') {
			pass(p, 1);
			to = take_letter(p);
		}
		if (from > to)
			return fail(p, "a range that ends before it begins");
		add_range(p, from, to);
	}
	if (p->rest.n == 0)
		return fail(p, "a [ without its ]");
	pass(p, 1);
	return add_node(p, (struct node){ .kind = LEAF, .op = SET, .x = (uint32_t)p->nsets - 1 });
}

static int parse_either(struct pattern *p);

static int
parse_group(struct pattern *p)
{
	uint32_t number = (uint32_t)p->groups++;
	int inner = parse_either(p);

	if (!next_is(p, ')'))
		return fail(p, "a ( without its )");
	pass(p, 1);
	return add_node(p, (struct node){ .kind = GROUP, .x = number, .a = inner });
}

static int
parse_leaf(struct pattern *p)
{
	struct node leaf = { .kind = LEAF, .op = LETTER };
	char c = *p->rest.p;

	if (strchr("*+?{", c) != NULL)
		return fail(p, "nothing before the repeat");
	if (c == '(' || c == '[') {
		pass(p, 1);
		return c == '(' ? parse_group(p) : parse_set(p);
	}
	if (c == '\\') {
		pass(p, 1);
		c = p->rest.n > 0 ? *p->rest.p : '\0';
		if (p->rest.n == 0 || num_is_digit(c) || (unsigned)((c | 0x20) - 'a') < 26)
			return fail(p, "a backslash before what needs none");
	} else if (c == '.' || c == '^' || c == '$') {
		leaf.op = c == '.' ? ANY : c == '^' ? START : END;
	}
	leaf.x = take_letter(p);
	return add_node(p, leaf);
}

/* The bounds of "{2,5}", behind the brace. */
static bool
take_bounds(struct pattern *p, int *low, int *high)
{
	int *bound = low;
	bool any = false;

	*low = 0;
	for (; p->rest.n > 0 && !next_is(p, '}'); pass(p, 1)) {
		if (next_is(p, ',') && bound == low) {
			bound = high;
			*high = MANY;
		} else if (num_is_digit(*p->rest.p)) {
			*bound = (*bound == MANY ? 0 : *bound) * 10 + (*p->rest.p - '0');
			if (*bound > PATTERN_LARGEST)
				*bound = PATTERN_LARGEST + 1;
			any = true;
		} else {
			return false;
		}
	}
	if (bound == low)
		*high = *low;
	if (p->rest.n == 0 || !any || (*high != MANY && *high < *low))
		return false;
	pass(p, 1);
	return true;
}

static int
parse_repeats(struct pattern *p)
{
	int node = parse_leaf(p);

	while (p->rest.n > 0 && strchr("*+?{", *p->rest.p) != NULL) {
		char c = *p->rest.p;
		int low = c == '+', high = c == '?' ? 1 : MANY;

		pass(p, 1);
		if (p->nodes[node].kind == LEAF && p->nodes[node].op >= START)
			return fail(p, "nothing before the repeat");
		if (c == '{' && !take_bounds(p, &low, &high))
			return fail(p, "no such repeat: {2}, {2,} or {2,5}");
		node = add_node(
		    p, (struct node){ .kind = REPEAT, .a = node, .low = low, .high = high });
	}
	return node;
}

static int
parse_either(struct pattern *p)
{
	int node = add_node(p, (struct node){ .kind = EMPTY });

	while (p->rest.n > 0 && *p->rest.p != '|' && *p->rest.p != ')') {
		int next = parse_repeats(p);

		node = add_node(p, (struct node){ .kind = CHAIN, .a = node, .b = next });
	}
	if (next_is(p, '|')) {
		int other;

		pass(p, 1);
		other = parse_either(p);
		node = add_node(p, (struct node){ .kind = EITHER, .a = node, .b = other });
	}
	return node;
}

/* --- the tree as a program ------------------------------------------------------------------- */

static size_t
add_step(struct pattern *p, enum op op, size_t x, size_t y)
{
	p->steps = mem_grow(p->steps, &p->cap_steps, p->nsteps + 1, sizeof *p->steps);
	p->steps[p->nsteps] = (struct step){ op, (uint32_t)x, (uint32_t)y };
	return p->nsteps++;
}

static void write_node(struct pattern *p, int at);

/* x{2,4} is x x (x (x)?)?, x{2,} is x x x*: forks past the end are filled in when it is known. */
static void
write_repeat(struct pattern *p, const struct node *node)
{
	size_t first = p->nsteps;

	for (int i = 0; i < node->low && p->why == NULL; i++) {
		first = p->nsteps;
		write_node(p, node->a);
	}
	if (node->high == MANY && node->low > 0) {
		add_step(p, FORK, first, p->nsteps + 1);
	} else if (node->high == MANY) {
		size_t fork = add_step(p, FORK, p->nsteps + 1, 0);

		write_node(p, node->a);
		add_step(p, JUMP, fork, 0);
		p->steps[fork].y = (uint32_t)p->nsteps;
	} else {
		size_t chain = SIZE_MAX;

		for (int i = node->low; i < node->high && p->why == NULL; i++) {
			/* until the end is known, each fork remembers the one before */
			chain = add_step(p, FORK, p->nsteps + 1, chain);
			write_node(p, node->a);
		}
		while (chain != SIZE_MAX) {
			uint32_t before = p->steps[chain].y;

			p->steps[chain].y = (uint32_t)p->nsteps;
			chain = before == UINT32_MAX ? SIZE_MAX : before;
		}
	}
}

static void
write_node(struct pattern *p, int at)
{
	const struct node node = p->nodes[at];
	size_t fork, jump;

	if (p->nsteps > 3 * PATTERN_LARGEST && p->why == NULL)
		p->why = ""; /* too many parts */
	if (p->why != NULL)
		return;
	switch (node.kind) {
	case EMPTY:
		break;
	case LEAF:
		add_step(p, node.op, node.x, 0);
		break;
	case CHAIN:
		write_node(p, node.a);
		write_node(p, node.b);
		break;
	case EITHER:
		fork = add_step(p, FORK, p->nsteps + 1, 0);
		write_node(p, node.a);
		jump = add_step(p, JUMP, 0, 0);
		p->steps[fork].y = (uint32_t)p->nsteps;
		write_node(p, node.b);
		p->steps[jump].x = (uint32_t)p->nsteps;
		break;
	case REPEAT:
		write_repeat(p, &node);
		break;
	case GROUP:
		if (node.x < PATTERN_GROUPS)
			add_step(p, SAVE, 2 * node.x, 0);
		write_node(p, node.a);
		if (node.x < PATTERN_GROUPS)
			add_step(p, SAVE, 2 * node.x + 1, 0);
		break;
	}
}

/* How many of the program's steps read a letter. */
static size_t
parts(const struct pattern *p)
{
	size_t n = 0;

	for (size_t i = 0; i < p->nsteps; i++)
		n += p->steps[i].op <= END;
	return n;
}

static size_t
kept_groups(const struct pattern *p)
{
	return p->groups < PATTERN_GROUPS ? p->groups : PATTERN_GROUPS;
}

static void
room_for_threads(struct pattern *p, struct list *list)
{
	list->v = mem_zeroed(p->nsteps, sizeof *list->v);
	list->saves = mem_zeroed(p->nsteps * 2 * kept_groups(p) + 1, sizeof *list->saves);
	list->mark = mem_zeroed(p->nsteps, sizeof *list->mark);
}

struct pattern *
pattern_compile(struct field text, char why[PATTERN_WHY])
{
	struct pattern *p = mem_zeroed(1, sizeof *p);
	bool back = false;
	int root;

	for (size_t i = 0; i + 1 < text.n; i++)
		if (text.p[i] == '\\')
			back |= num_is_digit(text.p[++i]);
	p->rest = text.n <= PATTERN_LONGEST ? text : (struct field){ "", 0 };
	root = parse_either(p);
	if (next_is(p, ')'))
		fail(p, "a ) without its (");
	if (p->why == NULL) {
		write_node(p, root);
		add_step(p, MATCH, 0, 0);
	}
	if (text.n > PATTERN_LONGEST)
		snprintf(why, PATTERN_WHY, "pattern too long");
	else if (back)
		snprintf(why, PATTERN_WHY, "pattern with a back-reference");
	else if (p->why != NULL && p->why[0] != '\0')
		snprintf(why, PATTERN_WHY, "no pattern: %s", p->why);
	else if (p->why != NULL || parts(p) > PATTERN_LARGEST)
		snprintf(why, PATTERN_WHY, "pattern with more than %d repeats", PATTERN_LARGEST);
	else {
		room_for_threads(p, &p->now);
		room_for_threads(p, &p->next);
		return p;
	}
	pattern_free(p);
	return NULL;
}

size_t
pattern_groups(const struct pattern *p)
{
	return p->groups;
}

/* --- matching -------------------------------------------------------------------------------- */

static bool
in_set(const struct pattern *p, const struct set *set, uint32_t letter)
{
	const struct range *r = p->ranges + set->at, *end = r + set->n;

	while (r < end && (letter < r->from || letter > r->to))
		r++;
	return (r < end) != set->negated;
}

/* Adds the threads that go on at a step before the letter at offset `at`, the preferred first. */
static void
add_thread(struct pattern *p, struct list *list, uint32_t step, size_t at, size_t n)
{
	const struct step *s = &p->steps[step];
	size_t before;

	if (list->mark[step] == p->round)
		return;
	list->mark[step] = p->round;
	switch (s->op) {
	case JUMP:
		add_thread(p, list, s->x, at, n);
		return;
	case FORK:
		add_thread(p, list, s->x, at, n);
		add_thread(p, list, s->y, at, n);
		return;
	case START:
		if (at == 0)
			add_thread(p, list, step + 1, at, n);
		return;
	case END:
		if (at == n)
			add_thread(p, list, step + 1, at, n);
		return;
	case SAVE:
		if (p->nsaves == 0) {
			add_thread(p, list, step + 1, at, n);
			return;
		}
		before = p->present[s->x];
		p->present[s->x] = at;
		add_thread(p, list, step + 1, at, n);
		p->present[s->x] = before;
		return;
	case LETTER:
	case ANY:
	case SET:
	case MATCH:
		break;
	}
	if (p->nsaves > 0)
		memcpy(list->saves + list->n * p->nsaves, p->present, p->nsaves * sizeof(size_t));
	list->v[list->n++] = step;
}

/* Moves every thread over one letter, into p->next. */
static void
move_threads(struct pattern *p, uint32_t letter, size_t behind, size_t n)
{
	for (size_t i = 0; i < p->now.n; i++) {
		uint32_t at = p->now.v[i];
		const struct step *s = &p->steps[at];

		if (s->op == MATCH || (s->op == LETTER && s->x != letter) ||
		    (s->op == SET && !in_set(p, &p->sets[s->x], letter)))
			continue;
		if (p->nsaves > 0)
			memcpy(
			    p->present, p->now.saves + i * p->nsaves, p->nsaves * sizeof(size_t));
		add_thread(p, &p->next, at + 1, behind, n);
	}
}

static void
begin_round(struct pattern *p, struct list *list)
{
	list->n = 0;
	if (++p->round == 0) {
		memset(p->now.mark, 0, p->nsteps * sizeof *p->now.mark);
		memset(p->next.mark, 0, p->nsteps * sizeof *p->next.mark);
		p->round = 1;
	}
}

/* The thread that has come to the end, or SIZE_MAX. */
static size_t
at_end(const struct pattern *p)
{
	for (size_t i = 0; i < p->now.n; i++)
		if (p->steps[p->now.v[i]].op == MATCH)
			return i;
	return SIZE_MAX;
}

/* Runs over the text; the thread that matched in p->now, or SIZE_MAX. */
static size_t
run(struct pattern *p, struct field text, bool whole)
{
	size_t at = 0;

	memset(p->present, 0xff, sizeof p->present);
	begin_round(p, &p->now);
	add_thread(p, &p->now, 0, 0, text.n);
	while (at < text.n && (whole ? p->now.n > 0 : at_end(p) == SIZE_MAX)) {
		uint32_t letter;
		struct list moved;

		begin_round(p, &p->next);
		at += pattern_letter((struct field){ text.p + at, text.n - at }, &letter);
		move_threads(p, letter, at, text.n);
		if (!whole)
			add_thread(p, &p->next, 0, at, text.n);
		moved = p->next;
		p->next = p->now;
		p->now = moved;
	}
	return at < text.n && whole ? SIZE_MAX : at_end(p);
}

bool
pattern_found(struct pattern *p, struct field text)
{
	p->nsaves = 0;
	return run(p, text, false) != SIZE_MAX;
}

bool
pattern_matches(struct pattern *p, struct field text, struct field part[PATTERN_GROUPS])
{
	size_t thread, *save;

	p->nsaves = part != NULL ? 2 * kept_groups(p) : 0;
	thread = run(p, text, true);
	if (thread == SIZE_MAX || part == NULL)
		return thread != SIZE_MAX;
	save = p->now.saves + thread * p->nsaves;
	for (size_t i = 0; i < kept_groups(p); i++) {
		part[i] = (struct field){ NULL, 0 };
		if (save[2 * i] != SIZE_MAX && save[2 * i + 1] != SIZE_MAX)
			part[i] =
			    (struct field){ text.p + save[2 * i], save[2 * i + 1] - save[2 * i] };
	}
	return true;
}

static void
free_list(struct list *list)
{
	free(list->v);
	free(list->saves);
	free(list->mark);
}

void
pattern_free(struct pattern *p)
{
	if (p == NULL)
		return;
	free_list(&p->now);
	free_list(&p->next);
	free(p->nodes);
	free(p->sets);
	free(p->ranges);
	free(p->steps);
	free(p);
}
