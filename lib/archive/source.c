#include "archive/source.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/os.h"

static ssize_t
read_fd(const struct pack_source *s, uint64_t at, void *p, size_t n)
{
	ssize_t got;

	if (!s->known)
		return os_read(s->fd, p, n);
	do
		got = pread(s->fd, p, n, (off_t)(s->start + at));
	while (got < 0 && errno == EINTR);
	return got;
}

static ssize_t
read_memory(const struct pack_source *s, uint64_t at, void *p, size_t n)
{
	uint64_t left = at < s->size ? s->size - at : 0;

	if (n > left)
		n = (size_t)left;
	if (n > 0)
		memcpy(p, s->bytes + at, n);
	return (ssize_t)n;
}

void
pack_source_fd(struct pack_source *s, int fd, bool regular)
{
	off_t start = regular ? lseek(fd, 0, SEEK_CUR) : -1;
	off_t end = start >= 0 ? lseek(fd, 0, SEEK_END) : -1;

	*s = (struct pack_source){ .read = read_fd, .fd = fd };
	if (start < 0 || end < start)
		return;
	s->known = true;
	s->start = (uint64_t)start;
	s->size = (uint64_t)(end - start);
}

void
pack_source_memory(struct pack_source *s, const void *bytes, size_t n, bool known)
{
	*s = (struct pack_source){ .read = read_memory, .known = known, .size = n, .bytes = bytes };
}

ssize_t
pack_source_some(const struct pack_source *s, uint64_t at, void *p, size_t n, struct err *err)
{
	ssize_t got = s->read(s, at, p, n);

	if (got < 0)
		err_set(err, "%s", strerror(errno));
	return got;
}

bool
pack_source_all(const struct pack_source *s, uint64_t at, void *p, size_t n, struct err *err)
{
	while (n > 0) {
		ssize_t got = pack_source_some(s, at, p, n, err);

		if (got < 0)
			return false;
		if (got == 0) {
			err_set(err, "has become shorter while it was read");
			return false;
		}
		at += (uint64_t)got;
		p = (unsigned char *)p + got;
		n -= (size_t)got;
	}
	return true;
}
