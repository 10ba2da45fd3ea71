#include "page/picture.h"

#include <errno.h>
#include <unistd.h>

#include "base/os.h"

int
file_read(const char *path, struct bytes *b, struct err *err)
{
	enum { BLOCK = 1 << 16 };
	bool regular;
	int fd = os_open(path, &regular, err);
	ssize_t n = 0;

	if (fd < 0)
		return -1;
	while ((n = os_read(fd, bytes_room(b, BLOCK), BLOCK)) > 0)
		b->n += (size_t)n;
	if (n < 0)
		err_set(err, "%s: %s", path, strerror(errno));
	close(fd);
	return n < 0 ? -1 : 0;
}

/* From the element on, without the declaration that may stand before it. */
static struct field
element_of(struct field svg)
{
	size_t i = 0;

	if (field_starts(svg, "<?xml"))
		while (i < svg.n && svg.p[i++] != '>')
			;
	while (i < svg.n && strchr(" \t\r\n", svg.p[i]) != NULL)
		i++;
	return (struct field){ svg.p + i, svg.n - i };
}

/* --- what may stand in a picture: what thrum-plot writes ------------------------------------- */

static const char elements[] = "svg title desc rect path circle text";
static const char attributes[] =
    "xmlns width height viewBox role font-family font-size font-weight fill stroke stroke-width "
    "stroke-dasharray text-anchor paint-order x y cx cy r d";

enum { DEEP = 8 };

struct parser {
	struct field rest;
	struct field open[DEEP]; /* the elements that are not closed yet */
	size_t depth;
	struct field fault; /* n 0: the picture is not whole */
};

static void
skip_blanks(struct parser *p)
{
	while (p->rest.n > 0 && strchr(" \t\r\n", p->rest.p[0]) != NULL)
		p->rest = field_behind(p->rest, 1);
}

static bool
take_if(struct parser *p, const char *text)
{
	bool is = field_starts(p->rest, text);

	if (is)
		p->rest = field_behind(p->rest, strlen(text));
	return is;
}

/* A name among those allowed; false: another one, which is the fault. */
static bool
take_name(struct parser *p, const char *allowed, struct field *name)
{
	size_t n = 0;

	while (n < p->rest.n && strchr(" \t\r\n=/<>\"'", p->rest.p[n]) == NULL)
		n++;
	*name = (struct field){ p->rest.p, n };
	p->rest = field_behind(p->rest, n);
	if (n > 0 && field_among(field_of(allowed), ' ', *name) != SIZE_MAX)
		return true;
	p->fault = *name;
	return false;
}

/* A value in quotes: nothing that is put together from other text, or fetched. */
static bool
take_value(struct parser *p)
{
	char quote = p->rest.n > 0 ? p->rest.p[0] : '\0';
	size_t n = 1;

	if (quote != '"' && quote != '\'')
		return false;
	while (n < p->rest.n && p->rest.p[n] != quote) {
		if (strchr("&<>(\\", p->rest.p[n]) != NULL) {
			p->fault = (struct field){ p->rest.p + n, 1 };
			return false;
		}
		n++;
	}
	if (n == p->rest.n)
		return false;
	p->rest = field_behind(p->rest, n + 1);
	return true;
}

/* The tag behind its "<". */
static bool
take_tag(struct parser *p)
{
	struct field name, attribute;

	if (take_if(p, "/")) {
		if (!take_name(p, elements, &name) || p->depth == 0 ||
		    !field_same(name, p->open[p->depth - 1]))
			return false;
		p->depth--;
		skip_blanks(p);
		return take_if(p, ">");
	}
	if (!take_name(p, elements, &name) || p->depth == DEEP)
		return false;
	for (skip_blanks(p); p->rest.n > 0; skip_blanks(p)) {
		if (take_if(p, "/>"))
			return true;
		if (take_if(p, ">")) {
			p->open[p->depth++] = name;
			return true;
		}
		if (!take_name(p, attributes, &attribute) || !take_if(p, "=") || !take_value(p))
			return false;
	}
	return false;
}

/* One element, with all that is in it. */
static bool
take_element(struct parser *p)
{
	do {
		size_t n = 0;

		while (n < p->rest.n && p->rest.p[n] != '<')
			n++;
		if (n == p->rest.n)
			return false;
		p->rest = field_behind(p->rest, n + 1);
		if (!take_tag(p))
			return false;
	} while (p->depth > 0);
	skip_blanks(p);
	return p->rest.n == 0;
}

int
picture_check(const char *path, struct field svg, struct err *err)
{
	struct parser p = { .rest = element_of(svg), .fault = { "", 0 } };
	char shown[ERR_SHOWN];

	if (!field_starts(p.rest, "<svg"))
		return err_set(err, "%s: no picture of SVG", path);
	if (utf8_fault(p.rest) != p.rest.n)
		return err_set(err, "%s: not UTF-8", path);
	for (size_t i = 0; i < p.rest.n; i++)
		if ((unsigned char)p.rest.p[i] < ' ' && strchr("\t\r\n", p.rest.p[i]) == NULL)
			return err_set(err, "%s: a control byte has no place in a picture", path);
	if (take_element(&p))
		return 0;
	if (p.fault.n > 0)
		return err_set(err, "%s: has no place in a picture: '%s'", path,
		    err_show(shown, p.fault.p, p.fault.n));
	return err_set(err, "%s: cut off, or more than one element", path);
}

void
picture_html(struct field svg, struct bytes *b)
{
	bytes_add_text(b, "<figure>");
	bytes_add_field(b, element_of(svg));
	bytes_add_text(b, "</figure>\n");
}
