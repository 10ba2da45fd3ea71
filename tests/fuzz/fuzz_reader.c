/*
 * Any bytes as one or two tables, read from memory, from files in blocks of a size that the bytes
 * choose, and through a pipe; each reading must be the one that the rules written down a second time
 * give (tests/unit/naive.h).
 *
 * The first byte: bits 0 and 1 the flags, bit 2 two files (cut at the byte 0x1c), the rest the size
 * of a block.
 */
#include "base/os.h"
#include "table/reader.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "../unit/naive.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A file of these bytes, without a name of its own; the name by which its descriptor can be opened. */
static int
store(struct field text, char name[40])
{
	char path[] = "/tmp/fuzz_reader-XXXXXX";
	int fd = mkstemp(path);

	if (fd < 0 || unlink(path) != 0 || os_write(fd, text.p, text.n) != 0) {
		perror(path);
		abort();
	}
	snprintf(name, 40, "/dev/fd/%d", fd);
	return fd;
}

static void
compare(const struct bytes *want, const struct bytes *got, const char *how)
{
	if (field_same(bytes_field(want), bytes_field(got)))
		return;
	printf("%s:\n--- want\n%.*s\n--- got\n%.*s\n", how, (int)want->n, want->p, (int)got->n,
	    got->p);
	fflush(stdout);
	abort();
}

static void
read_memory(const struct naive_file *file)
{
	struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
	struct err err = { "" };

	naive_read(file, 1, 0, &want);
	naive_log_tin(&got, reader_memory(file->name, file->text, &err), &err);
	compare(&want, &got, "memory");
	bytes_free(&want);
	bytes_free(&got);
}

static void
read_pipe(struct field text, unsigned flags, size_t block)
{
	static char dash[] = "-";
	struct naive_file file = { "-", text };
	struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
	struct err err = { "" };
	char *name = dash;
	int ends[2];

	if (text.n > 4096) /* as much as every pipe holds */
		return;
	if (pipe(ends) != 0 || os_write(ends[1], text.p, text.n) != 0 || dup2(ends[0], 0) != 0)
		abort();
	close(ends[0]);
	close(ends[1]);
	naive_read(&file, 1, flags, &want);
	naive_log_tin(&got, reader_open_block(&name, 1, flags, block, block, &err), &err);
	compare(&want, &got, "pipe");
	bytes_free(&want);
	bytes_free(&got);
}

static void
read_files(struct naive_file *files, size_t n, unsigned flags, size_t block)
{
	struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
	char names[2][40], *paths[2];
	int fd[2];

	for (size_t i = 0; i < n; i++) {
		fd[i] = store(files[i].text, names[i]);
		files[i].name = paths[i] = names[i];
	}
	naive_read(files, n, flags, &want);
	for (int usual = 0; usual < 2; usual++) {
		struct err err = { "" };

		got.n = 0;
		naive_log_tin(&got,
		    usual ? reader_open(paths, n, flags, &err)
			  : reader_open_block(paths, n, flags, block / 2 + 1, block, &err),
		    &err);
		compare(&want, &got, usual ? "files, usual blocks" : "files, odd blocks");
	}
	for (size_t i = 0; i < n; i++)
		close(fd[i]);
	bytes_free(&want);
	bytes_free(&got);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct naive_file files[2] = { { "x.tsv", { "", 0 } } };
	struct field rest;
	unsigned flags;
	size_t block, n = 1;

	if (size == 0)
		return 0;
	flags = data[0] & 3;
	block = 1 + (size_t)(data[0] >> 3) * (data[0] >> 3);
	rest = (struct field){ (const char *)data + 1, size - 1 };
	files[0].text = rest;
	if (data[0] & 4) {
		files[0].text = field_cut(&rest, 0x1c);
		if (rest.p != NULL)
			files[n++].text = rest;
	}
	read_memory(&files[0]);
	read_pipe(files[0].text, flags, block);
	read_files(files, n, flags, block);
	return 0;
}
