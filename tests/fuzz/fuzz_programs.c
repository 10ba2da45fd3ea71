/*
 * fuzz_programs: any tables as the files of one of the programs, main() and all. It ends with 0, 1 or 2;
 * with 2 there is a message and no output; what it writes is a table again; no row is lost or doubled
 * where all must come out or be set aside; and the same rows give the same output, be it for a second
 * time, with a byte-order mark, CR LF and a last line without its end, or as two files, the second with
 * its columns turned round.
 *
 * The first byte says which job ('A': the first), the second what is tried beside it; then the files,
 * between them a line "----". tests/fuzz/seeds.sh makes an input of each job from the samples.
 */
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sanitizer/common_interface_defs.h>

#include "base/bytes.h"
#include "table/reader.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* clang-format off */
#define PROGRAMS(X)                                                                                \
	X(budget) X(check) X(closure) X(colour) X(import) X(locate) X(match) X(mfd) X(pack)        \
	X(plan) X(plot) X(report) X(rework) X(route) X(sheet) X(show) X(twoway) X(unpack)
/* clang-format on */
#define DECLARE(name) int main_##name(int argc, char **argv);
#define ENTER(name)   { #name, main_##name },

/* the Makefile names them so */
PROGRAMS(DECLARE)

static const struct {
	const char *name;
	int (*call)(int argc, char **argv);
} programs[] = { PROGRAMS(ENTER) };

enum {
	ENDS = 1, /* line ends are not told: other ones change nothing */
	TWO = 2,  /* nor are files and lines: two files are like one */
	FILES = 6
};

/* one or more commands; 1 to 6 are files of the input, capitals files of no table */
static const struct {
	const char *commands;
	const char *rows; /* "1=oa": those of 1 are in o or a, once */
	unsigned tries;
} jobs[] = {
	{ "match --plan 2 --visits 3 --answers 4 --earlier 5 --findings f --questions q -o o 1",
	    NULL, ENDS | TWO },
	{ "match --plan 2 --order work --each-arc --findings f --questions q -o o 1", NULL,
	    ENDS | TWO },
	{ "route --spans 2 --ports 3 --splitters 4 --plan 5 --links 6 --findings f -o o 1", NULL,
	    ENDS },
	{ "plan --spans 2 --sites 3 --orders 4 --categories 5 --allowances 6 --findings f -o o 1",
	    NULL, ENDS },
	{ "plan --spans 2 --was 3 -o o 1", NULL, ENDS },
	{ "budget --wavelength 1310,1550 --links 2 --tests 3 --allowances 4 --applications 5 -o o 1",
	    NULL, ENDS },
	{ "check --pass --plan 2 --limits 3 --also 4 --set-aside a --findings f -o o 1 | "
	  "check --pass --plan 2 --limits 3 --also 4 --set-aside b -o p a",
	    "1=oa a=pb", 0 },
	{ "check --summary --plan 2 -o o 1", NULL, 0 },
	{ "closure --plan 2 --faults 3 --limits 4 -o o 1 | "
	  "closure --by closure,kind --limits 4 --no-quantiles -o p 1",
	    NULL, ENDS },
	{ "twoway --links 2 --elements 3 --limits 4 --plan 5 --fill 6 --filled g --findings f -o o 1",
	    NULL, ENDS | TWO },
	{ "rework --faults 2 --twoway 3 --elements 4 --plan 5 --links 6 -o o 1", NULL, ENDS | TWO },
	{ "rework --stage closure --route-faults 2 --twoway-faults 3 --budgets 4 --sites 5 "
	  "--causes 6 -o o 1",
	    NULL, ENDS | TWO },
	{ "locate --elements 2 --spans 3 --sites 4 --readings 5 -o o 1", "1=o", ENDS | TWO },
	{ "colour --spans 2 --orders 3 -o o 1 | colour --number --spans 2 --orders 3 -o p o",
	    "1=o o=p", ENDS | TWO },
	{ "mfd --categories 2 -o o 1", "1=o", ENDS | TWO },
	{ "show --tsv --sort loss_db -o o 1 | show -o S o", "1=o", ENDS | TWO },
	{ "plot --kind losses -o P 4 | report --facts 2 -o R 1 | report --text --facts 2 -o T 1",
	    NULL, 0 },
	{ "sheet --links 2 --elements 3 --sites 4 --rework 5 -o S 1 | sheet --text -o T 1", NULL,
	    ENDS },
	{ "plot --kind losses --limits 2 -o P 1 | plot --kind ends --text -o T 1 | "
	  "plot --kind season -o S 1",
	    NULL, ENDS },
	{ "plot --kind closure --plan 2 --faults 3 --limits 4 -o P 1", NULL, ENDS },
	{ "plot --kind link --budgets 2 --allowances 3 -o P 1", NULL, ENDS },
	{ "import -m 2 --set-aside a -o o 1 | show --tsv -o p o", "o=p", 0 },
	{ "pack --key joint --threads=1 -o P 1 | unpack --threads=1 -o o P", "1=o", ENDS | TWO },
	{ "pack --key joint --threads=1 -o P 1 | unpack --latest --threads=1 -o o P | "
	  "pack --key joint -o Q o | unpack --latest -o p Q",
	    "o=p", ENDS | TWO },
	{ "closure --merge --by kind --limits 3 -o o 2 | closure --partial --by kind --limits 3 -o p 1 | "
	  "closure --merge --by kind --limits 3 -o q p",
	    NULL, ENDS },
};

enum { JOBS = sizeof jobs / sizeof jobs[0] };

struct tried {
	int status;
	struct bytes said, wrote[128]; /* by the letters of files */
};

static char folder[300];
static int messages = -1, screen = -1, home, work; /* home and work: folders */

#define must(good)                                                                                 \
	((good) ? (void)0 : (fprintf(stderr, "line %d does not hold\n", __LINE__), abort()))

static void
read_all(struct bytes *to, int fd)
{
	char part[4096];
	ssize_t n;

	to->n = 0;
	while ((n = read(fd, part, sizeof part)) > 0)
		bytes_add(to, part, (size_t)n);
	must(n == 0);
}

/* --- the files ------------------------------------------------------------------------------- */

static FILE *
create(char letter)
{
	FILE *file = fopen((char[]){ letter, 0 }, "w");

	must(file != NULL);
	return file;
}

/* Every line has its LF and nothing else, so that other ends say the same; the last is not blank. */
static bool
is_plain(struct field text)
{
	return text.n > 1 && text.p[text.n - 1] == '\n' && text.p[text.n - 2] != '\n' &&
	       memchr(text.p, '\r', text.n) == NULL && !field_starts(text, BYTES_BOM);
}

static void
write_with_other_ends(char letter, struct field text)
{
	FILE *file = create(letter);

	fputs(BYTES_BOM, file);
	for (size_t i = 0; i + 1 < text.n; i++) {
		if (text.p[i] == '\n')
			putc('\r', file);
		putc(text.p[i], file);
	}
	fclose(file);
}

static void
write_turned(FILE *file, struct field line)
{
	for (size_t end = line.n, i = line.n + 1; i-- > 0;)
		if (i == 0 || line.p[i - 1] == '\t') {
			fwrite(line.p + i, 1, end - i, file);
			putc(i > 0 ? '\t' : '\n', file);
			end = i > 0 ? i - 1 : 0;
		}
}

/* File 1 in two: the lines up to the `first`-th, and in file 0 all others behind the header turned round. */
static void
write_in_two(struct field text, size_t first)
{
	FILE *one = create('1'), *other = create('0');

	text.n--;
	for (size_t i = 0; text.p != NULL; i++) {
		struct field line = field_cut(&text, '\n');

		if (i <= first) {
			fwrite(line.p, 1, line.n, one);
			putc('\n', one);
		}
		if (i == 0 || i > first)
			write_turned(other, line);
	}
	fclose(one);
	fclose(other);
}

/* --- a job ----------------------------------------------------------------------------------- */

/* One command, as a shell would give it to main; two: file 0 stands behind file 1. */
static int
command(struct field words, bool two)
{
	enum { MOST = 32, MOST_LETTERS = 16 + sizeof "--twoway-faults" };
	char text[MOST][MOST_LETTERS], zero[] = "0";
	char *argv[MOST] = { NULL }; /* main moves these */
	int argc = 0, status = -1;
	struct field word;

	for (; words.p != NULL && argc < MOST - 2; argc++) {
		word = field_cut(&words, ' ');
		snprintf(text[argc], MOST_LETTERS, "%s%.*s", argc == 0 ? "thrum-" : "", (int)word.n,
		    word.p);
		argv[argc] = text[argc];
	}
	if (two)
		argv[argc++] = zero;
	dup2(messages, STDERR_FILENO);
	for (size_t i = 0; i < sizeof programs / sizeof programs[0]; i++)
		if (strcmp(programs[i].name, text[0] + 6) == 0)
			status = programs[i].call(argc, argv);
	dup2(screen, STDERR_FILENO);
	return status;
}

/* What the command has written: with 2 nothing; else tables. */
static void
look(struct tried *t, struct field words)
{
	struct err err = { "" };
	struct reader *in;
	struct row row;
	struct field word;
	bool output = false;
	int fd;

	while (words.p != NULL) {
		word = field_cut(&words, ' ');
		if (word.n != 1 || !output) {
			output = field_is(word, "-o") || field_is(word, "--set-aside") ||
				 field_is(word, "--findings") || field_is(word, "--filled") ||
				 field_is(word, "--questions");
			continue;
		}
		output = false;
		fd = open((char[]){ word.p[0], 0 }, O_RDONLY);
		must((fd >= 0) == (t->status < 2));
		if (fd < 0)
			continue;
		read_all(&t->wrote[(int)word.p[0]], fd);
		close(fd);
		if (word.p[0] < 'a')
			continue;
		in = reader_memory("output", bytes_field(&t->wrote[(int)word.p[0]]), &err);
		while (in != NULL && reader_next(in, &row))
			;
		if (in != NULL)
			reader_close(in);
		if (err_is_set(&err))
			fprintf(stderr, "%c: %s\n", word.p[0], err.text);
		must(!err_is_set(&err));
	}
}

static void
run(struct tried *t, struct field commands, bool two)
{
	for (char c = 'A'; c <= 'z'; c++)
		unlink((char[]){ c, 0 });
	t->status = 0;
	for (bool first = true; commands.p != NULL && t->status < 2; first = false) {
		struct field words = field_cut(&commands, '|');

		if (!first)
			words = (struct field){ words.p + 1, words.n - 1 };
		if (commands.p != NULL)
			words.n--;
		must(ftruncate(messages, 0) == 0 && lseek(messages, 0, SEEK_SET) == 0);
		t->status = command(words, two && first);
		must(t->status == 0 || t->status == 1 || t->status == 2);
		lseek(messages, 0, SEEK_SET);
		read_all(&t->said, messages);
		must(t->said.n == 0 || t->said.p[t->said.n - 1] == '\n');
		must(t->status < 2 || (t->said.n > 7 && memcmp(t->said.p, "thrum-", 6) == 0));
		look(t, words);
	}
}

/* Rows of a table: its lines but the header, and but blank ones at its end. */
static size_t
rows(struct field text)
{
	size_t n = 0, blank = 0;
	struct field line;

	if (text.n > 0 && text.p[text.n - 1] == '\n')
		text.n--;
	while (text.p != NULL) {
		line = field_cut(&text, '\n');
		blank = line.n == 0 || field_is(line, "\r") ? blank + 1 : 0;
		n++;
	}
	return n - 1 - blank;
}

static void
compare_rows(const struct tried *t, const char *equations, struct field first)
{
	for (const char *p = equations; p != NULL && *p != '\0'; p++) {
		size_t due = rows(*p == '1' ? first : bytes_field(&t->wrote[(int)*p])), got = 0;

		for (p += 2; *p != '\0' && *p != ' '; p++)
			got += rows(bytes_field(&t->wrote[(int)*p]));
		must(due == got);
		if (*p == '\0')
			break;
	}
}

static void
clean(void)
{
	if (fchdir(work) == 0)
		for (char c = '0'; c <= 'z'; c++)
			unlink((char[]){ c, 0 });
	unlink("messages");
	rmdir(folder);
}

static void
start(void)
{
	const char *tmp = getenv("TMPDIR");

	snprintf(folder, sizeof folder, "%.200s/thrum-fuzz-XXXXXX", tmp != NULL ? tmp : "/dev/shm");
	must(mkdtemp(folder) != NULL);
	home = open(".", O_RDONLY);
	work = open(folder, O_RDONLY);
	must(home >= 0 && work >= 0);
	screen = dup(STDERR_FILENO);
	messages = openat(work, "messages", O_RDWR | O_CREAT | O_TRUNC, 0600);
	atexit(clean);
	must(screen >= 0 && messages >= 0);
	__sanitizer_set_report_fd((void *)(intptr_t)screen);
}

/* Tries the job again with the same rows: the output, and the status, are the same. */
static void
again(size_t job, unsigned how, const struct field *file, const struct tried *want)
{
	struct field commands = field_of(jobs[job].commands);
	struct tried got = { .status = 0 };
	bool two = how == TWO && (jobs[job].tries & TWO) && is_plain(file[0]);

	if (how == ENDS && (jobs[job].tries & ENDS))
		for (int i = 0; i < FILES; i++)
			if (is_plain(file[i]))
				write_with_other_ends((char)('1' + i), file[i]);
	if (two)
		write_in_two(file[0], file[0].n % 8);
	run(&got, commands, two);
	must(got.status == want->status);
	for (int c = 'A'; c <= 'z'; c++)
		must((two && c != 'o') ||
		     field_same(bytes_field(&got.wrote[c]), bytes_field(&want->wrote[c])));
	for (int c = 0; c < 128; c++)
		bytes_free(&got.wrote[c]);
	bytes_free(&got.said);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct field file[FILES], left = { (const char *)data + 2, size - 2 };
	struct tried t = { .status = 0 };
	size_t job, end;
	FILE *to;

	if (size < 2)
		return 0;
	if (screen < 0)
		start();
	must(fchdir(work) == 0);
	job = (size_t)(data[0] + JOBS - 'A' % JOBS) % JOBS;
	for (int i = 0; i < FILES; i++) {
		for (end = 0; end < left.n; end++)
			if ((end == 0 || left.p[end - 1] == '\n') && left.n - end >= 5 &&
			    memcmp(left.p + end, "----\n", 5) == 0)
				break;
		file[i] = (struct field){ left.p, end };
		to = create((char)('1' + i));
		fwrite(left.p, 1, end, to);
		fclose(to);
		end = end + 5 < left.n ? end + 5 : left.n;
		left = (struct field){ left.p + end, left.n - end };
	}
	run(&t, field_of(jobs[job].commands), false);
	if (t.status < 2) {
		compare_rows(&t, jobs[job].rows, file[0]);
		again(job, data[1] % 3, file, &t);
	}
	for (int c = 0; c < 128; c++)
		bytes_free(&t.wrote[c]);
	bytes_free(&t.said);
	must(fchdir(home) == 0);
	return 0;
}
