/*
 * output: which target an output has, how many there may be, and that they are kept or dropped
 * together. Calls of the system that fail are tried in tests/outputs.bats.
 */
#include "base/output.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"

static void
write_file(const char *path, const char *text)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0644);

	CHECK(fd >= 0 && os_write(fd, text, strlen(text)) == 0 && close(fd) == 0, "%s", path);
}

static void
holds(const char *path, const char *want)
{
	char got[100] = "";
	int fd = open(path, O_RDONLY);

	CHECK(fd >= 0 && os_read(fd, got, sizeof got - 1) >= 0 && strcmp(got, want) == 0,
	    "%s: '%s', want '%s'", path, got, want);
	if (fd >= 0)
		close(fd);
}

/* --- as many as there may be ------------------------------------------------------------------ */

struct held {
	struct output *to;
	char text[20];
};

static void
flush(void *owner)
{
	struct held *h = owner;

	CHECK(os_write(h->to->fd, h->text, strlen(h->text)) == 0, "write");
}

static void
keeps_or_drops_all(void)
{
	for (int keep = 0; keep < 2; keep++) {
		static char names[OUTPUTS_MOST][20];
		struct outputs all = { .n = 0 };
		struct err err = { "" };

		for (int i = 0; i < OUTPUTS_MOST; i++) {
			struct held *h = calloc(1, sizeof *h);

			snprintf(names[i], sizeof names[i], "o%d", i);
			if (i % 2)
				write_file(names[i], "old");
			else
				unlink(names[i]);
			h->to = output_add(&all, names[i], &err);
			CHECK(h->to != NULL, "%s", err.text);
			snprintf(h->text, sizeof h->text, "new %d", i);
			output_owned(h->to, flush, h);
		}
		CHECK(output_add(&all, "one more", &err) == NULL &&
			  strcmp(err.text, "one more: more than 16 outputs") == 0,
		    "%s", err.text);
		err.text[0] = '\0';
		CHECK(outputs_finish(&all, keep, &err) == 0 && all.n == 0, "%s", err.text);
		for (int i = 0; i < OUTPUTS_MOST; i++) {
			char want[20];

			snprintf(want, sizeof want, "new %d", i);
			if (keep)
				holds(names[i], want);
			else if (i % 2)
				holds(names[i], "old");
			else
				CHECK(access(names[i], F_OK) != 0, "%s is there", names[i]);
			unlink(names[i]);
		}
	}
}

/* trouble met by anybody drops all, and is what outputs_finish returns */
static void
drops_all_after_trouble(void)
{
	struct outputs all = { .n = 0 };
	struct err err = { "" };
	struct output *o = output_add(&all, "out", &err);

	CHECK(o != NULL && os_write(o->fd, "new", 3) == 0, "%s", err.text);
	err_set(&err, "trouble");
	CHECK(outputs_finish(&all, true, &err) == -1 && strcmp(err.text, "trouble") == 0, "%s",
	    err.text);
	CHECK(access("out", F_OK) != 0, "there");
}

/* --- targets ---------------------------------------------------------------------------------- */

static void
knows_what_it_replaces(void)
{
	struct outputs all = { .n = 0 };
	struct err err = { "" };
	const struct output *o;

	write_file("out", "old");
	CHECK(link("out", "hard") == 0 && symlink("out", "soft") == 0, "link");
	o = output_add(&all, "soft", &err);
	CHECK(o != NULL && output_add(&all, "new", &err) != NULL, "%s", err.text);
	CHECK(outputs_with(&all, os_id_at("out")) == o && outputs_with(&all, os_id_at("hard")) == o,
	    "not known");
	CHECK(outputs_with(&all, os_id_at(".")) == NULL &&
		  outputs_with(&all, os_id_at("/dev/null")) == NULL &&
		  outputs_with(&all, os_id_at("missing")) == NULL &&
		  outputs_with(&all, os_id_of(-1)) == NULL,
	    "mistaken");
	CHECK(outputs_finish(&all, false, &err) == 0, "%s", err.text);
	unlink("hard");
	unlink("soft");
	unlink("out");
}

static void
refuses(const char *first, const char *second, const char *want)
{
	struct outputs all = { .n = 0 };
	struct err err = { "" };

	CHECK(output_add(&all, first, &err) != NULL, "%s", err.text);
	CHECK(output_add(&all, second, &err) == NULL && strcmp(err.text, want) == 0,
	    "%s, %s: got '%s', want '%s'", first, second, err.text, want);
	CHECK(all.n == 1, "%zu", all.n);
	outputs_finish(&all, false, &err);
}

static void
refuses_the_same_target(void)
{
	char here[1000], path[1100];

	CHECK(mkdir("there", 0700) == 0 && symlink("there", "linked") == 0 &&
		  symlink("linked/x", "dangling") == 0 && getcwd(here, sizeof here) != NULL,
	    "folders");
	snprintf(path, sizeof path, "%s/linked/../there/x", here);
	refuses("there/x", "./there//x", "./there//x: is written twice at once");
	refuses("there/x", "linked/x", "linked/x: is written twice at once");
	refuses("dangling", "there/x", "there/x: is written twice at once");
	refuses("linked/x", "dangling", "dangling: is written twice at once");
	refuses("there/x", "there/x/", "there/x/: No such file or directory");
	refuses("there/x", "linked/", "linked/: Is a directory");
	refuses("there/x", "", ": No such file or directory");
	unlink("dangling");
	unlink("linked");
	rmdir("there");
}

int
main(void)
{
	const char *tmp = getenv("TMPDIR");
	char folder[200];

	snprintf(folder, sizeof folder, "%s/thrum-output-XXXXXX", tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	RUN(keeps_or_drops_all);
	RUN(drops_all_after_trouble);
	RUN(knows_what_it_replaces);
	RUN(refuses_the_same_target);
	if (chdir("/") != 0 || rmdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	return check_done();
}
