#define _GNU_SOURCE /* program_invocation_short_name */

#include "base/mem.h"

#include <errno.h>
#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/uio.h>
#include <unistd.h>

#include "base/os.h"

/* the bytes of an ordinary block; a piece above a quarter of that gets a block of its own */
enum { BLOCK = 64 * 1024 - 64 };

struct region_block {
	struct region_block *before;
	size_t size;
	max_align_t data[];
};

void *
mem_zeroed(size_t n, size_t size)
{
	/* calloc may give NULL for no bytes at all */
	void *p = calloc(n > 0 ? n : 1, size > 0 ? size : 1);

	if (p == NULL)
		mem_none();
	return p;
}

void *
mem_grow(void *p, size_t *cap, size_t need, size_t size)
{
	size_t most = PTRDIFF_MAX / size, more = *cap;

	if (need <= *cap && p != NULL)
		return p;
	if (need > most)
		mem_none();
	more = more < most / 2 ? more * 2 : most;
	if (more < 16 && most >= 16)
		more = 16;
	if (more < need)
		more = need;
	p = realloc(p, more * size);
	if (p == NULL)
		mem_none();
	*cap = more;
	return p;
}

/* the program's name; that of the suite where the C library does not keep it */
static struct field
program_name(void)
{
	const char *name = NULL;

#ifdef __linux__ /* glibc and musl */
	name = program_invocation_short_name;
#endif
	return field_of(name != NULL && *name != '\0' ? name : "thrum");
}

_Noreturn void
mem_none(void)
{
	static const char says[] = ": out of memory\n";
	struct field name = program_name();
	const struct iovec parts[] = { { (void *)(uintptr_t)name.p, name.n },
		{ (void *)(uintptr_t)says, sizeof says - 1 } };
	ssize_t said = writev(STDERR_FILENO, parts, 2);

	(void)said; /* nothing is left to be done if this fails as well */
	os_cleanup();
	_exit(2);
}

static struct region_block *
new_block(size_t n)
{
	struct region_block *b;
	size_t got = 0;

	if (n > PTRDIFF_MAX - sizeof *b - sizeof(max_align_t))
		mem_none();
	n = (n + sizeof(max_align_t) - 1) / sizeof(max_align_t) * sizeof(max_align_t);
	b = mem_grow(NULL, &got, sizeof *b + n, 1);
	b->before = NULL;
	b->size = n;
	return b;
}

/* n bytes; `align` is a power of two, and the end of every block is aligned for anything */
static void *
take(struct region *r, size_t n, size_t align)
{
	struct region_block *b;
	size_t left = r->left & ~(align - 1);

	if (n > left || r->last == NULL) {
		b = new_block(n > BLOCK / 4 ? n : BLOCK);
		if (n > BLOCK / 4 && r->last != NULL) { /* the last block still has room */
			b->before = r->last->before;
			r->last->before = b;
			return b->data;
		}
		b->before = r->last;
		r->last = b;
		left = b->size;
	}
	r->left = left - n;
	return (char *)r->last->data + (r->last->size - left);
}

void *
region_get(struct region *r, size_t n)
{
	return take(r, n, alignof(max_align_t));
}

char *
region_string(struct region *r, struct field f)
{
	char *s;

	if (f.n == SIZE_MAX)
		mem_none();
	s = take(r, f.n + 1, 1);
	if (f.n > 0)
		memcpy(s, f.p, f.n);
	s[f.n] = '\0';
	return s;
}

struct field
region_keep(struct region *r, struct field f)
{
	char *s = take(r, f.n, 1);

	if (f.n > 0)
		memcpy(s, f.p, f.n);
	return (struct field){ s, f.n };
}

void
region_free(struct region *r)
{
	struct region_block *b = r->last, *before;

	for (; b != NULL; b = before) {
		before = b->before;
		free(b);
	}
	*r = (struct region){ NULL, 0 };
}
