/*
 * check: the few lines every C test here needs. A test is a function; RUN(test) calls it and prints
 * one TAP line; each failed CHECK in it prints why.
 *
 *	static void adds_up(void) { CHECK(1 + 1 == 2, "got %d", 1 + 1); }
 *	int main(void) { RUN(adds_up); return check_done(); }
 */
#ifndef THRUM_TESTS_CHECK_H
#define THRUM_TESTS_CHECK_H

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

static int check_n, check_bad, check_bad_here;
static long check_tried;

#define CHECK(cond, ...)                                                                           \
	do {                                                                                       \
		check_tried++;                                                                     \
		if (!(cond)) {                                                                     \
			if (check_bad_here++ < 10) {                                               \
				printf("# %s:%d: %s: ", __FILE__, __LINE__, #cond);                \
				printf(__VA_ARGS__);                                               \
				putchar('\n');                                                     \
			}                                                                          \
		}                                                                                  \
	} while (0)

/* |got - want| <= tol, and both are numbers */
#define NEAR(got, want, tol)                                                                       \
	CHECK(fabs((got) - (want)) <= (tol), "got %.17g, want %.17g", (double)(got), (double)(want))

static inline void
check_run(const char *name, void (*test)(void))
{
	check_bad_here = 0;
	test();
	printf("%s %d - %s\n", check_bad_here ? "not ok" : "ok", ++check_n, name);
	check_bad += check_bad_here != 0;
	fflush(stdout);
}
#define RUN(test) check_run(#test, test)

static inline int
check_done(void)
{
	printf("# trials %ld\n1..%d\n", check_tried, check_n);
	return check_bad != 0;
}

/* xorshift64* (Vigna 2016): seeded, so that a failure can be had again */
static inline uint64_t
check_random(uint64_t *state)
{
	*state ^= *state >> 12;
	*state ^= *state << 25;
	*state ^= *state >> 27;
	return *state * 2685821657736338717u;
}

#endif
