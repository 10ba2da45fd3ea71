#include "fibre/tally_part.h"

#include <stdlib.h>

#include "base/mem.h"
#include "fibre/tally_inside.h"

enum {
	PART,
	NAMED,
	NM,
	JOINTS,
	LOSS,
	BASIS,
	FAILS,
	UNKNOWN,
	WORST,
	KIND,
	RIBBON,
	ACCEPTED,
	LIMIT,
	CLOSURE,
	WITH,
	PLANNED,
	IS_AMISS,
	IS_SURPLUS,
	FIRST_AT,
	LAST_AT,
};

enum { GROUP, TRAY, LOSSES, OTHER, NAME, FIBRES, END };

static const char *const parts[] = { "group", "tray", "losses", "other", "joint", "fibres", "end" };

enum { MOST = 1000000000 };

/* the names are of no column that --by may want beside them */
#define COLS(ROLE)                                                                                 \
	{                                                                                          \
		[PART] = { "part", ROLE, COL_WORD,                                                 \
			.words = "group tray losses other joint fibres end" },                     \
		[NAMED] = { "part_name", ROLE, COL_TEXT },                                         \
		[NM] = { "loss_nm", ROLE, COL_NUM, 600, 1700 },                                    \
		[JOINTS] = { "joints", ROLE, COL_WHOLE, 0, 1e10 },                                 \
		[LOSS] = { "mean_db", ROLE, COL_DB, -TALLY_MOST_DB, TALLY_MOST_DB, 6 },            \
		[BASIS] = { "basis", ROLE, COL_WORD, .words = JOINT_BASES },                       \
		[FAILS] = { "failed", ROLE, COL_WHOLE, 0, 1e10 },                                  \
		[UNKNOWN] = { "unknown", ROLE, COL_WHOLE, 0, 1e10 },                               \
		[WORST] = { "worst_joint", ROLE, COL_TEXT },                                       \
		[KIND] = { "part_kind", ROLE, COL_TEXT },                                          \
		[RIBBON] = { "part_ribbon", ROLE, COL_WORD, .words = "no yes" },                   \
		[ACCEPTED] = { "part_accept", ROLE, COL_WORD, .words = JOINT_BASES },              \
		[LIMIT] = { "part_limit_db", ROLE, COL_DB, 0, 1000, 6 },                           \
		[CLOSURE] = { "part_closure", ROLE, COL_TEXT },                                    \
		[WITH] = { "part_with", ROLE, COL_TEXT },                                          \
		[PLANNED] = { "planned", ROLE, COL_WHOLE, 1, MOST },                               \
		[IS_AMISS] = { "amiss", ROLE, COL_WHOLE, 0, 1e10 },                                \
		[IS_SURPLUS] = { "surplus", ROLE, COL_WHOLE, 0, 1e10 },                            \
		[FIRST_AT] = { "first_at", ROLE, COL_TIME },                                       \
		[LAST_AT] = { "last_at", ROLE, COL_TIME }, { NULL },                               \
	}

const struct col tally_part_cols[] = COLS(COL_NEED);
const struct col tally_part_made[] = COLS(COL_OUT);

/* --- writing --------------------------------------------------------------------------------- */

struct writing {
	struct sheet *out;
	uint64_t rows;
};

static void
put_part(struct writing *w, int part, struct field group)
{
	put_lead(w->out, group);
	put_text(w->out, PART, field_of(parts[part]));
	w->rows++;
}

static void
put_count(struct sheet *out, int col, uint64_t n)
{
	if (n > 0)
		put_whole(out, col, (int64_t)n);
}

static void
put_case(const struct tally *t, const struct tally_case *c, uint8_t nm, struct sheet *out)
{
	static const char *const bases[] = { "two-way", "one-way", "estimate" };
	const struct limit_case *is = &t->kind[c->kind].is;

	if (nm > 0 && nm <= WAVELENGTHS_MOST) {
		char text[WAVELENGTHS_TEXT];

		put_text(out, NM, wavelengths_text(text, t->nm[nm - 1]));
	}
	put_count(out, JOINTS, c->joints);
	put_count(out, FAILS, c->flags & FAILED ? c->joints : 0);
	put_count(out, UNKNOWN, c->flags & DOUBTFUL ? c->joints : 0);
	if (c->basis != JOINT_UNKNOWN) {
		put_db(out, LOSS, c->loss_udb);
		put_text(out, BASIS, field_of(bases[c->basis]));
		put_text(out, WORST, tally_name(t, c->first));
		put_text(out, KIND, is->kind);
		put_text(out, RIBBON, field_of(is->ribbon ? "yes" : ""));
		put_text(out, ACCEPTED, field_of(bases[is->accept]));
		put_db(out, LIMIT, is->planned_udb);
		put_text(out, CLOSURE, is->closure);
		if (c->with > 0)
			put_text(out, WITH, ids_key(&t->withs, c->with - 1));
	}
	sheet_row(out);
}

/* The joints of a group at a wavelength, each case once, in the order of their first joints. */
static void
put_cases(
    struct writing *w, const struct tally *t, const struct tally_group *g, int part, uint8_t nm)
{
	struct ids ids = IDS_NONE;
	struct tally_case *cases = NULL;
	size_t cap = 0;

	for (size_t i = g->first_joint; i < g->end_joint; i++) {
		struct tally_case c, key;
		struct field bytes = { (const char *)&key, sizeof key };
		bool fresh;
		size_t id;

		tally_case(t, t->order[i], nm, &c);
		memset(&key, 0, sizeof key); /* the bytes between are part of the key */
		key.loss_udb = c.loss_udb;
		key.kind = c.kind;
		key.with = c.with;
		key.basis = c.basis;
		key.flags = c.flags;
		id = ids_add(&ids, &bytes, 1, &fresh);
		cases = mem_grow(cases, &cap, id + 1, sizeof *cases);
		if (fresh)
			cases[id] = c;
		else
			cases[id].joints++;
	}
	for (size_t i = 0; i < ids.n; i++) {
		put_part(w, part, g->name);
		put_case(t, &cases[i], nm, w->out);
	}
	ids_free(&ids);
	free(cases);
}

static void
put_group(struct writing *w, const struct tally *t, const struct tally_group *g)
{
	bool seen[WAVELENGTHS_MOST + 1] = { false }, any = false;

	put_part(w, GROUP, g->name);
	put_count(w->out, JOINTS, g->joints);
	put_count(w->out, IS_AMISS, g->amiss);
	put_count(w->out, IS_SURPLUS, g->surplus);
	put_text(w->out, FIRST_AT, g->first);
	put_text(w->out, LAST_AT, g->last);
	sheet_row(w->out);
	for (size_t i = 0; i < g->ntrays; i++) {
		put_part(w, TRAY, g->name);
		put_text(w->out, NAMED, t->sorted[i].text);
		sheet_row(w->out);
	}
	for (size_t i = g->first_joint; i < g->end_joint; i++)
		tally_see(t, t->order[i], seen);
	for (uint8_t nm = 1; nm <= t->nnm; nm++)
		if (seen[nm]) {
			put_cases(w, t, g, LOSSES, nm);
			any = true;
		}
	if (seen[0] && !any) /* without a wavelength they count only if none is known */
		put_cases(w, t, g, LOSSES, 0);
	put_cases(w, t, g, OTHER, NM_OTHER);
}

/* A joint's key, as it stands in `joints`: its name, or, behind a TAB, what tells it without one. */
static void
put_joint(struct writing *w, struct field key, size_t planned, struct field no_group)
{
	bool fibres = key.n > 0 && key.p[0] == '\t';
	char *escaped = NULL;

	put_part(w, fibres ? FIBRES : NAME, no_group);
	if (fibres) {
		escaped = mem_zeroed(key.n, 4);
		key = (struct field){ key.p + 1, key.n - 1 };
		key = (struct field){ escaped, field_escape(escaped, key, ESCAPE_BACKSLASH) };
	}
	put_text(w->out, NAMED, key);
	put_count(w->out, PLANNED, planned);
	sheet_row(w->out);
	free(escaped);
}

/* All joints that have a row, standing or not. */
static void
put_joints(struct writing *w, const struct tally *t, struct field no_group)
{
	for (size_t i = 0; i < t->night.joints.n; i++) {
		const struct tally_joint *j = &t->joints[i];

		if (!(j->flags & ALONE) || j->flags & THERE)
			put_joint(w, j->flags & ALONE ? field_of("") : ids_key(&t->night.joints, i),
			    j->flags & THERE ? j->plan : 0, no_group);
	}
	for (size_t i = 0; i < t->undone.joints.n; i++) {
		struct field key = ids_key(&t->undone.joints, i);

		if (ids_find_one(&t->night.joints, key) == SIZE_MAX)
			put_joint(w, key, 0, no_group);
	}
}

void
tally_part_write(struct tally *t, struct sheet *out, size_t columns, struct field how)
{
	struct writing w = { .out = out };
	struct bytes no_group = { NULL, 0, 0 };
	struct tally_group g;

	tally_end(t);
	while (tally_next(t, &g))
		put_group(&w, t, &g);
	for (size_t i = 1; i < columns; i++)
		bytes_add_text(&no_group, "\t");
	put_joints(&w, t, bytes_field(&no_group));
	put_part(&w, END, bytes_field(&no_group));
	put_text(out, NAMED, how);
	put_whole(out, JOINTS, (int64_t)w.rows - 1);
	sheet_row(out);
	bytes_free(&no_group);
}

/* --- reading --------------------------------------------------------------------------------- */

static uint64_t
count_of(struct table *in, int col)
{
	int64_t n = 0;

	get_whole(in, col, &n);
	return (uint64_t)n;
}

static int
read_group(struct tally *t, struct table *in, struct field group)
{
	struct tally_gathered *g;
	struct when made;

	t->of.group = tally_group_number(t, group);
	t->of.run++;
	tally_gather(t, t->of.group);
	g = &t->gathered[t->of.group - 1];
	g->joints += count_of(in, JOINTS);
	g->surplus += count_of(in, IS_SURPLUS);
	t->astray[t->of.group - 1] += count_of(in, IS_AMISS);
	if (get_time(in, FIRST_AT, &made) &&
	    (g->first.n == 0 || when_order(&made, &g->first_made) < 0)) {
		g->first_made = made;
		g->first = region_keep(&t->texts, table_field(in, FIRST_AT));
	}
	if (get_time(in, LAST_AT, &made) &&
	    (g->last.n == 0 || when_order(&made, &g->last_made) > 0)) {
		g->last_made = made;
		g->last = region_keep(&t->texts, table_field(in, LAST_AT));
	}
	return 0;
}

static int
read_case(struct tally *t, struct table *in, struct tally_case *c)
{
	struct limit_case is = { .kind = table_field(in, KIND),
		.closure = table_field(in, CLOSURE),
		.planned_udb = DB_NONE };
	int basis = JOINT_UNKNOWN, accept = JOINT_TWO_WAY, ribbon = 0;
	struct field with = table_field(in, WITH);

	c->joints = count_of(in, JOINTS);
	c->flags = (uint8_t)((count_of(in, FAILS) > 0 ? FAILED : 0) |
			     (count_of(in, UNKNOWN) > 0 ? DOUBTFUL : 0));
	if (c->joints == 0)
		return table_fail(in, JOINTS, "no joint");
	get_word(in, BASIS, &basis);
	c->basis = (uint8_t)basis;
	if (basis == JOINT_UNKNOWN)
		return 0;
	if (!get_db(in, LOSS, &c->loss_udb))
		return table_fail(in, LOSS, "no loss");
	get_word(in, ACCEPTED, &accept);
	get_word(in, RIBBON, &ribbon);
	get_db(in, LIMIT, &is.planned_udb);
	is.accept = (enum joint_basis)accept;
	is.ribbon = ribbon > 0;
	c->kind = tally_kind(t, &is);
	c->with = with.n > 0 ? (uint32_t)ids_add(&t->withs, &with, 1, NULL) + 1 : 0;
	return 0;
}

/* Losses, or a tray, of the present group. */
static int
read_part(struct tally *t, struct table *in, int part, struct field group)
{
	struct tally_part *p;
	struct field named = table_field(in, NAMED);
	double nm = 0;

	if (t->of.group == 0 || !field_same(group, ids_key(&t->groups, t->of.group - 1)))
		return table_fail(in, PART, "not behind its group");
	t->parts = mem_grow(t->parts, &t->cap_parts, t->nparts + 1, sizeof *t->parts);
	p = &t->parts[t->nparts++];
	*p = (struct tally_part){
		.group = t->of.group, .run = t->of.run, .is.first = t->nparts - 1
	};
	if (part == TRAY) {
		p->nm = NM_TRAY;
		p->is.kind = (uint32_t)ids_add(&t->trays, &named, 1, NULL) + 1;
		return 0;
	}
	if (part == LOSSES)
		get_num(in, NM, &nm);
	p->nm = part == OTHER ? NM_OTHER : tally_nm(t, nm, in->err);
	p->worst = region_keep(&t->texts, table_field(in, WORST));
	return read_case(t, in, &p->is);
}

static int
read_joint(struct tally *t, struct table *in, int part)
{
	struct field key[2] = { field_of(""), table_field(in, NAMED) };
	int64_t planned;
	bool fresh = true;

	if (key[1].n > 0 && part == NAME)
		ids_add(&t->night.joints, &key[1], 1, &fresh);
	else if (key[1].n > 0)
		ids_add(&t->night.joints, key, 2, &fresh);
	if (!fresh)
		return table_fail(in, NAMED, "this joint is in a table before as well");
	if (get_whole(in, PLANNED, &planned)) {
		if (t->plan == NULL || (uint64_t)planned > t->plan->n)
			return table_fail(
			    in, PLANNED, "made with another plan, which has such a row");
		t->there[planned - 1] = true;
	}
	return 0;
}

static int
read_end(struct tally *t, struct table *in, struct field how)
{
	if (!field_same(table_field(in, NAMED), how))
		return table_fail(in, NAMED, "made with other options, or another plan");
	if (count_of(in, JOINTS) != t->of.rows - 1)
		return table_fail(in, JOINTS, "rows are missing: there were so many");
	t->of.rows = 0;
	t->of.group = 0;
	t->of.ends++;
	return 0;
}

static int
cut(const char *file, struct err *err)
{
	return err_set(err, "%s: cut: the last row is no 'end'", file);
}

int
tally_part_read(struct tally *t, struct table *in, struct field group, struct field how)
{
	int part;

	if (t->of.rows > 0 && t->of.file != in->row.file)
		return cut(t->of.file, in->err);
	t->of.file = in->row.file;
	t->of.rows++;
	if (!get_word(in, PART, &part))
		return table_fail(in, PART, "empty");
	switch (part) {
	case GROUP:
		read_group(t, in, group);
		break;
	case NAME:
	case FIBRES:
		read_joint(t, in, part);
		break;
	case END:
		read_end(t, in, how);
		break;
	default:
		read_part(t, in, part, group);
	}
	return err_is_set(in->err) ? -1 : 0;
}

int
tally_part_end(const struct tally *t, size_t tables, struct err *err)
{
	if (t->of.rows > 0)
		return cut(t->of.file, err);
	return t->of.ends < tables ? cut("one of the tables", err) : 0;
}
