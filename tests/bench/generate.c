/*
 * generate: a joints table of any size, the same for the same arguments.
 *
 *	generate ROWS [shuffled|sorted|visits] >table.tsv
 *
 * 20 columns, about 120 bytes a row, 200 rows a closure. shuffled: the closures anyhow; sorted: one
 * after the other; visits: in strides, each visited twice. About one row in a hundred breaks a rule
 * of thrum-check.
 */
#include "../unit/check.h"

#include <stdlib.h>

#include "base/mem.h"
#include "table/writer.h"

enum { ROWS_A_CLOSURE = 200 };

static const char header[] =
    "joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tkind\t"
    "mfd_a_um\tmfd_b_um\tcleave_a_deg\tcleave_b_deg\test_db\ttension\t"
    "protector\tjointer\tmade_at\tloss_db\tstands\n";

static void
tagged(struct writer *out, const char *tag, int64_t n)
{
	char text[32];
	int length = snprintf(text, sizeof text, "%s%05lld", tag, (long long)n);

	writer_slice(out, (struct field){ text, (size_t)length });
}

static void
moment(struct writer *out, int64_t i)
{
	char text[40];
	int length = snprintf(text, sizeof text, "2026-%02d-%02dT%02d:%02d:%02dZ",
	    (int)(i / 31622400 % 12) + 1, (int)(i / 86400 % 28) + 1, (int)(i / 3600 % 24),
	    (int)(i / 60 % 60), (int)(i % 60));

	writer_slice(out, (struct field){ text, (size_t)length });
}

static int64_t
closure_of(int64_t i, int64_t rows, const char *order, uint64_t *state)
{
	int64_t closures = rows / ROWS_A_CLOSURE + 1;

	if (strcmp(order, "sorted") == 0)
		return i / ROWS_A_CLOSURE;
	if (strcmp(order, "visits") == 0) /* 7919 is prime: every closure, in a stride */
		return i / (ROWS_A_CLOSURE / 2) * 7919 % closures;
	return (int64_t)(check_random(state) % (uint64_t)closures);
}

static void
row(struct writer *out, int64_t i, int64_t closure, int64_t fibre, uint64_t *state)
{
	uint64_t r = check_random(state), s = check_random(state);

	tagged(out, "J", i);
	tagged(out, "C", closure);
	writer_whole(out, (int64_t)(i / 12 % 12) + 1);
	writer_whole(out, i % 12 + 1);
	tagged(out, "k", closure);
	writer_whole(out, fibre);
	tagged(out, "m", closure);
	writer_whole(out, fibre);
	writer_text(out, "fusion");
	writer_num(out, 8.6 + (double)(r % 97) / 100, 2);
	writer_num(out, 8.6 + (double)(r / 97 % 97) / 100, 2);
	writer_num(out, (double)(s % 50) / 100, 2);
	writer_num(out, s / 50 % 300 == 0 ? 1.31 : (double)(s / 15000 % 50) / 100, 2);
	writer_num(out, s / 750000 % 300 == 0 ? 0.14 : (double)(r / 9409 % 9) / 100, 2);
	writer_text(out, r / 84681 % 300 == 0 ? "fail" : "pass");
	writer_text(out, "pass");
	writer_text(out, (const char *[]){ "Wenlo", "Irrick", "Tamsel", "Oda" }[r % 4]);
	moment(out, i);
	writer_num(out, (double)(r / 25404300 % 120) / 1000, 3);
	writer_text(out, "yes");
	writer_end_row(out);
}

int
main(int argc, char **argv)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, "-", &err);
	uint64_t state = 20261125;
	int64_t rows = argc > 1 ? atoll(argv[1]) : 0;
	const char *order = argc > 2 ? argv[2] : "shuffled";
	int64_t *fibres = mem_zeroed((size_t)rows / ROWS_A_CLOSURE + 1, sizeof *fibres);

	writer_slice(out, (struct field){ header, sizeof header - 2 });
	writer_end_row(out);
	for (int64_t i = 0; i < rows; i++) {
		int64_t closure = closure_of(i, rows, order, &state);

		row(out, i, closure, ++fibres[closure], &state);
	}
	free(fibres);
	if (outputs_finish(&all, true, &err) != 0) {
		fprintf(stderr, "generate: %s\n", err.text);
		return 2;
	}
	return 0;
}
