#include "page/bars.h"

#include <stdlib.h>

#include "page/width.h"

enum { CELLS = 8, BAR_LEAST = 8, CELL_MOST = 24 };

struct bars_row {
	struct field cell[CELLS], words;
	double length;
	bool wrong;
};

static void
add_clean(struct bytes *to, const struct bars *b, struct field f)
{
	bytes_add_escaped(to, f, b->ascii ? ESCAPE_NOT_ASCII : ESCAPE_NOT_UTF8);
}

void
bars_row(struct bars *b, struct field cells, double length, bool wrong, struct field words)
{
	struct bars_row *r;
	struct bytes clean = { NULL, 0, 0 };
	struct field rest;

	b->v = mem_grow(b->v, &b->cap, b->n + 1, sizeof *b->v);
	r = &b->v[b->n++];
	*r = (struct bars_row){ .length = length, .wrong = wrong };
	rest = region_keep(&b->text, cells);
	for (size_t i = 0; i < CELLS && rest.p != NULL; i++) {
		clean.n = 0;
		add_clean(&clean, b, field_cut(&rest, '\t'));
		r->cell[i] = region_keep(&b->text, bytes_field(&clean));
	}
	clean.n = 0;
	add_clean(&clean, b, words);
	r->words = region_keep(&b->text, bytes_field(&clean));
	bytes_free(&clean);
}

void
bars_line(struct bars *b, struct field words)
{
	add_clean(&b->lines, b, words);
	bytes_add_text(&b->lines, "\n");
}

/* A field in so many columns, cut or with blanks behind it. */
static void
put(struct bytes *out, struct field f, size_t width, bool ascii)
{
	size_t has = width_field(f);

	if (has > width && width > 0) {
		f = width_cut(f, width - 1);
		bytes_add_field(out, f);
		bytes_add_text(out, ascii ? "~" : "\xe2\x80\xa6");
		has = width_field(f) + 1;
	} else {
		bytes_add_field(out, f);
	}
	for (; has < width; has++)
		bytes_add_text(out, " ");
}

static void
end_line(struct bytes *out)
{
	while (out->n > 0 && out->p[out->n - 1] == ' ')
		out->n--;
	bytes_add_text(out, "\n");
}

/* A text in lines of so many columns, each behind an indent. */
static void
wrap(struct bytes *out, struct field text, size_t width, bool ascii)
{
	struct bytes line = { NULL, 0, 0 };

	while (text.p != NULL) {
		struct field word = field_cut(&text, ' ');

		if (line.n > 0 && width_field(bytes_field(&line)) + 1 + width_field(word) > width) {
			bytes_add_field(out, bytes_field(&line));
			end_line(out);
			line.n = 0;
		}
		bytes_add_text(&line, line.n > 0 ? " " : "");
		put(&line, word, width_field(word) < width ? width_field(word) : width, ascii);
	}
	bytes_add_field(out, bytes_field(&line));
	end_line(out);
	bytes_free(&line);
}

static void
put_bar(struct bytes *out, const struct bars_row *r, double greatest, double limit, size_t room,
    bool ascii)
{
	size_t filled = 0, at = SIZE_MAX;

	if (greatest > 0 && r->length > 0)
		filled = (size_t)(r->length / greatest * (double)room + 0.5);
	if (limit > 0 && limit < greatest)
		at = (size_t)(limit / greatest * (double)room + 0.5);
	for (size_t i = 0; i < room; i++) {
		bool full = i < filled;
		const char *light = ascii ? "x" : "\xe2\x96\x92",
			   *dark = ascii ? "#" : "\xe2\x96\x88";

		if (i == at && !full)
			bytes_add_text(out, ascii ? "|" : "\xe2\x94\x82");
		else
			bytes_add_text(out, !full ? " " : r->wrong ? light : dark);
	}
}

void
bars_write(
    struct bars *b, struct field title, struct field verdict, size_t width, struct bytes *out)
{
	struct bytes clean = { NULL, 0, 0 };
	bool ascii = b->ascii;
	size_t wide[CELLS] = { 0 }, words = 0, cells = 0, room;
	double greatest = b->limit;

	for (size_t i = 0; i < b->n; i++) {
		const struct bars_row *r = &b->v[i];
		size_t w = width_field(r->words);

		greatest = r->length > greatest ? r->length : greatest;
		words = w > words ? w : words;
		for (size_t c = 0; c < CELLS; c++) {
			w = width_field(r->cell[c]);
			wide[c] = w > wide[c] ? w : wide[c];
		}
	}
	for (size_t c = 0; c < CELLS; c++) {
		wide[c] = wide[c] > CELL_MOST ? CELL_MOST : wide[c];
		while (wide[c] > 3 && wide[c] > width / 4)
			wide[c]--;
		cells += wide[c] > 0 ? wide[c] + 1 : 0;
	}
	room = cells + 1 + BAR_LEAST < width ? width - cells - 1 : BAR_LEAST;
	words = words + BAR_LEAST > room ? room - room / 2 : words;
	room = room > words ? room - words : BAR_LEAST;
	add_clean(&clean, b, title);
	wrap(out, bytes_field(&clean), width, ascii);
	clean.n = 0;
	add_clean(&clean, b, verdict);
	wrap(out, bytes_field(&clean), width, ascii);
	bytes_free(&clean);
	bytes_add_text(out, b->n > 0 ? "\n" : "");
	for (size_t i = 0; i < b->n; i++) {
		for (size_t c = 0; c < CELLS; c++)
			if (wide[c] > 0) {
				put(out, b->v[i].cell[c], wide[c], ascii);
				bytes_add_text(out, " ");
			}
		put_bar(out, &b->v[i], greatest, b->limit, room, ascii);
		bytes_add_text(out, " ");
		put(out, b->v[i].words, words, ascii);
		end_line(out);
	}
	bytes_add_text(out, b->lines.n > 0 ? "\n" : "");
	for (struct field rest = bytes_field(&b->lines); rest.n > 0;)
		wrap(out, field_cut(&rest, '\n'), width, ascii);
	free(b->v);
	bytes_free(&b->lines);
	region_free(&b->text);
	*b = (struct bars){ .n = 0 };
}
