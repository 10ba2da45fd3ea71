#include "import/export.h"

#include <stdio.h>

#include "base/num.h"
#include "table/pattern.h"

/* --- cells in any order ---------------------------------------------------------------------- */

static void
begin(struct export *x)
{
	struct cells *c = &x->cells;

	while (c->n < x->wanted.n)
		cells_add(c, (struct field){ "", 0 });
	for (size_t i = 0; i < c->n; i++)
		x->at[i] = SIZE_MAX;
	x->guess = 0;
}

/* The cells, now that they do not move any more. */
static void
finish(struct export *x)
{
	struct cells *c = &x->cells;

	for (size_t i = 0; i < c->n; i++)
		c->f[i] = x->at[i] == SIZE_MAX
			      ? (struct field){ "", 0 }
			      : (struct field){ c->copied.p + x->at[i], c->f[i].n };
}

/* The place of a name among the wanted ones, usually the next; or SIZE_MAX. */
static size_t
find(struct export *x, struct field name)
{
	for (size_t k = 0; k < x->wanted.n; k++) {
		size_t i = (x->guess + k) % x->wanted.n;

		if (field_same(x->wanted.names[i], name)) {
			x->guess = i + 1;
			return i;
		}
	}
	return SIZE_MAX;
}

/* Sets a cell to a text, blanks in the place of what no field may hold. */
static void
put(struct export *x, size_t i, struct field f)
{
	struct cells *c = &x->cells;

	x->at[i] = c->copied.n;
	x->wanted.seen[i] = true;
	c->f[i].n = f.n;
	cells_copy(c, f);
}

static void
fault_at(struct export *x, size_t byte, const char *what, struct field value)
{
	char text[120], shown[ERR_SHOWN];

	value.n = value.n < 40 ? value.n : 40;
	snprintf(text, sizeof text, "%s: '%.60s'", what, err_show(shown, value.p, value.n));
	lines_fault(&x->in, byte + 1, value.p != NULL ? text : what, -1);
}

/* --- fixed places ---------------------------------------------------------------------------- */

static void
read_fixed(struct export *x, struct field text)
{
	const struct wanted *w = &x->wanted;
	uint64_t letter = 0;
	uint32_t value;

	for (size_t i = 0; i < w->n; i++)
		x->at[i] = text.n;
	/* where each cell begins, and then how long it is */
	for (size_t at = 0; at < text.n;) {
		size_t n = pattern_letter(field_behind(text, at), &value);
		bool named = text.p[at] == ' ' || w->others;

		letter++;
		for (size_t i = 0; i < w->n; i++) {
			if (letter == w->places[i].first)
				x->at[i] = at;
			if (letter >= w->places[i].first && letter <= w->places[i].last) {
				named = true;
				x->cells.f[i].n = at + n - x->at[i];
			}
		}
		if (!named)
			fault_at(x, at, "something where no rule of the map looks",
			    field_behind(text, at));
		at += n;
	}
	for (size_t i = 0; i < w->n; i++) {
		struct field f = { text.p + x->at[i], x->at[i] < text.n ? x->cells.f[i].n : 0 };

		put(x, i, cells_trimmed(f));
	}
}

/* --- labels ---------------------------------------------------------------------------------- */

bool
named_is_border(struct field text)
{
	for (size_t i = 0; i < text.n; i++) {
		unsigned char c = (unsigned char)text.p[i];

		if (num_is_digit((char)c) || (unsigned)((c | 0x20) - 'a') < 26 || c >= 0x80 ||
		    c == (unsigned char)':')
			return false;
	}
	return true;
}

/* A line "label: value" of the block. false: it has the label already, the line begins another. */
static bool
read_label(struct export *x, struct field text)
{
	const char *colon = text.n > 0 ? memchr(text.p, x->dialect.delimiter, text.n) : NULL;
	struct field label = { text.p, colon != NULL ? (size_t)(colon - text.p) : 0 };
	size_t i;

	if (colon == NULL) {
		fault_at(x, 0, "a line without a label", text);
		return true;
	}
	label = cells_trimmed(label);
	i = find(x, label);
	if (i == SIZE_MAX) {
		if (!x->wanted.others)
			fault_at(x, 0, "a label that no rule of the map names", label);
		return true;
	}
	if (x->at[i] != SIZE_MAX)
		return false;
	put(x, i,
	    cells_trimmed((struct field){ colon + 1, text.n - (size_t)(colon + 1 - text.p) }));
	return true;
}

static bool
read_block(struct export *x, struct line *l)
{
	struct line next = *l;

	for (;;) {
		struct field text = { lines_text(&x->in, &next), next.text_n };
		bool comment = x->dialect.comment.n > 0 && field_begins(text, x->dialect.comment);

		if (!comment && (named_is_border(text) || !read_label(x, text))) {
			x->in.number--; /* this line is not the block's */
			return true;
		}
		*l = next;
		next = (struct line){ .at = l->at + l->taken };
		x->in.number++;
		if (!lines_take(&x->in, &next)) {
			x->in.number--;
			return !err_is_set(x->in.err);
		}
	}
}

/* --- JSON ------------------------------------------------------------------------------------ */

struct json {
	struct field rest;
	const char *line;
	struct bytes *text; /* of the string read last */
	const char *fault;
};

static void
pass(struct json *j, size_t n)
{
	j->rest.p += n;
	j->rest.n -= n;
}

static bool
take(struct json *j, const char *s)
{
	bool there = field_starts(j->rest, s);

	if (there)
		pass(j, strlen(s));
	return there;
}

static void
pass_blanks(struct json *j)
{
	while (j->rest.n > 0 && (*j->rest.p == ' ' || *j->rest.p == '\t' || *j->rest.p == '\r'))
		pass(j, 1);
}

/* four hexadecimal digits, as in an escape */
static bool
take_hex(struct json *j, uint32_t *value)
{
	*value = 0;
	for (int i = 0; i < 4; i++) {
		static const char digits[] = "0123456789abcdef";
		const char *at = j->rest.n > 0 ? memchr(digits, byte_lower(*j->rest.p), 16) : NULL;

		if (at == NULL)
			return false;
		*value = *value << 4 | (uint32_t)(at - digits);
		pass(j, 1);
	}
	return true;
}

/* one letter as UTF-8 (RFC 3629) */
static void
add_letter(struct bytes *b, uint32_t c)
{
	char utf8[4];
	size_t n = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;

	for (size_t i = n; i-- > 1; c >>= 6)
		utf8[i] = (char)(0x80 | (c & 0x3f));
	utf8[0] = (char)(n == 1 ? c : (0xf00u >> n & 0xf0u) | c);
	bytes_add(b, utf8, n);
}

static bool
take_escape(struct json *j)
{
	static const char from[] = "\"\\/bfnrt", to[] = "\"\\/\b\f\n\r\t";
	const char *at = j->rest.n > 0 && *j->rest.p != '\0' ? strchr(from, *j->rest.p) : NULL;
	uint32_t letter, low;

	if (at != NULL) {
		pass(j, 1);
		bytes_add(j->text, to + (at - from), 1);
		return true;
	}
	if (!take(j, "u") || !take_hex(j, &letter))
		return false;
	if (letter >= 0xd800 && letter < 0xdc00) {
		if (!take(j, "\\u") || !take_hex(j, &low) || low < 0xdc00 || low > 0xdfff)
			return false;
		letter = 0x10000 + ((letter - 0xd800) << 10) + (low - 0xdc00);
	}
	if (letter == 0 || (letter >= 0xdc00 && letter < 0xe000))
		return false;
	add_letter(j->text, letter);
	return true;
}

/* a string, behind its first quote, into j->text */
static bool
take_string(struct json *j)
{
	j->text->n = 0;
	while (j->rest.n > 0 && *j->rest.p != '"') {
		size_t n = 0;

		if (take(j, "\\")) {
			if (!take_escape(j)) {
				j->fault = "an escape that JSON does not have";
				return false;
			}
			continue;
		}
		while (n < j->rest.n && j->rest.p[n] != '"' && j->rest.p[n] != '\\')
			n++;
		bytes_add(j->text, j->rest.p, n);
		pass(j, n);
	}
	if (!take(j, "\""))
		j->fault = "a string without its end";
	return j->fault == NULL;
}

/* a value, into *value; null is empty */
static bool
take_value(struct json *j, struct field *value)
{
	size_t n = 0;

	*value = (struct field){ "", 0 };
	if (take(j, "\"")) {
		if (!take_string(j))
			return false;
		*value = bytes_field(j->text);
		return true;
	}
	if (j->rest.n > 0 && (*j->rest.p == '{' || *j->rest.p == '[')) {
		j->fault = "an object or a list inside the object: only flat ones are read";
		return false;
	}
	while (n < j->rest.n && strchr(",} \t\r", j->rest.p[n]) == NULL)
		n++;
	*value = (struct field){ j->rest.p, n };
	pass(j, n);
	if (field_is(*value, "null"))
		*value = (struct field){ "", 0 };
	else if (n == 0 || !(num_is_digit(*value->p) || *value->p == '-' ||
			       field_is(*value, "true") || field_is(*value, "false")))
		j->fault = "no value of JSON";
	return j->fault == NULL;
}

/* a member's name and value */
static void
read_member(struct export *x, struct json *j)
{
	struct field value, name;
	size_t i;

	if (!take(j, "\"")) {
		j->fault = "no name in quotes";
		return;
	}
	if (!take_string(j))
		return;
	name = bytes_field(j->text);
	i = find(x, name);
	if (i == SIZE_MAX && !x->wanted.others)
		fault_at(
		    x, (size_t)(j->rest.p - j->line), "a name that no rule of the map names", name);
	pass_blanks(j);
	if (!take(j, ":")) {
		j->fault = "no colon behind a name";
		return;
	}
	pass_blanks(j);
	if (!take_value(j, &value) || i == SIZE_MAX)
		return;
	if (x->at[i] != SIZE_MAX)
		j->fault = "a name that stands there twice";
	else
		put(x, i, value);
}

static void
read_json(struct export *x, struct field text)
{
	struct json j = { text, text.p, &x->string, NULL };

	pass_blanks(&j);
	if (!take(&j, "{"))
		j.fault = "not an object of JSON";
	pass_blanks(&j);
	for (bool more = j.fault == NULL && !take(&j, "}"); more;) {
		read_member(x, &j);
		pass_blanks(&j);
		more = j.fault == NULL && take(&j, ",");
		if (more)
			pass_blanks(&j);
		else if (j.fault == NULL && !take(&j, "}"))
			j.fault = "an object without its end";
	}
	pass_blanks(&j);
	if (j.fault == NULL && j.rest.n > 0)
		j.fault = "something behind the object";
	if (j.fault != NULL)
		fault_at(x, (size_t)(j.rest.p - text.p), j.fault, (struct field){ NULL, 0 });
}

/* --------------------------------------------------------------------------------------------- */

bool
named_read(struct export *x, struct line *l)
{
	struct field text = { lines_text(&x->in, l), l->text_n };
	bool good = true;

	begin(x);
	if (x->dialect.layout == LAYOUT_LABELS)
		good = read_block(x, l);
	else if (x->dialect.layout == LAYOUT_JSON)
		read_json(x, text);
	else
		read_fixed(x, text);
	finish(x);
	return good;
}
