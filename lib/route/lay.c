#include "route/lay.h"

#include <math.h>
#include <stdlib.h>

#include "base/db.h"
#include "fibre/wavelengths.h"

enum {
	LINK,
	SEQ,
	KM,
	KIND,
	WAYS,
	REF,
	SITE,
	SECTION,
	REVERSED,
	LENGTH,
	CATEGORY,
	ALLOWANCE,
	WAVELENGTH,
	LOSS,
	SD,
	CD,
	PMD,
	MADE_AT
};

const struct col element_out_cols[] = {
	[LINK] = { "link", COL_OUT, COL_TEXT },
	[SEQ] = { "seq", COL_OUT, COL_WHOLE },
	[KM] = { "km", COL_OUT, COL_DB, .places = 6 },
	[KIND] = { "kind", COL_OUT, COL_TEXT },
	[WAYS] = { "ways", COL_OUT, COL_WHOLE },
	[REF] = { "ref", COL_OUT, COL_TEXT },
	[SITE] = { "site", COL_OUT, COL_TEXT },
	[SECTION] = { "section", COL_OUT, COL_WHOLE },
	[REVERSED] = { "reversed", COL_OUT, COL_TEXT },
	[LENGTH] = { "length_km", COL_OUT, COL_DB, .places = 6 },
	[CATEGORY] = { "category", COL_OUT, COL_TEXT },
	[ALLOWANCE] = { "allowance", COL_OUT, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_OUT, COL_TEXT },
	[LOSS] = { "loss_db", COL_OUT, COL_DB, .places = 6 },
	[SD] = { "sd_db", COL_OUT, COL_NUM, .places = 6 },
	[CD] = { "cd_ps_nm_km", COL_OUT, COL_NUM, .places = 4 },
	[PMD] = { "pmd_ps_sqrt_km", COL_OUT, COL_NUM, .places = 4 },
	[MADE_AT] = { "made_at", COL_OUT, COL_TEXT },
	{ NULL },
};

/* Of a section: its fibre's length as measured, else its sheath's, else the difference of the marks. */
static int64_t
length_of(const struct table *spans, uint32_t row)
{
	int64_t km = table_wholes(spans, SPAN_FIBRE_KM)[row];
	int64_t a = table_wholes(spans, SPAN_MARK_A)[row];
	int64_t b = table_wholes(spans, SPAN_MARK_B)[row];

	if (km == DB_NONE)
		km = table_wholes(spans, SPAN_SHEATH_KM)[row];
	if (km == DB_NONE && a != DB_NONE && b != DB_NONE)
		km = (a < b ? b - a : a - b) / 1000;
	return km;
}

void
lay_begin(struct lay *l, const struct joined *g, const struct table *spans, struct sheet *out)
{
	const struct network *net = &g->r->net;

	*l = (struct lay){ .g = g, .spans = spans, .out = out };
	l->length_ukm = mem_zeroed(net->n + 1, sizeof *l->length_ukm);
	for (size_t i = 0; i < net->n; i++)
		l->length_ukm[i] = length_of(spans, net->v[i].row);
}

static struct field
text(const struct lay *l, uint32_t number)
{
	return number == HOLD_NO_TEXT ? field_of("") : ids_key(l->g->r->texts, number);
}

/* Two names joined by a colon. */
static struct field
two(struct lay *l, uint32_t first, uint32_t second)
{
	l->ref.n = 0;
	bytes_add_field(&l->ref, text(l, first));
	bytes_add_text(&l->ref, ":");
	bytes_add_field(&l->ref, text(l, second));
	return bytes_field(&l->ref);
}

/* What all rows of an element have. */
static void
put_common(struct lay *l, enum kind kind, struct field ref, uint32_t site)
{
	put_text(l->out, LINK, l->link);
	put_whole(l->out, SEQ, l->seq);
	put_db(l->out, KM, l->at_ukm);
	put_text(l->out, KIND, kind_word(kind));
	put_text(l->out, REF, ref);
	put_text(l->out, SITE, text(l, site));
}

static void
put_loss(struct lay *l, double nm, int64_t loss_udb, double sd_db)
{
	char text_nm[WAVELENGTHS_TEXT];

	if (nm > 0)
		put_text(l->out, WAVELENGTH, wavelengths_text(text_nm, round(nm * 100) / 100));
	put_db(l->out, LOSS, loss_udb);
	if (sd_db >= 0)
		put_num(l->out, SD, sd_db);
}

/* The loss of a list at the next wavelength above this; one that is for all only if there is no other. */
static const struct record_loss *
next_loss(const struct records *r, uint32_t list, float above_nm)
{
	const struct record_loss *next = NULL;

	for (uint32_t i = list; i != RECORD_NONE; i = r->losses[i].next) {
		const struct record_loss *x = &r->losses[i];

		if (x->nm > above_nm && (next == NULL || x->nm < next->nm))
			next = x;
	}
	return next;
}

/* Whether the loss of this at a wavelength is counted in another joint of the path. */
static bool
is_shared(const struct lay *l, struct field ref, float nm)
{
	for (size_t i = 0; i < l->shared_n; i++)
		if (l->shared[i].nm == nm && field_same(l->shared[i].ref, ref))
			return true;
	return false;
}

static void
share(struct lay *l, uint32_t joint)
{
	const struct records *r = l->g->r;
	struct field own = ids_key(&r->joint_names, joint);
	const struct record_loss *x = NULL;

	while ((x = next_loss(r, r->joints[joint].losses, x != NULL ? x->nm : -1)) != NULL) {
		struct field rest = text(l, x->with);

		if (x->with == HOLD_NO_TEXT || is_shared(l, own, x->nm))
			continue;
		while (rest.p != NULL) {
			l->shared =
			    mem_grow(l->shared, &l->shared_cap, l->shared_n + 1, sizeof *l->shared);
			l->shared[l->shared_n++] =
			    (struct lay_shared){ field_cut(&rest, ','), x->nm };
		}
	}
}

void
lay_link(struct lay *l, struct field link, const struct path *path)
{
	l->link = link;
	l->at_ukm = 0;
	l->seq = 0;
	l->shared_n = 0;
	for (size_t i = 0; l->g->r->has_shared && i < path->n; i++)
		if (path->v[i].what == STEP_JOINT)
			share(l, path->v[i].number);
}

/* A port's connector: a row for each wavelength at which its loss is that of a joint, else one without loss. */
static void
lay_port(struct lay *l, const struct record_port *p)
{
	struct field ref = two(l, p->site, p->port);
	bool any = false;

	for (size_t i = 0; i < l->shared_n; i++) {
		if (!field_same(l->shared[i].ref, ref))
			continue;
		put_common(l, KIND_CONNECTOR, ref, p->site);
		put_loss(l, (double)l->shared[i].nm, 0, -1);
		sheet_row(l->out);
		any = true;
	}
	if (any)
		return;
	put_common(l, KIND_CONNECTOR, ref, p->site);
	sheet_row(l->out);
}

/* an element that is neither fibre nor port */
struct piece {
	enum kind kind;
	struct field ref, made_at;
	uint32_t site, losses, ways;
	const char *reversed;
};

/* A row for each wavelength at which it was measured, else one. */
static void
lay_piece(struct lay *l, const struct piece *piece)
{
	const struct records *r = l->g->r;
	const struct record_loss *x = next_loss(r, piece->losses, 0);

	if (x == NULL)
		x = next_loss(r, piece->losses, -1);
	do {
		put_common(l, piece->kind, piece->ref, piece->site);
		if (piece->ways > 0)
			put_whole(l->out, WAYS, piece->ways);
		put_text(l->out, REVERSED, field_of(piece->reversed));
		put_text(l->out, MADE_AT, piece->made_at);
		if (x != NULL)
			put_loss(l, (double)x->nm,
			    is_shared(l, piece->ref, x->nm) ? 0 : x->loss_udb,
			    (size_t)(x - r->losses) < r->sds_n ? (double)r->sds_db[x - r->losses]
							       : -1);
		sheet_row(l->out);
		x = x != NULL ? next_loss(r, piece->losses, x->nm) : NULL;
	} while (x != NULL);
}

static void
put_fibre(struct lay *l, uint32_t end, uint32_t at, struct field ref)
{
	const struct section *s = &l->g->r->net.v[at];
	double pmd = table_nums(l->spans, SPAN_PMD)[s->row];

	put_common(l, KIND_FIBRE, ref, s->site[end & 1]);
	if (s->number != HOLD_NO_WHOLE)
		put_whole(l->out, SECTION, s->number);
	put_text(l->out, REVERSED, field_of((end & 1) && s->site[0] != s->site[1] ? "yes" : "no"));
	put_db(l->out, LENGTH, l->length_ukm[at]);
	put_text(l->out, CATEGORY, text(l, table_texts(l->spans, SPAN_CATEGORY)[s->row]));
	if (!isnan(pmd))
		put_num(l->out, PMD, pmd);
}

static void
lay_fibre(struct lay *l, uint32_t end)
{
	const struct network *net = &l->g->r->net;
	uint32_t at = network_section(net, end);
	int64_t length_ukm = l->length_ukm[at], loss_udb;
	double cd = table_nums(l->spans, SPAN_CD)[net->v[at].row];
	bool any = false;

	l->ref.n = 0;
	bytes_add_field(&l->ref, text(l, net->v[at].cable));
	bytes_add_format(&l->ref, ":%u", network_fibre(net, end));
	for (int w = 0; w < SPAN_WAVELENGTHS; w++) {
		int64_t each_udb = table_wholes(l->spans, SPAN_ATTEN + w)[net->v[at].row];
		bool has_cd = span_nm[w] == 1550 && !isnan(cd);

		if (each_udb == DB_NONE || length_ukm == DB_NONE ||
		    db_times(each_udb, length_ukm, &loss_udb) != 0)
			loss_udb = DB_NONE;
		if (loss_udb == DB_NONE && !has_cd)
			continue;
		put_fibre(l, end, at, bytes_field(&l->ref));
		put_loss(l, span_nm[w], loss_udb, -1);
		if (has_cd)
			put_num(l->out, CD, cd);
		sheet_row(l->out);
		any = true;
	}
	if (!any) {
		put_fibre(l, end, at, bytes_field(&l->ref));
		sheet_row(l->out);
	}
	l->at_ukm =
	    l->at_ukm == DB_NONE || length_ukm == DB_NONE ? DB_NONE : l->at_ukm + length_ukm;
}

static void
lay_joint(struct lay *l, const struct step *step)
{
	const struct record_joint *j = &l->g->r->joints[step->number];
	struct when made;
	bool known = night_made(&l->g->r->night, step->number, &made);
	char text_made[WHEN_TEXT];

	lay_piece(l, &(struct piece){ .kind = (enum kind)j->kind,
			 .ref = ids_key(&l->g->r->joint_names, step->number),
			 .made_at = known ? when_text(text_made, &made) : field_of(""),
			 .site = j->closure,
			 .losses = j->losses,
			 .reversed = j->spot[1].at == step->end ? "yes" : "no" });
}

static void
lay_leg(struct lay *l, const struct record_leg *leg)
{
	const struct record_splitter *s = &l->g->r->splitters[leg->splitter];
	uint32_t ways = leg->ways > 0 ? leg->ways : s->n[LEG_OUT];

	lay_piece(l, &(struct piece){ .kind = s->plain ? KIND_SPLITTER : KIND_OTHER,
			 .ref = two(l, s->name, leg->port),
			 .made_at = field_of(""),
			 .site = s->site,
			 .losses = leg->losses,
			 .ways = s->plain && ways > 1 ? ways : 0,
			 .reversed = "" });
}

void
lay_step(struct lay *l, const struct step *step)
{
	const struct records *r = l->g->r;

	l->seq++;
	switch (step->what) {
	case STEP_PORT:
		lay_port(l, &r->ports[step->number]);
		break;
	case STEP_JOINT:
		lay_joint(l, step);
		break;
	case STEP_LEG:
		lay_leg(l, &r->legs[step->number]);
		break;
	case STEP_FIBRE:
		lay_fibre(l, step->end);
	}
}

void
lay_open(struct lay *l, uint32_t site)
{
	l->seq++;
	put_common(l, KIND_OTHER, field_of(""), site);
	put_text(l->out, ALLOWANCE, field_of("open"));
	sheet_row(l->out);
}

void
lay_free(struct lay *l)
{
	free(l->length_ukm);
	free(l->shared);
	bytes_free(&l->ref);
	*l = (struct lay){ .seq = 0 };
}
