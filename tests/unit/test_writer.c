/*
 * writer, on base/output.h: what is written, where it is while it is being written, and what is
 * left when something goes wrong.
 */
#include "table/writer.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"

enum { LARGE = 700000 }; /* more than twice what is held back */

/* --- helpers --------------------------------------------------------------------------------- */

static char *
slurp(const char *path, size_t *n)
{
	char *all = calloc(1, 8 * LARGE);
	int fd = open(path, O_RDONLY);
	ssize_t got;

	*n = 0;
	while (all != NULL && fd >= 0 && (got = os_read(fd, all + *n, 8 * LARGE - *n)) > 0)
		*n += (size_t)got;
	if (fd >= 0)
		close(fd);
	return all;
}

static void
holds(const char *path, const char *want)
{
	size_t n;
	char *got = slurp(path, &n);

	CHECK(got != NULL && n == strlen(want) && memcmp(got, want, n) == 0, "%s: '%s', want '%s'",
	    path, got, want);
	free(got);
}

static bool
is_there(const char *path)
{
	return access(path, F_OK) == 0;
}

static void
write_file(const char *path, const char *text)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0644);

	CHECK(fd >= 0 && os_write(fd, text, strlen(text)) == 0 && close(fd) == 0, "%s", path);
}

/* how many temporary files lie about in a folder */
static int
temporaries(const char *folder)
{
	DIR *dir = opendir(folder);
	int n = 0;

	for (struct dirent *e; dir != NULL && (e = readdir(dir)) != NULL;)
		n += e->d_name[strlen(e->d_name) - 1] == '~';
	if (dir != NULL)
		closedir(dir);
	return n;
}

static mode_t
mode_of(const char *path)
{
	struct stat st = { 0 };

	lstat(path, &st);
	return st.st_mode;
}

/* Opens, writes one row of one field, closes. */
static void
write_table(const char *path, const char *text, bool keep, const char *want_error)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t = writer_open(&all, path, &err);

	if (t != NULL) {
		writer_text(t, text);
		writer_end_row(t);
		CHECK(outputs_finish(&all, keep, &err) == (want_error[0] != '\0' ? -1 : 0),
		    "%s: %s", path, err.text);
	}
	CHECK(strcmp(err.text, want_error) == 0, "%s: got '%s', want '%s'", path, err.text,
	    want_error);
}

static void
refuses_to_open(const char *path, int error)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	char want[200];

	snprintf(want, sizeof want, "%s: %s", path, strerror(error));
	CHECK(writer_open(&all, path, &err) == NULL, "%s opened", path);
	CHECK(strcmp(err.text, want) == 0, "got '%s', want '%s'", err.text, want);
	CHECK(temporaries(".") == 0, "%s: something is left", path);
}

/* --- what is written ------------------------------------------------------------------------- */

static void
writes_fields(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t = writer_open(&all, "out", &err);

	writer_text(t, "");
	writer_text(t, "b\xc2\xb5\x01\x1b\"");
	writer_text(t, "");
	writer_end_row(t);
	writer_num(t, 0.125, 2);
	writer_num(t, -0.001, 2);
	writer_num(t, 1e22, 0);
	writer_db(t, -350000, 3);
	writer_end_row(t);
	writer_whole(t, 0);
	writer_whole(t, INT64_MAX);
	writer_whole(t, INT64_MIN);
	writer_whole(t, -7);
	writer_end_row(t);
	writer_slice(t, field_of("two\tfields"));
	writer_field(t, (struct field){ NULL, 0 });
	writer_end_row(t);
	CHECK(outputs_finish(&all, true, &err) == 0, "%s", err.text);
	holds("out", "\tb\xc2\xb5\x01\x1b\"\t\n"
		     "0.12\t0.00\t10000000000000000000000\t-0.350\n"
		     "0\t9223372036854775807\t-9223372036854775808\t-7\ntwo\tfields\t\n");
}

/* rows, fields and whole rows of all sizes, about the borders of what is held back */
static void
writes_any_amount(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t = writer_open(&all, "out", &err);
	char *want = malloc(8 * LARGE), *piece = malloc(LARGE), *got, *room;
	size_t n = 0, got_n;
	uint64_t state = 5;

	if (want == NULL || piece == NULL || t == NULL) {
		CHECK(0, "no memory");
		free(want);
		free(piece);
		return;
	}
	for (size_t i = 0; i < LARGE; i++)
		piece[i] = (char)('a' + i % 26);
	while (n < 6 * LARGE) {
		size_t kind = check_random(&state) >> 33, size = (kind / 4) % 300;

		if (kind % 97 == 0)
			size = (kind / 97) % LARGE;
		if (kind % 4 == 0 && (room = writer_room(t, size + 1)) != NULL) {
			memcpy(room, piece, size);
			room[size] = '\n';
			writer_took(t, size + 1);
		} else if (kind % 4 == 1) {
			writer_field(t, (struct field){ piece, size });
			writer_whole(t, 77);
			writer_end_row(t);
		} else {
			writer_slice(t, (struct field){ piece, size });
			writer_end_row(t);
		}
		memcpy(want + n, piece, size);
		n += size;
		if (kind % 4 == 1) {
			memcpy(want + n, "\t77", 3);
			n += 3;
		}
		want[n++] = '\n';
	}
	CHECK(outputs_finish(&all, true, &err) == 0, "%s", err.text);
	got = slurp("out", &got_n);
	CHECK(got != NULL && got_n == n && memcmp(got, want, n) == 0, "%zu bytes, want %zu", got_n,
	    n);
	free(got);
	free(want);
	free(piece);
}

/* what is held back is filled to each of its last bytes before every kind of piece */
static void
fills_to_the_last_byte(void)
{
	enum { HELD = 256 * 1024, HALF = HELD / 2 };
	char *filler = malloc(HELD), *want = malloc(2 * HELD), *got;

	for (size_t free_bytes = 0; filler != NULL && want != NULL && free_bytes < 40;
	     free_bytes++) {
		struct err err = { "" };
		struct outputs all = { .n = 0 };
		struct writer *t = writer_open(&all, "out", &err);
		size_t n, got_n;

		memset(filler, 'f', HELD);
		/* two pieces and the TAB between them */
		writer_slice(t, (struct field){ filler, HALF });
		writer_slice(t, (struct field){ filler, HALF - 1 - free_bytes });
		n = (size_t)sprintf(
		    want, "%.*s\t%.*s", HALF, filler, (int)(HALF - 1 - free_bytes), filler);
		switch (free_bytes % 5) {
		case 0:
			writer_text(t, "text");
			n += (size_t)sprintf(want + n, "\ttext");
			break;
		case 1:
			writer_num(t, 1.5, 1);
			n += (size_t)sprintf(want + n, "\t1.5");
			break;
		case 2:
			writer_whole(t, -12);
			n += (size_t)sprintf(want + n, "\t-12");
			break;
		case 3:
			writer_db(t, 2500000, 1);
			n += (size_t)sprintf(want + n, "\t2.5");
			break;
		default:
			writer_field(t, (struct field){ filler, free_bytes });
			n += (size_t)sprintf(want + n, "\t%.*s", (int)free_bytes, filler);
		}
		writer_end_row(t);
		want[n++] = '\n';
		CHECK(outputs_finish(&all, true, &err) == 0, "%s", err.text);
		got = slurp("out", &got_n);
		CHECK(got != NULL && got_n == n && memcmp(got, want, n) == 0,
		    "%zu bytes free: %zu bytes, want %zu", free_bytes, got_n, n);
		free(got);
	}
	free(filler);
	free(want);
}

static void
gives_room_within_reason(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t = writer_open(&all, "out", &err);

	CHECK(writer_room(t, 128 * 1024) != NULL && writer_room(t, 128 * 1024 + 1) == NULL, "room");
	CHECK(outputs_finish(&all, false, &err) == 0, "%s", err.text);
}

static void
refuses_what_would_break_the_table(void)
{
	static const struct {
		struct field field;
		const char *shown;
	} bad[] = {
		{ { "\t", 1 }, "\\x09" },
		{ { "a\nb", 3 }, "a\\x0ab" },
		{ { "a\r", 2 }, "a\\x0d" },
		{ { "ab\0", 3 }, "ab\\x00" },
		{ { "a\0\t", 3 }, "a\\x00\\x09" },
	};

	write_file("out", "old\n");
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct err err = { "" };
		struct outputs all = { .n = 0 };
		struct writer *t = writer_open(&all, "out", &err);
		char want[200];

		snprintf(want, sizeof want,
		    "TAB, line end or NUL inside a field of the output: '%s'", bad[i].shown);
		writer_text(t, "fine");
		CHECK(writer_fits(t, field_of("fine")) && err.text[0] == '\0', "%s", err.text);
		writer_field(t, bad[i].field);
		writer_text(t, "fine");
		writer_end_row(t);
		CHECK(!writer_fits(t, bad[i].field), "fits");
		CHECK(outputs_finish(&all, true, &err) == -1, "closed well");
		CHECK(strcmp(err.text, want) == 0, "got '%s', want '%s'", err.text, want);
		holds("out", "old\n");
		CHECK(temporaries(".") == 0, "something is left");
	}
	unlink("out");
	write_table(
	    "out", "\n", true, "TAB, line end or NUL inside a field of the output: '\\x0a'");
	CHECK(!is_there("out"), "an output that failed is there");
}

/* --- whole or not at all --------------------------------------------------------------------- */

static void
appears_whole(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t;

	unlink("out");
	t = writer_open(&all, "out", &err);
	writer_text(t, "new");
	writer_end_row(t);
	writer_flush(t);
	CHECK(!is_there("out") && temporaries(".") == 1, "there too early");
	CHECK(outputs_finish(&all, true, &err) == 0 && temporaries(".") == 0, "%s", err.text);
	holds("out", "new\n");

	t = writer_open(&all, "out", &err);
	writer_text(t, "newer");
	writer_end_row(t);
	writer_flush(t);
	holds("out", "new\n");
	CHECK(outputs_finish(&all, true, &err) == 0 && temporaries(".") == 0, "%s", err.text);
	holds("out", "newer\n");
}

static void
leaves_nothing_when_dropped(void)
{
	write_file("out", "old\n");
	write_table("out", "new", false, "");
	holds("out", "old\n");
	CHECK(temporaries(".") == 0, "something is left");
	unlink("out");
	write_table("out", "new", false, "");
	CHECK(!is_there("out") && temporaries(".") == 0, "something is left");
}

static void
keeps_the_mode(void)
{
	mode_t mask = umask(027);

	unlink("out");
	write_table("out", "a", true, "");
	CHECK((mode_of("out") & 07777) == 0640, "a new file: %o", (unsigned)mode_of("out"));
	chmod("out", 0606);
	umask(077);
	write_table("out", "b", true, "");
	CHECK((mode_of("out") & 07777) == 0606, "an old file: %o", (unsigned)mode_of("out"));
	umask(mask);
	unlink("out");
}

static void
follows_links(void)
{
	char here[1000], path[1100];

	mkdir("there", 0700);
	write_file("there/file", "old\n");
	CHECK(symlink("there/file", "link") == 0, "symlink");
	write_table("link", "new", true, "");
	CHECK(S_ISLNK(mode_of("link")) && S_ISREG(mode_of("there/file")), "the link is gone");
	holds("there/file", "new\n");

	/* a chain of relative links, the last of which leads nowhere yet */
	CHECK(symlink("second", "there/first") == 0 && symlink("third", "there/second") == 0 &&
		  unlink("link") == 0 && symlink("there/first", "link") == 0,
	    "symlink");
	write_table("link", "dropped", false, "");
	CHECK(!is_there("there/third") && temporaries("there") == 0, "something is left");
	write_table("link", "made", true, "");
	CHECK(S_ISLNK(mode_of("link")) && S_ISLNK(mode_of("there/first")) &&
		  S_ISLNK(mode_of("there/second")) && S_ISREG(mode_of("there/third")),
	    "a link is gone");
	holds("there/third", "made\n");

	/* an absolute one */
	CHECK(getcwd(here, sizeof here) != NULL, "getcwd");
	snprintf(path, sizeof path, "%s/there/fourth", here);
	CHECK(unlink("link") == 0 && symlink(path, "link") == 0, "symlink");
	write_table("link", "absolute", true, "");
	holds("there/fourth", "absolute\n");
	unlink("link");
	CHECK(temporaries(".") == 0 && temporaries("there") == 0, "something is left");
	unlink("there/file");
	unlink("there/first");
	unlink("there/second");
	unlink("there/third");
	unlink("there/fourth");
}

static void
refuses_bad_targets(void)
{
	CHECK(symlink("loop", "loop") == 0, "symlink");
	write_file("file", "");
	refuses_to_open("loop", ELOOP);
	CHECK(S_ISLNK(mode_of("loop")), "the link is gone");
	refuses_to_open("there", EISDIR);
	refuses_to_open("missing/out", ENOENT);
	refuses_to_open("file/out", ENOTDIR);
	refuses_to_open("", ENOENT);
	unlink("loop");
	unlink("file");
}

/* --- what is not a regular file --------------------------------------------------------------- */

static void
writes_fifos_directly(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	char got[20] = "";
	struct writer *t;
	int fd;

	CHECK(mkfifo("fifo", 0600) == 0, "mkfifo");
	fd = open("fifo", O_RDONLY | O_NONBLOCK);
	t = writer_open(&all, "fifo", &err);
	CHECK(t != NULL && temporaries(".") == 0, "%s", err.text);
	writer_text(t, "live");
	writer_end_row(t);
	CHECK(read(fd, got, sizeof got) == -1, "written before it was asked for");
	writer_flush(t);
	CHECK(read(fd, got, sizeof got) == 5 && memcmp(got, "live\n", 5) == 0, "'%s'", got);
	writer_text(t, "rest");
	CHECK(outputs_finish(&all, true, &err) == 0, "%s", err.text);
	CHECK(read(fd, got, sizeof got) == 4 && memcmp(got, "rest", 4) == 0, "'%s'", got);
	CHECK(S_ISFIFO(mode_of("fifo")), "the FIFO is gone");
	close(fd);
	unlink("fifo");
}

/* the names that a shell gives to pipes lead to no file that could be opened by its true name */
static void
writes_to_descriptors(void)
{
	int ends[2];
	char path[40], got[20] = "";

	CHECK(pipe(ends) == 0, "pipe");
	snprintf(path, sizeof path, "/dev/fd/%d", ends[1]);
	if (!is_there(path)) { /* not every system has them */
		close(ends[0]);
		close(ends[1]);
		return;
	}
	write_table(path, "through", true, "");
	CHECK(read(ends[0], got, sizeof got) == 8 && memcmp(got, "through\n", 8) == 0, "'%s'", got);
	close(ends[0]);
	close(ends[1]);
}

static void
writes_devices_directly(void)
{
	write_table("/dev/null", "gone", true, "");
	CHECK(S_ISCHR(mode_of("/dev/null")), "replaced");
	if (is_there("/dev/full")) {
		write_table("/dev/full", "x", true, "/dev/full: No space left on device");
		CHECK(S_ISCHR(mode_of("/dev/full")), "replaced");
	}
}

/* --- trouble --------------------------------------------------------------------------------- */

static void
fill(struct writer *t)
{
	static char piece[1000];

	memset(piece, 'x', sizeof piece);
	for (size_t i = 0; i < LARGE / sizeof piece; i++) {
		writer_slice(t, (struct field){ piece, sizeof piece });
		writer_end_row(t);
	}
}

static void
removes_what_could_not_be_written(void)
{
	struct rlimit before = { 0 }, small;
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t;

	CHECK(
	    signal(SIGXFSZ, SIG_IGN) != SIG_ERR && getrlimit(RLIMIT_FSIZE, &before) == 0, "limit");
	write_file("out", "old\n");
	small = before;
	small.rlim_cur = 100000;
	CHECK(setrlimit(RLIMIT_FSIZE, &small) == 0, "limit");
	t = writer_open(&all, "out", &err);
	fill(t);
	CHECK(outputs_finish(&all, true, &err) == -1, "closed well");
	CHECK(strcmp(err.text, "out: File too large") == 0, "%s", err.text);
	CHECK(setrlimit(RLIMIT_FSIZE, &before) == 0, "limit");
	holds("out", "old\n");
	CHECK(temporaries(".") == 0, "something is left");
}

static void
cleans_up(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	bool open =
	    writer_open(&all, "out", &err) != NULL && writer_open(&all, "other", &err) != NULL;

	write_file("out", "old\n");
	CHECK(open && temporaries(".") == 2, "%s", err.text);
	os_cleanup();
	CHECK(temporaries(".") == 0, "left");
	holds("out", "old\n");
	CHECK(!is_there("other"), "there");
	outputs_finish(&all, false, &err);
}

/* --- processes of their own ------------------------------------------------------------------- */

/* Runs child in a process of its own and returns what wait says. */
static int
apart(void (*child)(int), int arg)
{
	struct rlimit no_core = { 0, 0 };
	int status = -1;
	pid_t pid;

	fflush(stdout);
	pid = fork();
	if (pid == 0) {
		setrlimit(RLIMIT_CORE, &no_core);
		child(arg);
		_exit(0);
	}
	CHECK(pid > 0 && waitpid(pid, &status, 0) == pid, "fork");
	return status;
}

static void
raise_while_writing(int sig)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t = writer_open(&all, "out", &err);

	fill(t);
	if (temporaries(".") != 1)
		_exit(3);
	raise(sig);
	outputs_finish(&all, true, &err);
}

/* whoever runs the tests in the background may have had it ignored */
static void
default_while_writing(int sig)
{
	signal(sig, SIG_DFL);
	raise_while_writing(sig);
}

static void
ignore_while_writing(int sig)
{
	signal(sig, SIG_IGN);
	raise_while_writing(sig);
}

static void
cleans_up_after_signals(void)
{
	static const int signals[] = { SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGPIPE, SIGXCPU };

	for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
		int status;

		write_file("out", "old\n");
		status = apart(default_while_writing, signals[i]);
		CHECK(WIFSIGNALED(status) && WTERMSIG(status) == signals[i], "signal %d: status %d",
		    signals[i], status);
		CHECK(temporaries(".") == 0, "signal %d: something is left", signals[i]);
		holds("out", "old\n");
		status = apart(ignore_while_writing, signals[i]);
		CHECK(WIFEXITED(status) && WEXITSTATUS(status) == 0, "signal %d ignored: status %d",
		    signals[i], status);
		CHECK(temporaries(".") == 0, "signal %d: something is left", signals[i]);
	}
}

static void
start_without_descriptors(int which)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t;
	bool regular, ok;
	char byte;
	int fd;

	for (fd = 0; fd < 3; fd++)
		if (which & 1 << fd)
			close(fd);
	os_start();
	fd = os_open("out", &regular, &err);
	ok = fd > 2 && regular;
	if (which & 1)
		ok &= os_read(0, &byte, 1) == 0;
	if (which & 2) {
		t = writer_open(&all, NULL, &err);
		writer_text(t, "lost");
		ok &= outputs_finish(&all, true, &err) == -1;
		ok &= strcmp(err.text, "standard output: Bad file descriptor") == 0;
	}
	if (which & 4)
		ok &= write(2, "x", 1) == -1;
	_exit(ok ? 0 : 4);
}

static void
fills_closed_descriptors(void)
{
	write_file("out", "old\n");
	for (int which = 0; which < 8; which++) {
		int status = apart(start_without_descriptors, which);

		CHECK(WIFEXITED(status) && WEXITSTATUS(status) == 0, "%d closed: status %d", which,
		    status);
	}
	holds("out", "old\n");
	unlink("out");
}

static void
write_to_standard_output(int full)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *t;
	const char *want = full ? "standard output: No space left on device" : "";
	int fd =
	    full ? open("/dev/full", O_WRONLY) : open("stdout", O_WRONLY | O_CREAT | O_TRUNC, 0600);

	dup2(fd, 1);
	t = writer_open(&all, "-", &err);
	writer_text(t, "text");
	writer_end_row(t);
	if (outputs_finish(&all, true, &err) != (full ? -1 : 0) || strcmp(err.text, want) != 0)
		_exit(5);
}

static void
writes_to_standard_output(void)
{
	CHECK(apart(write_to_standard_output, 0) == 0, "not as expected");
	holds("stdout", "text\n");
	unlink("stdout");
	if (is_there("/dev/full"))
		CHECK(apart(write_to_standard_output, 1) == 0, "not as expected");
}

int
main(void)
{
	const char *tmp = getenv("TMPDIR");
	char folder[200];

	snprintf(folder, sizeof folder, "%s/thrum-out-XXXXXX", tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	RUN(writes_fields);
	RUN(writes_any_amount);
	RUN(fills_to_the_last_byte);
	RUN(gives_room_within_reason);
	RUN(refuses_what_would_break_the_table);
	RUN(appears_whole);
	RUN(leaves_nothing_when_dropped);
	RUN(keeps_the_mode);
	RUN(follows_links);
	RUN(refuses_bad_targets);
	RUN(writes_fifos_directly);
	RUN(writes_to_descriptors);
	RUN(writes_devices_directly);
	RUN(removes_what_could_not_be_written);
	RUN(cleans_up);
	RUN(cleans_up_after_signals);
	RUN(fills_closed_descriptors);
	RUN(writes_to_standard_output);
	unlink("out");
	rmdir("there");
	if (chdir("/") != 0 || rmdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	return check_done();
}
