#include "table/writer.h"

#include <errno.h>

#include "base/db.h"
#include "base/mem.h"
#include "base/num.h"

enum { HELD = 256 * 1024 };

struct writer {
	struct output *to;
	struct err *err;
	size_t n;     /* bytes held back */
	bool in_row;  /* a field has been written in this row */
	bool stopped; /* a write has failed */
	char held[HELD];
};

struct writer *
writer_open(struct outputs *all, const char *path, struct err *err)
{
	struct output *to = output_add(all, path, err);
	struct writer *t;

	if (to == NULL)
		return NULL;
	t = mem_zeroed(1, sizeof *t);
	t->to = to;
	t->err = err;
	output_owned(to, writer_flush, t);
	return t;
}

static void
write_out(struct writer *t, const char *p, size_t n)
{
	if (t->stopped || n == 0)
		return;
	if (os_write(t->to->fd, p, n) != 0) {
		t->stopped = true;
		err_set(t->err, "%s: %s", t->to->path, strerror(errno));
	}
}

void
writer_flush(void *out)
{
	struct writer *t = out;

	write_out(t, t->held, t->n);
	t->n = 0;
}

/* n bytes of room in what is held back; n is at most HELD */
static char *
room(struct writer *t, size_t n)
{
	if (HELD - t->n < n)
		writer_flush(t);
	return t->held + t->n;
}

static void
next_field(struct writer *t)
{
	if (t->in_row) {
		*room(t, 1) = '\t';
		t->n++;
	}
	t->in_row = true;
}

char *
writer_room(struct writer *t, size_t n)
{
	return n <= HELD / 2 ? room(t, n) : NULL;
}

void
writer_took(struct writer *t, size_t n)
{
	t->n += n;
}

void
writer_bytes(struct writer *t, const void *p, size_t n)
{
	if (n > HELD / 2) {
		writer_flush(t);
		write_out(t, p, n);
		return;
	}
	if (n > 0)
		memcpy(room(t, n), p, n);
	t->n += n;
}

void
writer_slice(struct writer *t, struct field f)
{
	next_field(t);
	writer_bytes(t, f.p, f.n);
}

bool
writer_fits(struct writer *t, struct field f)
{
	char shown[ERR_SHOWN];
	size_t i = 0;

	while (i < f.n && f.p[i] != '\t' && f.p[i] != '\n' && f.p[i] != '\r' && f.p[i] != '\0')
		i++;
	if (i == f.n)
		return true;
	t->stopped = true;
	err_set(t->err, "TAB, line end or NUL inside a field of the output: '%s'",
	    err_show(shown, f.p, f.n));
	return false;
}

void
writer_field(struct writer *t, struct field f)
{
	if (writer_fits(t, f))
		writer_slice(t, f);
}

void
writer_text(struct writer *t, const char *s)
{
	writer_field(t, field_of(s));
}

void
writer_num(struct writer *t, double x, int places)
{
	next_field(t);
	t->n += num_fixed(room(t, NUM_FIXED), x, places);
}

void
writer_db(struct writer *t, int64_t udb, int places)
{
	next_field(t);
	t->n += db_fixed(room(t, DB_FIXED), udb, places);
}

void
writer_whole(struct writer *t, int64_t n)
{
	char digits[24], *end = digits + sizeof digits, *p = end;
	uint64_t rest = n < 0 ? -(uint64_t)n : (uint64_t)n;

	do
		*--p = (char)('0' + rest % 10);
	while ((rest /= 10) > 0);
	if (n < 0)
		*--p = '-';
	writer_slice(t, (struct field){ p, (size_t)(end - p) });
}

void
writer_end_row(struct writer *t)
{
	*room(t, 1) = '\n';
	t->n++;
	t->in_row = false;
}
