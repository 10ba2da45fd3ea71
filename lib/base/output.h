/*
 * output: all outputs of one run, kept or dropped together.
 *
 *	struct outputs all = { .n = 0 };
 *	struct output *o = output_add(&all, path, &err);
 *
 *	if (o == NULL || os_write(o->fd, text, n) != 0)
 *		...
 *	if (outputs_finish(&all, true, &err) != 0)
 *		complain(err.text);
 *
 * A file is written beside its target under a temporary name, TARGET.PROCESS.NUMBER~, and renamed at
 * the end, when all other outputs are written as well. So every file is there, or none is and the
 * old files are as they were. What is not a regular file (standard output, a device, a FIFO, an open
 * descriptor such as /dev/stdout or /dev/fd/3) is written directly and cannot be taken back.
 *
 * Not covered: loss of power between the first rename and the sync of the last folder, when some of
 * the files may be new and others old, each of them whole; SIGKILL in the same moment; and, after a
 * rename, a folder that cannot be synced on a file system without hard links, when the only output
 * stays though the run has failed. SIGKILL and loss of power may leave temporary files.
 */
#ifndef THRUM_BASE_OUTPUT_H
#define THRUM_BASE_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/err.h"
#include "base/os.h"

enum { OUTPUTS_MOST = OS_UNFINISHED };

struct output {
	const char *path; /* as the caller named it, or "standard output" */
	int fd;           /* to be written to; never to be closed by the caller */

	/* the rest is for output.c alone */
	struct os_id file; /* what was there before */
	char *target;      /* NULL: written directly; else without symbolic links */
	const char *base;  /* the last part of target */
	struct os_id folder;
	char *temporary, *spare, *folder_name;
	const char *backup;  /* spare, once the old file has that name; else NULL */
	bool fresh, renamed; /* fresh: there was no file of this name before the rename */
	void (*flush)(void *);
	void *owner;
};

/* Start it as { .n = 0 }. Outputs point into it: it must stay where it is until outputs_finish. */
struct outputs {
	struct output v[OUTPUTS_MOST];
	size_t n;
};

/*
 * One more output; path NULL or "-" is standard output, and path must outlive `all`. Symbolic links
 * are followed to the file they lead to, existing or not. A file that is replaced hands on its
 * mode, and its owner and group as far as the system allows it; access lists are not handed on.
 *
 * NULL with err set ("PATH: why") if it cannot be opened, and:
 *	PATH: is written twice at once		another output has the same target: the same file, by
 *						whatever name, or the same name in the same folder, or
 *						the same standard output, pipe or device (/dev/null is
 *						allowed: nothing gets mixed there)
 *	PATH: is read-only			a file whose mode allows no writing. Replacing it needs
 *						only a writable folder, so the system would not protect
 *						it; root is refused as well
 *	PATH: leads to a file without a name	a file of another process that was deleted
 *	PATH: more than 16 outputs
 */
struct output *output_add(struct outputs *all, const char *path, struct err *err);

/*
 * For code that holds back bytes for o: flush(owner) writes them and reports trouble to the err that
 * outputs_finish gets. owner comes from malloc and is freed by outputs_finish.
 */
void output_owned(struct output *o, void (*flush)(void *), void *owner);

/* true if an output is a regular file that is there already: without one nothing can be replaced */
bool outputs_have_file(const struct outputs *all);

/*
 * The output that replaces, or writes to, this regular file; NULL if there is none or if `file` is no
 * regular file. For "is read and written at once": ask with os_id_of or os_id_at of all that is read.
 */
const struct output *outputs_with(const struct outputs *all, struct os_id file);

/*
 * keep, and nothing in err: flushes and syncs all temporary files, then flushes and closes what is
 * written directly, then renames one file after the other and syncs their folders; if one of these
 * steps fails, what was renamed is put back. Else: removes all temporary files, and flushes what is
 * written directly. Frees the owners and empties `all`. 0, or -1 if err is set, by this or before
 * ("PATH: why", "PATH: why; OTHER could not be put back: the old file is NAME").
 */
int outputs_finish(struct outputs *all, bool keep, struct err *err);

/* true if an output of this name would go to a terminal, as /dev/stdout may */
bool output_is_terminal(const char *path);

#endif
