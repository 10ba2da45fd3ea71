#include "page/svg.h"

#include <math.h>
#include <stdarg.h>

#include "base/num.h"
#include "page/width.h"

#define CUT "\xe2\x80\xa6" /* shown where a text was cut */

/* --- measuring ------------------------------------------------------------------------------- */

/*
 * Advance widths of the letters from blank to tilde, in hundredths of the size, plain and bold: DejaVu
 * Sans 2.37 as a browser measures it, rounded up.
 */
/* clang-format off */
static const unsigned char advance[2][95] = {
	{
		32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, 64, 64, 64, 64,
		64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 54, 100, 69, 69, 70, 78, 64, 58,
		78, 76, 30, 30, 66, 56, 87, 75, 79, 61, 79, 70, 64, 62, 74, 69, 99, 69, 62, 69,
		40, 34, 40, 84, 50, 50, 62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58, 28, 98, 64,
		62, 64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84,
	},
	{
		35, 46, 53, 84, 70, 101, 88, 31, 46, 46, 53, 84, 38, 42, 38, 37, 70, 70, 70,
		70, 70, 70, 70, 70, 70, 70, 40, 40, 84, 84, 84, 59, 100, 78, 77, 74, 84, 69,
		69, 83, 84, 38, 38, 78, 64, 100, 84, 86, 74, 86, 78, 73, 69, 82, 78, 111, 78,
		73, 73, 46, 37, 46, 84, 50, 50, 68, 72, 60, 72, 68, 44, 72, 72, 35, 35, 67, 35,
		105, 72, 69, 72, 72, 50, 60, 48, 72, 66, 93, 65, 66, 59, 72, 37, 72, 84,
	},
};
/* clang-format on */

static double
size_of(unsigned style)
{
	return style & SVG_TITLE ? 17 : style & SVG_SMALL ? 12 : SVG_SIZE;
}

double
svg_width(struct field f, unsigned style)
{
	const unsigned char *wide = advance[(style & SVG_BOLD) != 0];
	size_t hundredths = 0;

	for (size_t i = 0; i < f.n; i++) {
		unsigned char c = (unsigned char)f.p[i];
		size_t n = 1;

		if (c < 0x80) {
			hundredths += c >= ' ' && c <= '~' ? wide[c - ' '] : 0;
			continue;
		}
		/* what the table lacks: an em, and a little more, for each column of a terminal */
		while (i + n < f.n && ((unsigned char)f.p[i + n] & 0xc0) == 0x80)
			n++;
		hundredths += 105 * width_field((struct field){ f.p + i, n });
		i += n - 1;
	}
	return (double)hundredths * size_of(style) / 100;
}

double
svg_step(double span, int most)
{
	double least = span / most, step = pow(10, floor(log10(least)));

	for (int i = 0; step < least * (1 - 1e-9); i++)
		step *= i % 3 == 1 ? 2.5 : 2;
	return step;
}

struct field
svg_number(char text[32], double x, double step)
{
	char whole[NUM_FIXED];
	int places = 0;

	while (places < 6 && step < 0.999) {
		step *= 10;
		places++;
	}
	size_t n = num_fixed(whole, x, places);
	memcpy(text, whole, n < 32 ? n : 32);
	return (struct field){ text, n < 32 ? n : 32 };
}

/* --- writing --------------------------------------------------------------------------------- */

void
svg_put(struct svg *s, const char *form, ...)
{
	char number[NUM_FIXED];
	va_list args;

	va_start(args, form);
	for (; *form != '\0'; form++)
		if (*form == '%')
			bytes_add(&s->body, number, num_fixed(number, va_arg(args, double), 1));
		else if (*form == '$')
			bytes_add_text(&s->body, va_arg(args, const char *));
		else
			bytes_add(&s->body, form, 1);
	va_end(args);
}

/*
 * What XML has no room for, and what would turn the letters of other texts round (U+202A to 202E, U+2066
 * to 2069), is shown by its bytes.
 */
static bool
is_unfit(const char *p, size_t left)
{
	return left >= 3 && ((memcmp(p, "\xef\xbf", 2) == 0 && (unsigned char)p[2] >= 0xbe) ||
				(memcmp(p, "\xe2\x80", 2) == 0 && (unsigned char)p[2] >= 0xaa &&
				    (unsigned char)p[2] <= 0xae) ||
				(memcmp(p, "\xe2\x81", 2) == 0 && (unsigned char)p[2] >= 0xa6 &&
				    (unsigned char)p[2] <= 0xa9));
}

/* Control bytes and what is unfit as \xNN. */
static void
clean(struct bytes *b, struct field f)
{
	struct bytes part = { NULL, 0, 0 };

	bytes_add_clean(&part, f);
	for (size_t i = 0; i < part.n; i++)
		if (is_unfit(part.p + i, part.n - i)) {
			bytes_add_escaped(b, (struct field){ part.p + i, 3 }, ESCAPE_NOT_ASCII);
			i += 2;
		} else {
			bytes_add(b, part.p + i, 1);
		}
	bytes_free(&part);
}

static void
add_markup(struct bytes *b, struct field f)
{
	for (size_t i = 0; i < f.n; i++)
		switch (f.p[i]) {
		case '&':
			bytes_add_text(b, "&amp;");
			break;
		case '<':
			bytes_add_text(b, "&lt;");
			break;
		case '>':
			bytes_add_text(b, "&gt;");
			break;
		case '"':
			bytes_add_text(b, "&quot;");
			break;
		default:
			bytes_add(b, f.p + i, 1);
		}
}

/* A text that is clean already. */
static void
put_text(struct svg *s, double x, double y, unsigned style, struct field f)
{
	const char *size = style & SVG_TITLE   ? " font-size=\"17\""
			   : style & SVG_SMALL ? " font-size=\"12\""
					       : "";

	svg_put(s, "<text x=\"%\" y=\"%\"$$$$$>", x, y, size,
	    style & SVG_BOLD ? " font-weight=\"bold\"" : "",
	    style & SVG_GREY ? " fill=\"#444\"" : "",
	    style & SVG_END      ? " text-anchor=\"end\""
	    : style & SVG_MIDDLE ? " text-anchor=\"middle\""
				 : "",
	    style & SVG_HALO ? " stroke=\"#fff\" stroke-width=\"4\" paint-order=\"stroke\"" : "");
	add_markup(&s->body, f);
	svg_put(s, "</text>\n");
}

void
svg_text(struct svg *s, double x, double y, unsigned style, struct field f)
{
	struct bytes b = { NULL, 0, 0 };

	clean(&b, f);
	put_text(s, x, y, style, bytes_field(&b));
	bytes_free(&b);
}

void
svg_text_in(struct svg *s, double x, double y, double room, unsigned style, struct field f)
{
	struct bytes b = { NULL, 0, 0 };
	struct field all;

	clean(&b, f);
	all = bytes_field(&b);
	if (svg_width(all, style) > room) {
		size_t columns = width_field(all);

		room -= svg_width(field_of(CUT), style);
		while (columns > 0 && svg_width(width_cut(all, columns), style) > room)
			columns -= columns > 200 ? columns / 2 : 1;
		b.n = width_cut(all, columns).n;
		bytes_add_text(&b, CUT);
	}
	put_text(s, x, y, style, bytes_field(&b));
	bytes_free(&b);
}

void
svg_lines(struct svg *s, unsigned style, struct field f)
{
	double room = s->width - 2 * SVG_MARGIN, high = style & SVG_TITLE ? 22 : SVG_LINE;
	struct bytes b = { NULL, 0, 0 };
	struct field rest;

	clean(&b, f);
	rest = bytes_field(&b);
	while (rest.n > 0) {
		size_t n = 0, end;

		/* as many words as fit, and at least one, which is cut if it is too long by itself */
		do {
			for (end = n + (n > 0); end < rest.n && rest.p[end] != ' ';)
				end++;
			if (n > 0 && svg_width((struct field){ rest.p, end }, style) > room)
				break;
			n = end;
		} while (n < rest.n);
		s->y += high;
		svg_text_in(s, SVG_MARGIN, s->y, room, style, (struct field){ rest.p, n });
		n += n < rest.n;
		rest.p += n;
		rest.n -= n;
	}
	bytes_free(&b);
}

void
svg_bar(struct svg *s, double x, double y, double w, double h, enum svg_fill fill)
{
	svg_put(s, "<rect x=\"%\" y=\"%\" width=\"%\" height=\"%\" $/>\n", x, y, w, h,
	    fill == SVG_FILLED ? "fill=\"#8a8f98\"" : "fill=\"#fff\" stroke=\"#111\"");
	if (fill != SVG_HATCHED)
		return;
	svg_put(s, "<path stroke=\"#111\" d=\"");
	for (int i = 1; i * 5 < w + h; i++) {
		double at = i * 5;
		double from = at > w ? at - w : 0, to = at > h ? h : at;

		svg_put(s, "M% %L% %", x + at - from, y + from, x + at - to, y + to);
	}
	svg_put(s, "\"/>\n");
}

void
svg_open(struct svg *s, double width, struct field title, struct field verdict)
{
	*s = (struct svg){ .width = width, .y = 6 };
	clean(&s->title, title);
	clean(&s->verdict, verdict);
	svg_lines(s, SVG_BOLD | SVG_TITLE, title);
	s->y += 2;
	svg_lines(s, 0, verdict);
	s->y += 8;
}

void
svg_close(struct svg *s, struct bytes *out)
{
	struct svg head = { .width = s->width };

	svg_put(&head,
	    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%\" height=\"%\" "
	    "viewBox=\"0 0 % %\" role=\"img\" font-family=\"sans-serif\" font-size=\"13\" "
	    "fill=\"#111\">\n<title>",
	    s->width, s->y, s->width, s->y);
	add_markup(&head.body, bytes_field(&s->title));
	svg_put(&head, "</title>\n<desc>");
	add_markup(&head.body, bytes_field(&s->verdict));
	svg_put(&head, "</desc>\n<rect width=\"%\" height=\"%\" fill=\"#fff\"/>\n", s->width, s->y);
	bytes_add_field(out, bytes_field(&head.body));
	bytes_add_field(out, bytes_field(&s->body));
	bytes_add_text(out, "</svg>\n");
	bytes_free(&head.body);
	bytes_free(&s->body);
	bytes_free(&s->title);
	bytes_free(&s->verdict);
}
