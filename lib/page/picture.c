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

/* what runs, or leads out of the page; compared without regard to case */
static const char *const refused[] = { "<script", "<foreignobject", "<iframe", "<image", "<use",
	"<!", "<?", "href", "src=", "url(", "@import", "style>" };

static const char *
fault_at(struct field f)
{
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		struct field what = field_of(refused[i]);

		if (f.n >= what.n && field_same_word((struct field){ f.p, what.n }, what))
			return refused[i];
	}
	return NULL;
}

int
picture_check(const char *path, struct field svg, struct err *err)
{
	struct field rest = element_of(svg), on = field_of("on");
	bool tag = false;
	long depth = 0;
	char quote = '\0';

	if (!field_starts(rest, "<svg"))
		return err_set(err, "%s: no picture of SVG", path);
	if (utf8_fault(rest) != rest.n)
		return err_set(err, "%s: not UTF-8", path);
	for (; rest.n > 0; rest.p++, rest.n--) {
		char c = rest.p[0];
		const char *fault = fault_at(rest);

		if (fault == NULL && tag && quote == '\0' && c == ' ' && rest.n > 3 &&
		    field_same_word((struct field){ rest.p + 1, 2 }, on))
			fault = "on...";
		if ((unsigned char)c < ' ' && c != '\n' && c != '\t' && c != '\r')
			fault = "a control byte";
		if (fault != NULL)
			return err_set(err, "%s: has no place in a picture: '%s'", path, fault);
		if (quote != '\0') {
			quote = c == quote ? '\0' : quote;
		} else if (tag && (c == '"' || c == '\'')) {
			quote = c;
		} else if (tag && c == '>') {
			tag = false;
			depth -= rest.p[-1] == '/';
		} else if (!tag && c == '<') {
			tag = true;
			depth += rest.n > 1 && rest.p[1] == '/' ? -1 : 1;
		}
		if (depth < 0 || (depth == 0 && !tag && c != '>' && strchr(" \r\n\t", c) == NULL))
			break;
	}
	if (rest.n > 0 || depth != 0 || tag)
		return err_set(err, "%s: cut off, or more than one element", path);
	return 0;
}

void
picture_html(struct field svg, struct bytes *b)
{
	bytes_add_text(b, "<figure>");
	bytes_add_field(b, element_of(svg));
	bytes_add_text(b, "</figure>\n");
}
