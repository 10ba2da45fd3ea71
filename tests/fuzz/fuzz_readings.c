/*
 * fuzz_readings: any bytes as readings of two links, with elements. Every reading is one of its link's, once;
 * what is made of them is written without a fault.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "fibre/link.h"
#include "readings/twoway.h"
#include "readings/unread.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char links_text[] = "link\tsite_a\tsite_b\taccept\nL\tA\tB\t\nM\tA\tC\tone-way\n";
static const char spots_text[] =
    "link\tseq\tkm\tkind\tref\tsite\treversed\nL\t1\t0\tconnector\tA:1\tA\t\n"
    "L\t2\t0.002\tfusion\tJ1\tA\tyes\nL\t3\t3\tfusion\tJ2\tD\tno\nL\t4\t6\tconnector\tB:1\tB\t\n";

static void
must(bool good)
{
	if (!good)
		abort();
}

static int
open_text(struct table *t, const struct col *cols, struct field text, struct err *err)
{
	return table_open_reader(t, cols, reader_memory("t", text, err), NULL, err);
}

/* Every reading is handed out once, in the order of its trace. */
static void
must_have_all(struct readings *r)
{
	struct reading *here;
	size_t all = 0, n;

	for (size_t link = 0; link < r->names.n; link++, all += n) {
		n = readings_of(r, link, &here);
		for (size_t i = 1; i < n; i++)
			must(here[i - 1].trace < here[i].trace ||
			     (here[i - 1].trace == here[i].trace && here[i - 1].km <= here[i].km));
	}
	must(all == r->n);
}

static void
make(struct readings *readings, struct spots *spots, struct table *links, struct err *err)
{
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, "/dev/null", err);
	struct sheet points = { NULL }, unwritten = { NULL };
	struct plan plan = { 0 };
	struct limits limits = { 0 };
	struct found found = { .out = &unwritten };
	struct twoway t = { .readings = readings,
		.spots = spots,
		.plan = &plan,
		.limits = &limits,
		.links = links,
		.out = &points,
		.found = &found,
		.noise_db = 0.02,
		.linearity = 0.03 };

	must(out != NULL);
	limits_one(&limits, 100000);
	sheet_open(&points, twoway_cols, NULL, (struct field){ "", 0 }, out);
	readings_arrange(readings);
	must_have_all(readings);
	for (size_t link = 0; link < readings->names.n; link++)
		twoway_link(&t, link);
	unread_links(readings, spots, &found);
	twoway_free(&t);
	sheet_free(&points);
	limit_free(&limits);
	outputs_finish(&all, false, err);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct err err = { "" };
	struct table links = { NULL }, elements = { NULL }, rows = { NULL };
	struct readings readings = { .links = &links };
	struct spots spots = { 0 };
	char *copy = malloc(size + 1); /* of its size, so that a byte too many is seen */

	must(copy != NULL);
	memcpy(copy, data, size);
	must(open_text(&links, link_cols, field_of(links_text), &err) == 0 &&
	     table_hold(&links, HOLD_ROWS, link_key, true, NULL) == 0);
	must(open_text(&elements, spot_cols, field_of(spots_text), &err) == 0);
	while (table_next(&elements))
		spots_read(&spots, &elements);
	spots_arrange(&spots);
	if (open_text(&rows, reading_cols, (struct field){ copy, size }, &err) == 0)
		while (table_next(&rows) && readings_read(&readings, &rows) == 0)
			;
	if (!err_is_set(&err))
		make(&readings, &spots, &links, &err);
	spots_free(&spots);
	readings_free(&readings);
	table_close(&rows);
	table_close(&elements);
	table_close(&links);
	free(copy);
	return 0;
}
