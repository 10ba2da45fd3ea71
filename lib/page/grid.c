#include "page/grid.h"

#include <stdlib.h>

#include "base/num.h"
#include "page/width.h"

enum { GAP = 2, LEAST = 8 }; /* columns between two; texts are not cut to less */

#define CUT "\xe2\x80\xa6" /* shown where a text was cut */

struct grid_column {
	struct field name, head, unit; /* head: the name without its unit */
	bool numbers;                  /* all its cells are numbers or empty, and one is a number */
	bool text;                     /* one is not */
	size_t before, after; /* of numbers: the widest part up to and behind the decimal point */
	size_t width;
};

/* --- heads ----------------------------------------------------------------------------------- */

/* the unit at the end of a column's name (thrum-tables(5)), and how it is written for people */
static const struct {
	const char *end, *unit;
} units[] = { { "_db_km", "dB/km" }, { "_ps_nm_km", "ps/nm km" }, { "_ps_sqrt_km", "ps/sqrt km" },
	{ "_ps_nm", "ps/nm" }, { "_dbm", "dBm" }, { "_db", "dB" }, { "_km", "km" }, { "_mm", "mm" },
	{ "_um", "\xc2\xb5m" }, { "_nm", "nm" }, { "_ns", "ns" }, { "_ps", "ps" }, { "_m", "m" },
	{ "_s", "s" }, { "_deg", "deg" } };

void
grid_head(struct field name, struct field *head, struct field *unit)
{
	*head = name;
	*unit = field_of("");
	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
		struct field end = field_of(units[i].end);

		if (name.n <= end.n || memcmp(name.p + name.n - end.n, end.p, end.n) != 0)
			continue;
		head->n = name.n - end.n;
		*unit = field_of(units[i].unit);
		break;
	}
}

static void
make_head(struct grid *g, struct grid_column *c, struct field name)
{
	struct bytes clean = { NULL, 0, 0 };

	bytes_add_clean(&clean, name);
	name = region_keep(&g->text, bytes_field(&clean));
	bytes_free(&clean);
	*c = (struct grid_column){ .name = name };
	grid_head(name, &c->head, &c->unit);
}

void
grid_open(struct grid *g, const struct field *names, size_t n)
{
	*g = (struct grid){ .n = n };
	g->columns = mem_zeroed(n, sizeof *g->columns);
	for (size_t c = 0; c < n; c++)
		make_head(g, &g->columns[c], names[c]);
}

/* --- cells ----------------------------------------------------------------------------------- */

/* How many bytes of a number stand up to its decimal point. */
static size_t
before_point(struct field f)
{
	const char *point = memchr(f.p, '.', f.n);

	return point != NULL ? (size_t)(point - f.p) : f.n;
}

static void
measure(struct grid_column *c, struct field f)
{
	size_t before, width = width_field(f);
	double x;

	if (width > c->width)
		c->width = width;
	if (f.n == 0)
		return;
	if (c->text || num_parse(f, &x) != 0) {
		c->text = true;
		return;
	}
	c->numbers = true;
	before = before_point(f);
	if (before > c->before)
		c->before = before;
	if (f.n - before > c->after)
		c->after = f.n - before;
}

void
grid_add(struct grid *g, const struct field *cells)
{
	struct bytes clean = { NULL, 0, 0 };

	g->cells = mem_grow(g->cells, &g->cap, g->ncells + g->n, sizeof *g->cells);
	for (size_t c = 0; c < g->n; c++) {
		clean.n = 0;
		bytes_add_clean(&clean, cells[c]);
		g->cells[g->ncells] = region_keep(&g->text, bytes_field(&clean));
		measure(&g->columns[c], g->cells[g->ncells++]);
	}
	bytes_free(&clean);
}

/* --- layout ---------------------------------------------------------------------------------- */

static bool
is_numeric(const struct grid_column *c)
{
	return c->numbers && !c->text;
}

/* The widths that the columns would like to have. */
static void
wish(const struct grid *g, size_t *widths)
{
	for (size_t i = 0; i < g->n; i++) {
		const struct grid_column *c = &g->columns[i];
		size_t head = width_field(c->head), unit = width_field(c->unit);

		widths[i] = is_numeric(c) ? c->before + c->after : c->width;
		if (head > widths[i])
			widths[i] = head;
		if (unit > widths[i])
			widths[i] = unit;
	}
}

static size_t
total(const size_t *widths, size_t n)
{
	size_t sum = n > 0 ? GAP * (n - 1) : 0;

	for (size_t i = 0; i < n; i++)
		sum += widths[i];
	return sum;
}

/* Narrows the widest texts, one column at a time. Returns how many of the columns then fit. */
static size_t
fit(const struct grid *g, size_t *widths, size_t width)
{
	size_t n = g->n, sum = total(widths, n);

	while (sum > width) {
		size_t widest = n;

		for (size_t i = 0; i < n; i++)
			if (!is_numeric(&g->columns[i]) && widths[i] > LEAST &&
			    (widest == n || widths[i] > widths[widest]))
				widest = i;
		if (widest == n)
			break;
		widths[widest]--;
		sum--;
	}
	while (n > 1 && total(widths, n) > width)
		n--;
	return n;
}

static void
blanks(struct bytes *b, size_t n)
{
	while (n-- > 0)
		bytes_add(b, " ", 1);
}

/* One cell in so many columns, and as many blanks as it leaves. */
static void
put(struct bytes *b, struct field f, size_t width, size_t indent)
{
	size_t has = width_field(f);

	if (indent + has > width) {
		f = width_cut(f, width - 1);
		bytes_add_field(b, f);
		bytes_add_text(b, CUT);
		blanks(b, width - width_field(f) - 1);
		return;
	}
	blanks(b, indent);
	bytes_add_field(b, f);
	blanks(b, width - indent - has);
}

/* How far a cell stands from the left end of its column. */
static size_t
indent_of(const struct grid_column *c, struct field f, size_t width)
{
	if (!is_numeric(c))
		return 0;
	return width - c->before - c->after + c->before - before_point(f);
}

/* Ends a line; blanks at its end are not written. */
static void
end_line(struct bytes *b)
{
	while (b->n > 0 && b->p[b->n - 1] == ' ')
		b->n--;
	bytes_add_text(b, "\n");
}

static void
put_heads(const struct grid *g, const size_t *widths, size_t n, bool unit, struct bytes *b)
{
	for (size_t i = 0; i < n; i++) {
		const struct grid_column *c = &g->columns[i];
		struct field f = unit ? c->unit : c->head;

		blanks(b, i > 0 ? GAP : 0);
		put(b, f, widths[i],
		    is_numeric(c) && width_field(f) <= widths[i] ? widths[i] - width_field(f) : 0);
	}
	end_line(b);
}

void
grid_write(const struct grid *g, size_t width, struct bytes *b)
{
	size_t *widths = mem_zeroed(g->n + 1, sizeof *widths), n = g->n;
	bool any_unit = false;

	wish(g, widths);
	if (width > 0)
		n = fit(g, widths, width);
	for (size_t i = 0; i < n; i++)
		any_unit |= g->columns[i].unit.n > 0;
	put_heads(g, widths, n, false, b);
	if (any_unit)
		put_heads(g, widths, n, true, b);
	for (size_t row = 0; row < g->ncells; row += g->n) {
		for (size_t i = 0; i < n; i++) {
			struct field f = g->cells[row + i];

			blanks(b, i > 0 ? GAP : 0);
			put(b, f, widths[i], indent_of(&g->columns[i], f, widths[i]));
		}
		end_line(b);
	}
	for (size_t i = n; i < g->n; i++)
		bytes_add_format(b, "%s%.*s", i == n ? "no room for: " : ", ",
		    (int)g->columns[i].name.n, g->columns[i].name.p);
	if (n < g->n)
		bytes_add_text(b, "\n");
	free(widths);
}

void
grid_free(struct grid *g)
{
	free(g->columns);
	free(g->cells);
	region_free(&g->text);
	*g = (struct grid){ .n = 0 };
}
