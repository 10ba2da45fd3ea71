#include "import/lines.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/mem.h"
#include "base/os.h"
#include "table/head.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { SCANNED = 64 };

/* --- one line, scanned ----------------------------------------------------------------------- */

void
scan_begin(struct scan *s)
{
	s->n = s->at = 0;
	s->nul = s->cr = s->first_quote = s->last_quote = SIZE_MAX;
	s->tab = s->beyond = false;
}

static void
room_for_block(struct scan *s)
{
	if (s->cap - s->n < SCANNED)
		s->marks = mem_grow(s->marks, &s->cap, s->n + SCANNED, sizeof *s->marks);
}

/* One byte; true if it ends the line. */
static inline bool
one_byte(struct scan *s, char c, size_t at)
{
	if (c == s->delimiter) {
		s->marks[s->n++] = at;
	} else if (c == '\n') {
		s->at = at;
		return true;
	} else if (c == '\r') {
		s->cr = s->cr == SIZE_MAX ? at : s->cr;
	} else if (c == '\0') {
		s->nul = s->nul == SIZE_MAX ? at : s->nul;
	} else if (c == '\t') {
		s->tab = true;
	} else if (c == s->quote) {
		s->first_quote = s->first_quote == SIZE_MAX ? at : s->first_quote;
		s->last_quote = at;
	} else {
		s->beyond |= (unsigned char)c >= 0x80;
	}
	return false;
}

static bool
bytes_to(struct scan *s, const char *line, size_t end)
{
	room_for_block(s);
	for (size_t i = s->at; i < end; i++)
		if (one_byte(s, line[i], i))
			return true;
	s->at = end;
	return false;
}

#ifdef __SSE2__

/* what is where in 64 bytes */
struct block {
	uint64_t delimiters, others, beyond; /* others: quotes, and everything up to CR */
};

static inline struct block
look(const char *p, __m128i delimiter, __m128i quote)
{
	const __m128i cr = _mm_set1_epi8('\r');
	struct block b = { 0, 0, 0 };

	for (int i = 0; i < SCANNED / 16; i++) {
		__m128i v = _mm_loadu_si128((const __m128i *)(const void *)(p + 16 * i));
		__m128i low = _mm_cmpeq_epi8(_mm_min_epu8(v, cr), v);
		__m128i quotes = _mm_cmpeq_epi8(v, quote);
		unsigned d = (unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(v, delimiter));
		unsigned o = (unsigned)_mm_movemask_epi8(_mm_or_si128(low, quotes));

		b.delimiters |= (uint64_t)d << (16 * i);
		b.others |= (uint64_t)o << (16 * i);
		b.beyond |= (uint64_t)(unsigned)_mm_movemask_epi8(v) << (16 * i);
	}
	b.others &= ~b.delimiters;
	return b;
}

/* what lies below bit i, from 0 to 64 */
static inline uint64_t
below(uint64_t mask, int i)
{
	return i == SCANNED ? mask : mask & (((uint64_t)1 << i) - 1);
}

/* Takes a block; true if the line ends in it. */
static inline bool
one_block(struct scan *s, const char *line, struct block b)
{
	int end = SCANNED;
	size_t n = s->n, at = s->at;

	for (uint64_t others = b.others; others != 0; others &= others - 1) {
		int i = __builtin_ctzll(others);

		if (one_byte(s, line[at + (size_t)i], at + (size_t)i)) {
			end = i;
			break;
		}
	}
	s->beyond |= below(b.beyond, end) != 0;
	for (uint64_t d = below(b.delimiters, end); d != 0; d &= d - 1)
		s->marks[n++] = at + (size_t)__builtin_ctzll(d);
	s->n = n;
	s->at = at + (size_t)end;
	return end < SCANNED;
}

#endif

bool
scan_line(struct scan *s, const char *line, size_t n)
{
#ifdef __SSE2__
	const __m128i delimiter = _mm_set1_epi8(s->delimiter), quote = _mm_set1_epi8(s->quote);

	while (n - s->at >= SCANNED) {
		room_for_block(s);
		if (one_block(s, line, look(line + s->at, delimiter, quote)))
			return true;
	}
#endif
	while (s->at < n)
		if (bytes_to(s, line, n - s->at < SCANNED ? n : s->at + SCANNED))
			return true;
	return false;
}

void
scan_free(struct scan *s)
{
	free(s->marks);
	*s = (struct scan){ 0 };
}

/* --- blocks ---------------------------------------------------------------------------------- */

/* Reads a block behind what is there. false at the end of the file and at trouble. */
static bool
fill(struct lines *in)
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

/* Refuses what is no text; for spreadsheets it names a converter to text (Debian has both). */
static int
check_start(struct lines *in)
{
	struct field start = lines_start(in);

	if (field_starts(start, "PK\x03\x04"))
		err_set(in->err,
		    "%s: a ZIP or spreadsheet file: if it is .xlsx: xlsx2csv '%s' | thrum-import -m MAP",
		    in->name, in->name);
	else if (field_starts(start, "\xd0\xcf\x11\xe0"))
		err_set(in->err,
		    "%s: an old spreadsheet or document: if it is .xls: xls2csv -d utf-8 '%s' | "
		    "thrum-import -m MAP",
		    in->name, in->name);
	else if (!head_is_utf16(start))
		head_is_foreign(in->err, in->name, start);
	return err_is_set(in->err) ? -1 : 0;
}

int
lines_open(struct lines *in, const char *path, size_t block, struct err *err)
{
	*in = (struct lines){ .name = path, .err = err, .block = block };
	in->fd = os_open(path, &in->regular, err);
	/* the first bytes say what kind of file it is */
	while (in->fd >= 0 && in->len < 4 && fill(in))
		;
	return check_start(in);
}

int
lines_memory(struct lines *in, const char *name, struct field text, struct err *err)
{
	*in = (struct lines){ .name = name, .err = err, .fd = -1 };
	/* never written to: with `ended` set there is nothing to read, move or grow */
	memcpy(&in->buf, &text.p, sizeof in->buf);
	in->len = text.n;
	in->ended = in->regular = true;
	return check_start(in);
}

struct field
lines_start(const struct lines *in)
{
	return (struct field){ in->buf != NULL ? in->buf : "", in->len };
}

/* --- encodings ------------------------------------------------------------------------------- */

/* UTF-16 and UTF-32 without a byte order have a mark that tells. NULL, err set: they lack it. */
static const char *
byte_order(struct lines *in, const char *encoding)
{
	static const struct {
		const char *name;
		struct field mark;
		const char *means;
	} orders[] = { { "UTF-16", { "\xff\xfe", 2 }, "UTF-16LE" },
		{ "UTF-16", { "\xfe\xff", 2 }, "UTF-16BE" },
		{ "UTF-32", { "\xff\xfe\0\0", 4 }, "UTF-32LE" },
		{ "UTF-32", { "\0\0\xfe\xff", 4 }, "UTF-32BE" } };
	bool wide = false;

	for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
		bool named = strcmp(encoding, orders[i].name) == 0;

		wide |= named;
		if ((named || strcmp(encoding, orders[i].means) == 0) &&
		    field_begins(lines_start(in), orders[i].mark)) {
			in->at = orders[i].mark.n;
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
lines_decode(struct lines *in, const char *encoding)
{
	const char *why;
	struct field start = lines_start(in);
	bool utf8 = encoding == NULL || recode_is_utf8(encoding);

	in->encoding = encoding;
	in->unit = 1;
	if (!utf8) {
		encoding = byte_order(in, encoding);
		if (encoding == NULL)
			return -1;
		in->recode = recode_open(encoding, &why);
		if (in->recode == NULL)
			return err_set(in->err, "%s: %s: '%s'", in->name, why, encoding);
		in->unit = in->recode->unit;
		in->low = in->recode->little ? 0 : in->unit - 1;
	}
	if (head_is_utf16(start) && in->unit == 1)
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

/* Whether the unit at p is this letter of ASCII. */
static bool
is_letter(const struct lines *in, const char *p, char c)
{
	bool same = true;

	for (size_t k = 0; k < in->unit; k++)
		same &= p[k] == (k == in->low ? c : '\0');
	return same;
}

/* The offset of the line feed in p[from] to p[n - 1], a whole number of units from p, or n. */
static size_t
find_feed(const struct lines *in, const char *p, size_t from, size_t n)
{
	if (in->unit == 1) {
		const char *feed = from < n ? memchr(p + from, '\n', n - from) : NULL;

		return feed != NULL ? (size_t)(feed - p) : n;
	}
	for (size_t i = from - from % in->unit; i + in->unit <= n; i += in->unit)
		if (is_letter(in, p + i, '\n'))
			return i;
	return n;
}

void
lines_fault(struct lines *in, size_t byte, const char *what, int value)
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
take_converted(struct lines *in, struct line *l)
{
	size_t searched, n = 0, end, fault;
	struct field raw;

	do {
		searched = n;
		n = in->len - in->at - l->at;
		end = find_feed(in, in->buf + in->at + l->at, searched, n);
	} while (end == n && fill(in));
	raw = (struct field){ in->buf + in->at + l->at, end };
	l->n = end;
	l->taken = end < n ? end + in->unit : end;
	if (l->taken == 0 || err_is_set(in->err))
		return false;
	l->text_at = in->decoded.n;
	fault = recode_line(in->recode, raw, &in->decoded);
	l->text_n = in->decoded.n - l->text_at;
	if (raw.p != NULL && fault < raw.n)
		lines_fault(in, fault + 1, in->encoding, (unsigned char)raw.p[fault]);
	scan_begin(&in->scan);
	if (scan_line(&in->scan, in->decoded.p + l->text_at, l->text_n))
		lines_fault(in, 1, "a line feed of another kind", -1);
	return true;
}

static bool
take_utf8(struct lines *in, struct line *l)
{
	size_t fault;
	bool ended;

	scan_begin(&in->scan);
	do
		ended = scan_line(&in->scan, in->buf + in->at + l->at, in->len - in->at - l->at);
	while (!ended && fill(in));
	l->n = l->text_n = in->scan.at;
	l->taken = l->n + ended;
	l->text_at = l->at;
	if (l->taken == 0 || err_is_set(in->err))
		return false;
	if (in->scan.beyond) {
		struct field text = { in->buf + in->at + l->at, l->n };

		fault = utf8_fault(text);
		if (fault < text.n)
			lines_fault(in, fault + 1, "UTF-8", (unsigned char)text.p[fault]);
	}
	return true;
}

bool
lines_take(struct lines *in, struct line *l)
{
	if (!(in->recode != NULL ? take_converted(in, l) : take_utf8(in, l)))
		return false;
	if (in->scan.nul != SIZE_MAX)
		lines_fault(in, in->scan.nul + 1,
		    in->number == 1 && in->recode == NULL
			? "NUL: UTF-16? the map must name it (encoding UTF-16LE or UTF-16BE)"
			: "NUL",
		    -1);
	if (l->text_n > 0 && lines_text(in, l)[l->text_n - 1] == '\r')
		l->text_n--;
	return true;
}

struct field
lines_raw(const struct lines *in, size_t n)
{
	struct field raw = { in->buf + in->at, n };

	if (n >= in->unit && is_letter(in, raw.p + n - in->unit, '\r'))
		raw.n -= in->unit;
	return raw;
}

void
lines_close(struct lines *in)
{
	if (in->cap > 0)
		free(in->buf);
	if (in->fd > STDIN_FILENO)
		close(in->fd);
	recode_close(in->recode);
	scan_free(&in->scan);
	bytes_free(&in->decoded);
}
