#include "page/html.h"

/* what pages and sheets have in common: black on white, hair lines, what is wrong in bold */
static const char house_style[] =
    "* { box-sizing: border-box; }\n"
    "body { margin: 0; background: #fff; color: #000; font-family: sans-serif;\n"
    "  line-height: 1.35; overflow-wrap: anywhere; }\n"
    "table { border-collapse: collapse; }\n"
    "th, td { text-align: left; vertical-align: top; unicode-bidi: plaintext; }\n"
    "thead { display: table-header-group; }\n"
    "tr, svg, figure { break-inside: avoid; }\n";

void
html_begin(struct bytes *b, struct field title, const char *style)
{
	bytes_add_text(b,
	    "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n"
	    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\" />\n");
	html_fill(b, "<title>%</title>\n<style>\n", title);
	bytes_add_text(b, house_style);
	bytes_add_text(b, style);
	bytes_add_text(b, "</style>\n</head>\n<body>\n");
}

void
html_end(struct bytes *b)
{
	bytes_add_text(b, "</body>\n</html>\n");
}

/* What stands for the character at the start of f, in text; NULL: itself. */
static const char *
entity(struct field f, size_t *n)
{
	*n = 1;
	switch (f.p[0]) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\'':
		return "&#39;";
	default:
		break;
	}
	if (!field_starts(f, "\xef\xbf\xbe") && !field_starts(f, "\xef\xbf\xbf"))
		return NULL;
	*n = 3;
	return f.p[2] == '\xbe' ? "\\xef\\xbf\\xbe" : "\\xef\\xbf\\xbf";
}

void
html_text(struct bytes *b, struct field f)
{
	struct bytes clean = { NULL, 0, 0 };
	size_t from = 0, n;

	bytes_add_clean(&clean, f);
	for (size_t i = 0; i < clean.n; i++) {
		const char *in_place = entity((struct field){ clean.p + i, clean.n - i }, &n);

		if (in_place == NULL)
			continue;
		bytes_add(b, clean.p + from, i - from);
		bytes_add_text(b, in_place);
		from = i + n;
		i += n - 1;
	}
	if (clean.n > from)
		bytes_add(b, clean.p + from, clean.n - from);
	bytes_free(&clean);
}

void
html_fill(struct bytes *b, const char *markup, ...)
{
	struct field rest = field_of(markup);
	va_list args;

	va_start(args, markup);
	while (rest.p != NULL) {
		bytes_add_field(b, field_cut(&rest, '%'));
		if (rest.p != NULL)
			html_text(b, va_arg(args, struct field));
	}
	va_end(args);
}
