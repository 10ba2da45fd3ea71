/*
 * os: opening, reading and writing with what may come between, and which file is which. Outputs that
 * appear whole are tested in test_writer.c, but for what is a terminal.
 */
#define _GNU_SOURCE /* posix_openpt */

#include "base/os.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/output.h"
#include "check.h"

static void
make_file(const char *path, const char *text)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0666);

	CHECK(fd >= 0 && os_write(fd, text, strlen(text)) == 0, "%s", strerror(errno));
	close(fd);
}

static void
opens_what_can_be_read(void)
{
	struct err err = { "" };
	bool regular = false;
	char got[16];
	int fd;

	make_file("table", "a\tb\n");
	fd = os_open("table", &regular, &err);
	CHECK(fd > 2 && regular, "%d %d: %s", fd, regular, err.text);
	CHECK(fcntl(fd, F_GETFD) == FD_CLOEXEC, "a program started from here would inherit it");
	CHECK(os_read(fd, got, sizeof got) == 4 && memcmp(got, "a\tb\n", 4) == 0, "other bytes");
	CHECK(os_read(fd, got, sizeof got) == 0, "no end");
	close(fd);
	fd = os_open("/dev/null", &regular, &err);
	CHECK(fd > 2 && !regular && os_read(fd, got, 1) == 0, "%d %d", fd, regular);
	close(fd);
	CHECK(os_open("-", &regular, &err) == STDIN_FILENO, "not standard input");
}

static void
refuses_what_cannot_be_read(void)
{
	static const struct {
		const char *path, *says;
	} bad[] = {
		{ "no/such", "no/such: No such file or directory" },
		{ "table/x", "table/x: Not a directory" },
		{ "", ": No such file or directory" },
		{ ".", ".: Is a directory" },
	};

	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct err err = { "" };
		bool regular;
		int next = dup(STDIN_FILENO), again;

		close(next);
		CHECK(os_open(bad[i].path, &regular, &err) == -1 &&
			  strcmp(err.text, bad[i].says) == 0,
		    "'%s': '%s'", bad[i].path, err.text);
		again = dup(STDIN_FILENO);
		CHECK(again == next, "'%s': a descriptor is left open", bad[i].path);
		close(again);
	}
}

static void
on_alarm(int sig)
{
	(void)sig;
}

/* signals every millisecond, and no call starts again by itself */
static void
ring(bool on)
{
	struct itimerval each = { { 0, on ? 1000 : 0 }, { 0, on ? 1000 : 0 } };
	struct sigaction sa = { .sa_handler = on_alarm };

	sigaction(SIGALRM, &sa, NULL);
	setitimer(ITIMER_REAL, &each, NULL);
}

enum { BYTES = 300000 };

static char
byte_at(size_t i)
{
	return (char)(i * 7 % 251);
}

/* Takes BYTES from fd, with a pause before each part; true if they are the right ones. */
static bool
take_slowly(int fd)
{
	static char part[8192];
	size_t n = 0;
	ssize_t more;
	bool right = true;

	while ((more = os_read(fd, part, sizeof part)) > 0) {
		for (ssize_t i = 0; i < more; i++)
			right &= part[i] == byte_at(n++);
		usleep(2000);
	}
	return right && more == 0 && n == BYTES;
}

/* Gives BYTES to fd, in parts with pauses, or all at once. */
static bool
give(int fd, size_t part)
{
	static char all[BYTES];
	bool right = true;

	for (size_t i = 0; i < BYTES; i++)
		all[i] = byte_at(i);
	for (size_t n = 0; n < BYTES; n += part) {
		right &= os_write(fd, all + n, part < BYTES - n ? part : BYTES - n) == 0;
		if (part < BYTES)
			usleep(2000);
	}
	close(fd);
	return right;
}

/* One process gives, the other takes; the one that waits for the other is rung at. */
static void
rings_at(bool giver)
{
	int ends[2], status = -1;
	pid_t child;
	bool right;

	CHECK(pipe(ends) == 0, "%s", strerror(errno));
	child = fork();
	if (child == 0) { /* without the other end, so that neither waits for itself */
		close(ends[giver]);
		_exit(giver ? !take_slowly(ends[0]) : !give(ends[1], 8192));
	}
	close(ends[!giver]);
	ring(true);
	right = giver ? give(ends[1], BYTES) : take_slowly(ends[0]);
	if (!giver)
		close(ends[0]);
	ring(false);
	while (waitpid(child, &status, 0) != child && errno == EINTR)
		;
	CHECK(right, "the bytes are others");
	CHECK(status == 0, "status %d", status);
}

static void
reads_and_writes_through_signals(void)
{
	rings_at(true);
	rings_at(false);
}

static void
says_why_it_cannot_write(void)
{
	int full = open("/dev/full", O_WRONLY), fd = open("table", O_RDONLY);

	if (full >= 0)
		CHECK(os_write(full, "a", 1) == -1 && errno == ENOSPC, "%s", strerror(errno));
	CHECK(os_write(fd, "a", 1) == -1 && errno == EBADF, "%s", strerror(errno));
	CHECK(os_write(fd, "a", 0) == 0, "nothing is always written");
	close(full);
	close(fd);
	CHECK(os_write(fd, "a", 1) == -1 && errno == EBADF, "%s", strerror(errno));
}

static void
widens_pipes_and_nothing_else(void)
{
	int ends[2], file = open("table", O_RDONLY);

	CHECK(pipe(ends) == 0, "%s", strerror(errno));
	errno = ENOTTY;
	os_widen_pipe(ends[1]);
	os_widen_pipe(file);
	os_widen_pipe(-1);
	CHECK(errno == ENOTTY, "errno has changed: %s", strerror(errno));
#ifdef F_GETPIPE_SZ
	/* the system may allow less, never less than before */
	CHECK(fcntl(ends[1], F_GETPIPE_SZ) >= 65536, "%d", fcntl(ends[1], F_GETPIPE_SZ));
#endif
	close(ends[0]);
	close(ends[1]);
	close(file);
}

static void
knows_one_file_by_all_its_names(void)
{
	static const char *const same[] = { "table", "./table", "hard", "soft", "folder/../table" };
	static const char *const none[] = { "no/such", "dangling", "" };
	static const char *const odd[] = { ".", "fifo", "/dev/null" };
	struct os_id id = os_id_at("table");
	int fd = open("table", O_RDONLY);

	make_file("other", "a\tb\n");
	CHECK(link("table", "hard") == 0 && symlink("table", "soft") == 0 &&
		  symlink("no/such", "dangling") == 0 && mkdir("folder", 0777) == 0 &&
		  mkfifo("fifo", 0666) == 0,
	    "%s", strerror(errno));
	for (size_t i = 0; i < sizeof same / sizeof same[0]; i++)
		CHECK(os_id_same(id, os_id_at(same[i])), "%s", same[i]);
	CHECK(os_id_same(id, os_id_of(fd)), "open");
	close(fd);
	CHECK(os_id_at("other").known && !os_id_same(id, os_id_at("other")), "other");
	for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
		struct os_id no = os_id_at(none[i]);

		/* what is not there is the same as nothing, not even itself */
		CHECK(!no.known && !os_id_same(no, no) && !os_id_same(id, no), "%s", none[i]);
	}
	for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
		struct os_id at = os_id_at(odd[i]);

		CHECK(at.known && !at.regular && os_id_same(at, at) && !os_id_same(id, at), "%s",
		    odd[i]);
	}
	CHECK(id.regular, "table");
	CHECK(!os_id_of(-1).known, "closed");
	unlink("other");
	unlink("hard");
	unlink("soft");
	unlink("dangling");
	rmdir("folder");
}

static void
tells_a_terminal(void)
{
	int terminal = posix_openpt(O_RDWR | O_NOCTTY);

	CHECK(!output_is_terminal("table") && !output_is_terminal("no/such") &&
		  !output_is_terminal("/dev/null") && !output_is_terminal("fifo"),
	    "a terminal");
	CHECK(output_is_terminal(NULL) == isatty(STDOUT_FILENO) &&
		  output_is_terminal("-") == isatty(STDOUT_FILENO),
	    "standard output");
	if (terminal >= 0 && grantpt(terminal) == 0 && unlockpt(terminal) == 0)
		CHECK(output_is_terminal(ptsname(terminal)), "%s", ptsname(terminal));
	close(terminal);
	unlink("fifo");
	unlink("table");
}

int
main(void)
{
	const char *tmp = getenv("TMPDIR");
	char folder[200];

	snprintf(folder, sizeof folder, "%s/thrum-os-XXXXXX", tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	RUN(opens_what_can_be_read);
	RUN(refuses_what_cannot_be_read);
	RUN(reads_and_writes_through_signals);
	RUN(says_why_it_cannot_write);
	RUN(widens_pipes_and_nothing_else);
	RUN(knows_one_file_by_all_its_names);
	RUN(tells_a_terminal);
	if (chdir("/") != 0 || rmdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	return check_done();
}
