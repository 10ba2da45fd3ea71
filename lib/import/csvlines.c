#include "import/csvlines.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/mem.h"
#include "base/os.h"
#include "table/head.h"

/* --- blocks ---------------------------------------------------------------------------------- */

/* Reads a block behind what is there. false at the end of the file and at trouble. */
static bool
fill(struct csvlines *in)
{
	ssize_t got;

	if (in->ended)
		return false;
	if (in->cap - in->len < in->block && in->at > 0) {
		memmove(in->buf, in->buf + in->at, in->len - in->at);
		in->len -= in->at;
		in->at = 0;
	}
	if (in->cap - in->len < in->block)
		in->buf = mem_grow(in->buf, &in->cap, in->len + in->block, 1);
	if (!in->regular && in->wait != NULL)
		in->wait(in->wait_arg);
	got = os_read(in->fd, in->buf + in->len, in->block);
	if (got < 0)
		err_set(in->err, "%s: %s", in->name, strerror(errno));
	in->ended = got <= 0;
	in->len += got > 0 ? (size_t)got : 0;
	return got > 0;
}

static int
check_start(struct csvlines *in)
{
	struct field start = csvlines_start(in);

	if (!head_is_utf16(start))
		head_is_foreign(in->err, in->name, start);
	return err_is_set(in->err) ? -1 : 0;
}

int
csvlines_open(struct csvlines *in, const char *path, size_t block, struct err *err)
{
	*in = (struct csvlines){ .name = path, .err = err, .block = block };
	in->fd = os_open(path, &in->regular, err);
	/* the first bytes say what kind of file it is */
	while (in->fd >= 0 && in->len < 4 && fill(in))
		;
	return check_start(in);
}

int
csvlines_memory(struct csvlines *in, const char *name, struct field text, struct err *err)
{
	*in = (struct csvlines){ .name = name, .err = err, .fd = -1 };
	/* never written to: with `ended` set there is nothing to read, move or grow */
	memcpy(&in->buf, &text.p, sizeof in->buf);
	in->len = text.n;
	in->ended = in->regular = true;
	return check_start(in);
}

struct field
csvlines_start(const struct csvlines *in)
{
	return (struct field){ in->buf != NULL ? in->buf : "", in->len };
}

/* --- encodings ------------------------------------------------------------------------------- */

/* UTF-16 and UTF-32 without a byte order have a mark that tells. NULL, err set: they lack it. */
static const char *
byte_order(struct csvlines *in, const char *encoding)
{
	static const struct {
		const char *name, *mark;
		size_t n;
		const char *means;
	} orders[] = { { "UTF-16", "\xff\xfe", 2, "UTF-16LE" },
		{ "UTF-16", "\xfe\xff", 2, "UTF-16BE" },
		{ "UTF-32", "\xff\xfe\0\0", 4, "UTF-32LE" },
		{ "UTF-32", "\0\0\xfe\xff", 4, "UTF-32BE" } };
	bool wide = false;

	for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
		struct field mark = { orders[i].mark, orders[i].n };

		wide |= strcmp(encoding, orders[i].name) == 0;
		if ((strcmp(encoding, orders[i].name) == 0 ||
			strcmp(encoding, orders[i].means) == 0) &&
		    field_begins(csvlines_start(in), mark)) {
			in->at = mark.n;
			return orders[i].means;
		}
	}
	if (!wide)
		return encoding;
	err_set(in->err, "%s: no byte-order mark: the map must say %sLE or %sBE", in->name,
	    encoding, encoding);
	return NULL;
}

int
csvlines_decode(struct csvlines *in, const char *encoding)
{
	const char *why;
	struct field start = csvlines_start(in);
	bool utf8 = encoding == NULL || recode_is_utf8(encoding);

	in->encoding = encoding;
	if (!utf8) {
		encoding = byte_order(in, encoding);
		if (encoding == NULL)
			return -1;
		in->recode = recode_open(encoding, &why);
		if (in->recode == NULL)
			return err_set(in->err, "%s: %s: '%s'", in->name, why, encoding);
	}
	if (head_is_utf16(start) && (utf8 || recode_unit(in->recode) == 1))
		return err_set(
		    in->err, "%s: UTF-16 text: the map must name it (encoding UTF-16)", in->name);
	if (field_starts(start, BYTES_BOM)) {
		if (!utf8)
			return err_set(in->err, "%s: UTF-8 text by its byte-order mark, not %s",
			    in->name, encoding);
		in->at = sizeof BYTES_BOM - 1;
	}
	return 0;
}

/* --- lines ----------------------------------------------------------------------------------- */

/* The offset of the line feed in p[from] to p[n - 1], a whole number of units from p, or n. */
static size_t
find_feed(const struct csvlines *in, const char *p, size_t from, size_t n)
{
	size_t unit = recode_unit(in->recode), low = recode_little(in->recode) ? 0 : unit - 1;

	if (unit == 1) {
		const char *feed = from < n ? memchr(p + from, '\n', n - from) : NULL;

		return feed != NULL ? (size_t)(feed - p) : n;
	}
	for (size_t i = from - from % unit; i + unit <= n; i += unit) {
		bool feed = p[i + low] == '\n';

		for (size_t k = 0; k < unit; k++)
			feed &= k == low || p[i + k] == '\0';
		if (feed)
			return i;
	}
	return n;
}

void
csvlines_fault(struct csvlines *in, size_t byte, const char *what, int value)
{
	if (in->fault_line != 0)
		return;
	in->fault_line = in->number;
	if (value < 0)
		snprintf(in->fault, sizeof in->fault, "byte %zu: %s", byte, what);
	else
		snprintf(in->fault, sizeof in->fault, "byte %zu is not %.40s: \\x%02x%s", byte,
		    what, (unsigned)value,
		    in->recode == NULL ? ": name the encoding in the map" : "");
}

/* Finds the end of the line that starts at l->at; converted, it is appended to in->decoded. */
static bool
take_converted(struct csvlines *in, struct csvline *l)
{
	size_t searched = 0, end, fault;
	struct field raw;

	for (;;) {
		size_t n = in->len - in->at - l->at;

		end = find_feed(in, in->buf + in->at + l->at, searched, n);
		if (end < n)
			break;
		searched = n;
		if (!fill(in))
			break;
	}
	raw = (struct field){ in->buf + in->at + l->at, end };
	l->n = end;
	l->taken = in->len - in->at - l->at > end ? end + recode_unit(in->recode) : end;
	if (l->taken == 0 || err_is_set(in->err))
		return false;
	l->text_at = in->decoded.n;
	fault = recode_line(in->recode, raw, &in->decoded);
	l->text_n = in->decoded.n - l->text_at;
	if (raw.p != NULL && fault < raw.n)
		csvlines_fault(in, fault + 1, in->encoding, (unsigned char)raw.p[fault]);
	csvscan_begin(&in->scan);
	if (csvscan(&in->scan, in->decoded.p + l->text_at, l->text_n))
		csvlines_fault(in, 1, "a line feed of another kind", -1);
	return true;
}

static bool
take_utf8(struct csvlines *in, struct csvline *l)
{
	size_t fault;

	csvscan_begin(&in->scan);
	l->taken = 1;
	while (!csvscan(&in->scan, in->buf + in->at + l->at, in->len - in->at - l->at))
		if (!fill(in)) {
			l->taken = 0;
			break;
		}
	l->n = l->text_n = in->scan.at;
	l->taken += l->n;
	l->text_at = l->at;
	if (l->taken == 0 || err_is_set(in->err))
		return false;
	if (in->scan.beyond) {
		struct field text = { in->buf + in->at + l->at, l->n };

		fault = utf8_fault(text);
		if (fault < text.n)
			csvlines_fault(in, fault + 1, "UTF-8", (unsigned char)text.p[fault]);
	}
	return true;
}

bool
csvlines_take(struct csvlines *in, struct csvline *l)
{
	if (!(in->recode != NULL ? take_converted(in, l) : take_utf8(in, l)))
		return false;
	if (in->scan.nul != SIZE_MAX)
		csvlines_fault(in, in->scan.nul + 1,
		    in->number == 1 && in->recode == NULL
			? "NUL: UTF-16? the map must name it (encoding UTF-16LE or UTF-16BE)"
			: "NUL",
		    -1);
	if (l->text_n > 0 && csvlines_text(in, l)[l->text_n - 1] == '\r')
		l->text_n--;
	return true;
}

struct field
csvlines_raw(const struct csvlines *in, size_t n)
{
	struct field raw = { in->buf + in->at, n };
	size_t unit = in->recode != NULL ? recode_unit(in->recode) : 1;
	size_t low = in->recode == NULL || recode_little(in->recode) ? 0 : unit - 1;

	if (raw.n < unit)
		return raw;
	for (size_t i = 0; i < unit; i++)
		if (raw.p[raw.n - unit + i] != (i == low ? '\r' : '\0'))
			return raw;
	raw.n -= unit;
	return raw;
}

void
csvlines_close(struct csvlines *in)
{
	if (in->cap > 0)
		free(in->buf);
	if (in->fd > STDIN_FILENO)
		close(in->fd);
	recode_close(in->recode);
	csvscan_free(&in->scan);
	bytes_free(&in->decoded);
}
