#include "table/pattern.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/num.h"

enum { DEEPEST = PATTERN_LONGEST };

/* How many parts an expression has, written out; beyond PATTERN_LARGEST any number will do. */
struct size {
	uint64_t done; /* parts that no repeat can reach any more */
	uint64_t last; /* of the piece that a repeat behind it would repeat */
};

static uint64_t
at_most(uint64_t n)
{
	return n > PATTERN_LARGEST ? PATTERN_LARGEST + 1 : n;
}

static void
next_piece(struct size *s, uint64_t parts)
{
	s->done = at_most(s->done + s->last);
	s->last = parts;
}

/* The end of a bracket expression that begins at p: its "]", or the text's end. */
static const char *
bracket_end(const char *p)
{
	p++;
	if (*p == '^')
		p++;
	if (*p == ']')
		p++;
	for (; *p != '\0' && *p != ']'; p++)
		if (*p == '[' && (p[1] == ':' || p[1] == '.' || p[1] == '=')) {
			char close[] = { p[1], ']', '\0' };
			const char *end = strstr(p + 2, close);

			if (end != NULL)
				p = end + 1;
		}
	return p;
}

/* The greatest bound of the interval that begins at *p, which moves to its end; at least 1. */
static uint64_t
interval(const char **p)
{
	uint64_t most = 1, n = 0;

	for (; **p != '\0' && **p != '}'; ++*p) {
		n = num_is_digit(**p) ? at_most(n * 10 + (uint64_t)(**p - '0')) : 0;
		if (n > most)
			most = n;
	}
	if (**p == '\0')
		--*p;
	return most;
}

static uint64_t
parts_of(const char *text)
{
	struct size open[DEEPEST + 1] = { { 0, 0 } }, *s = open;

	for (const char *p = text; *p != '\0'; p++) {
		switch (*p) {
		case '\\':
			next_piece(s, 1);
			p += p[1] != '\0';
			break;
		case '[':
			next_piece(s, 1);
			p = bracket_end(p);
			if (*p == '\0')
				return 0; /* not closed: the C library will say so */
			break;
		case '(':
			*++s = (struct size){ 0, 0 };
			break;
		case ')':
			if (s > open) {
				uint64_t inner = s->done + s->last;

				next_piece(--s, at_most(inner + 1));
			}
			break;
		case '*':
		case '?':
			s->last = at_most(s->last + 1);
			break;
		case '+': /* x+ is written out as xx* */
			s->last = at_most(s->last * 2 + 1);
			break;
		case '{':
			s->last = at_most(s->last * interval(&p));
			break;
		default:
			next_piece(s, 1);
		}
	}
	return at_most(s->done + s->last);
}

int
pattern_compile(regex_t *regex, const char *text, int flags, char why[PATTERN_WHY])
{
	char says[PATTERN_WHY - 20];
	int fault;

	if (strlen(text) > PATTERN_LONGEST) {
		snprintf(why, PATTERN_WHY, "pattern too long");
		return -1;
	}
	for (const char *p = text; (p = strchr(p, '\\')) != NULL && p[1] != '\0'; p += 2)
		if (num_is_digit(p[1])) {
			snprintf(why, PATTERN_WHY, "pattern with a back-reference");
			return -1;
		}
	if (parts_of(text) > PATTERN_LARGEST) {
		snprintf(why, PATTERN_WHY, "pattern with more than %d repeats", PATTERN_LARGEST);
		return -1;
	}
	fault = regcomp(regex, text, REG_EXTENDED | flags);
	if (fault == 0)
		return 0;
	regerror(fault, regex, says, sizeof says);
	snprintf(why, PATTERN_WHY, "no pattern: %s", says);
	return -1;
}
