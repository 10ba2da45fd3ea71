/* Maps from memory: what their rules become, and what joins them. */
#include "check.h"

#include <stdbool.h>
#include <stdlib.h>

#include "import/map.h"

static bool
reads_field(struct field text, struct map *m, struct err *err)
{
	struct table t = { NULL };
	bool good;

	err->text[0] = '\0';
	map_begin(m);
	good = table_open_reader(&t, map_cols, reader_memory("map", text, err), NULL, err) == 0 &&
	       map_read(m, &t, false) == 0;
	table_close(&t);
	return good;
}

/* A map's text, its fields with '^' between, those at the end of a row left out, into b. */
static void
pad(const char *text, struct bytes *b)
{
	size_t columns = 0, n = 0;

	b->n = 0;
	for (; *text != '\0'; text++) {
		if (*text == '^') {
			bytes_add_text(b, "\t");
			n++;
		} else if (*text != '\n') {
			bytes_add(b, text, 1);
		} else {
			columns = columns == 0 ? n : columns;
			for (; n < columns; n++)
				bytes_add_text(b, "\t");
			bytes_add_text(b, "\n");
			n = 0;
		}
	}
}

static struct bytes padded;

static bool
reads(const char *text, struct map *m, struct err *err)
{
	pad(text, &padded);
	return reads_field(bytes_field(&padded), m, err);
}

static void
settings_are_set(void)
{
	struct map m;
	struct err err;

	CHECK(reads("rule^name^from\n"
		    "file^delimiter^semicolon\nfile^decimal^comma\nfile^grouping^blank\n"
		    "file^skip^3\nfile^minus^brackets;apart\nfile^bounds^take\n"
		    "file^unknown^n/a;--\nfile^layout^labels\ncolumn^a^x\n",
		  &m, &err),
	    "%s", err.text);
	CHECK(
	    m.dialect.delimiter == ';' && m.style.point == ',' && m.style.grouping == ' ', "style");
	CHECK(m.dialect.skip == 3 && m.bounds == 't', "skip, bounds");
	CHECK(m.style.minus == (DECIMAL_BRACKETS | DECIMAL_APART), "minus %d", m.style.minus);
	CHECK(m.unknown_first['n'] && m.unknown_first['-'] && !m.unknown_first['/'], "unknown");
	CHECK(m.dialect.layout == LAYOUT_LABELS && m.dialect.quote == '"', "layout");
	CHECK(map_given(&m, "skip") && !map_given(&m, "trim"), "given");
	map_free(&m);
	map_begin(&m);
	CHECK(m.dialect.delimiter == ',' && m.style.point == '.' && m.bounds == 'r', "usual");
	map_free(&m);
	CHECK(reads("rule^name^from\nfile^layout^labels\ncolumn^a^x\n", &m, &err), "%s", err.text);
	CHECK(m.dialect.delimiter == ':', "a label's colon");
	map_free(&m);
}

static void
columns_have_their_sources(void)
{
	struct map m;
	struct err err;

	CHECK(reads("rule^name^from^pattern^holds^words\n"
		    "words^codes^^^^A=1;B=2\nwords^codes^^^^C=3\n"
		    "key^^joint + nm\nside^ab^dir^x\nside^ba^dir^y\n"
		    "column^l^loss @ab + loss @none + mail@ab\n"
		    "column^w^w^^word^codes\n",
		  &m, &err),
	    "%s", err.text);
	CHECK(m.rules[MAP_KEY].v[0].nfrom == 2 && m.rules[MAP_SIDE].n == 2 && m.columns.n == 2,
	    "counts");
	if (m.columns.n == 2) {
		const struct map_source *from = m.sources.v + m.columns.v[0].from;

		CHECK(field_is(from[0].name, "loss") && from[0].side == 0, "a side");
		CHECK(field_is(from[1].name, "loss @none") && from[1].side == -1, "no side");
		CHECK(
		    field_is(from[2].name, "mail@ab") && from[2].side == -1, "no blank before it");
		CHECK(m.columns.v[1].words.n == 3, "a list of words");
	}
	map_free(&m);
	CHECK(reads("rule^name^from\nwide^w^a | b | c\nwide^v^#4-6\ncolumn^x^w\n", &m, &err), "%s",
	    err.text);
	CHECK(m.nwide == 3 && field_is(m.sources.v[m.rules[MAP_WIDE].v[0].from + 2].name, "c") &&
		  field_is(m.sources.v[m.rules[MAP_WIDE].v[1].from].name, "#4"),
	    "wide");
	map_free(&m);
	CHECK(!reads("rule^name^from\nwide^w^a | b | c\nwide^v^a | b\n", &m, &err) &&
		  strstr(err.text, "not as many columns") != NULL,
	    "%s", err.text);
	map_free(&m);
}

static void
positions(void)
{
	static const struct {
		const char *text;
		uint64_t n, last; /* n 0: none */
	} cases[] = { { "#3", 3, 0 }, { "#3-9", 3, 9 }, { "#12-12", 12, 12 }, { "#9-3", 0, 0 },
		{ "#0", 0, 0 }, { "#", 0, 0 }, { "3", 0, 0 }, { "#line", 0, 0 }, { "#3-", 0, 0 },
		{ "#3-9x", 0, 0 }, { "#99999999999", 0, 0 }, { "", 0, 0 } };

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		uint64_t n = 0, last = 0;
		bool is = map_position(field_of(cases[i].text), &n, &last);

		CHECK(is == (cases[i].n > 0), "'%s'", cases[i].text);
		CHECK(!is || (n == cases[i].n && last == cases[i].last), "'%s'", cases[i].text);
	}
}

/* Every shorter map, cut anywhere, is read or refused with a message, and freed. */
static void
cut_maps(void)
{
	static const char text[] = "rule^name^from^pattern^holds^unit^form^words^need\n"
				   "file^skip^2\nabove^day^Date^([0-9]+)^^^^^yes\n"
				   "section^tray^No^Tray ([0-9]+)\nfill^^Place\nwide^w^a | b\n"
				   "words^codes^^^^^^BL=blue\n"
				   "column^fibre_a^T + F^^fibre^^12 tia-598^codes^yes\n"
				   "column^made_at^day + t^^night^Z^DD.MM.YYYY hh:mm\n"
				   "column^est_db^w^^number^mdB\n";
	struct err err;
	struct map m;
	int read = 0;

	pad(text, &padded);
	for (size_t n = 0; n <= padded.n; n++) {
		if (reads_field((struct field){ padded.p, n }, &m, &err))
			read++;
		else
			CHECK(err.text[0] != '\0', "cut at %zu: no message", n);
		map_free(&m);
	}
	CHECK(read > 5, "%d read", read);
}

int
main(void)
{
	RUN(settings_are_set);
	RUN(columns_have_their_sources);
	RUN(positions);
	RUN(cut_maps);
	bytes_free(&padded);
	return check_done();
}
