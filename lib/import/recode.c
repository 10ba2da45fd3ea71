#include "import/recode.h"

#include <errno.h>
#include <stdlib.h>

#include "base/mem.h"

enum { CHUNK = 16 * 1024 };

bool
recode_is_utf8(const char *name)
{
	return field_same_word(field_of(name), field_of("UTF-8")) ||
	       field_same_word(field_of(name), field_of("UTF8"));
}

/* letters, digits, and what stands between them; no "//", which would change what iconv does */
static bool
is_name(const char *name)
{
	static const char allowed[] =
	    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.:";

	return name[0] != '\0' && strlen(name) < 40 && name[strspn(name, allowed)] == '\0';
}

/* Whether what stands in tables looks the same in this encoding as in ASCII. */
static bool
keeps_ascii(struct recode *r)
{
	static const char ascii[] = "\t\r !\"#$%&'()*+,-./0123456789:;<=>?@"
				    "ABCDEFGHIJKLMNOPQRSTUVWXYZ[]_abcdefghijklmnopqrstuvwxyz{|}\n";
	struct field all = { ascii, sizeof ascii - 1 };
	struct bytes out = { NULL, 0, 0 };
	bool same = recode_line(r, all, &out) == all.n && field_same(all, bytes_field(&out));

	bytes_free(&out);
	return same;
}

struct recode *
recode_open(const char *name, const char **why)
{
	static const struct {
		const char *name;
		size_t unit;
		bool little;
	} wide[] = { { "UTF-16LE", 2, true }, { "UTF-16BE", 2, false }, { "UCS-2LE", 2, true },
		{ "UCS-2BE", 2, false }, { "UTF-32LE", 4, true }, { "UTF-32BE", 4, false } };
	struct recode *r;
	iconv_t to_utf8 = is_name(name) ? iconv_open("UTF-8", name) : (iconv_t)-1;

	*why = "encoding that iconv does not know";
	if (to_utf8 == (iconv_t)-1)
		return NULL;
	r = mem_zeroed(1, sizeof *r);
	*r = (struct recode){ .to_utf8 = to_utf8, .unit = 1 };
	for (size_t i = 0; i < sizeof wide / sizeof wide[0]; i++)
		if (field_same_word(field_of(name), field_of(wide[i].name))) {
			r->unit = wide[i].unit;
			r->little = wide[i].little;
		}
	if (r->unit == 1 && !keeps_ascii(r)) {
		*why = "encoding without ASCII's characters in their places";
		recode_close(r);
		return NULL;
	}
	return r;
}

size_t
recode_line(struct recode *r, struct field raw, struct bytes *out)
{
	size_t fault = raw.n, left = raw.n;
	char *in = NULL, *to;

	memcpy(&in, &raw.p, sizeof in); /* iconv does not write to it */
	iconv(r->to_utf8, NULL, NULL, NULL, NULL);
	while (left > 0) {
		size_t want = left < CHUNK ? left * 4 + 16 : CHUNK * 4, room = want;
		size_t done;

		to = bytes_room(out, room);
		done = iconv(r->to_utf8, &in, &left, &to, &room);

		out->n += want - room;
		if (done != (size_t)-1 || errno == E2BIG)
			continue;
		if (fault == raw.n)
			fault = raw.n - left;
		bytes_add_text(out, "?");
		in += left < r->unit ? left : r->unit;
		left -= left < r->unit ? left : r->unit;
	}
	/* some encodings hold a character back until they know that no accent follows */
	to = bytes_room(out, 16);
	left = 16;
	iconv(r->to_utf8, NULL, NULL, &to, &left);
	out->n += 16 - left;
	return fault;
}

void
recode_close(struct recode *r)
{
	if (r != NULL)
		iconv_close(r->to_utf8);
	free(r);
}
