/*
 * pattern: what is small compiles and matches, what would grow beyond measure is refused before the
 * C library sees it.
 */
#include "table/pattern.h"

#include "check.h"

static int
compiles(const char *text, char why[PATTERN_WHY])
{
	regex_t regex;
	int status = pattern_compile(&regex, text, REG_NOSUB, why);

	if (status == 0)
		regfree(&regex);
	return status == 0;
}

static void
usual_ones_compile(void)
{
	static const char *const usual[] = { "", "a", "T([0-9]+)-F([0-9]+)",
		"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", "([^ ]+) T[0-9]+-F[0-9]+",
		"a+b+c+d+e+f+g+h+i+j+k+l+m+", "[]+{}*]", "[^]]", "[[:digit:]+{9999}]",
		"\\+\\+\\+\\+\\+\\+\\+\\+\\+\\+\\+\\+", "x{0}", "a{500}", "(a{30}){30}",
		"(pass|fail)?" };
	char why[PATTERN_WHY] = "";

	for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
		CHECK(compiles(usual[i], why), "'%s': %s", usual[i], why);
}

static void
large_ones_are_refused(void)
{
	static const char *const large[] = { ".*++++++++++++++++++++++++++++++++++++++++++++++",
		"((((((((((((a+)+)+)+)+)+)+)+)+)+)+)+)+", "(a{40}){40}", "a{1001}",
		"a{32767}{32767}", "(((a{1,255}){1,255}){1,255})", "((a{9}){9}[x]{99}){9}",
		"a{,2000}", "a{99999999999999999999}" };
	char why[PATTERN_WHY];

	for (size_t i = 0; i < sizeof large / sizeof large[0]; i++) {
		why[0] = '\0';
		CHECK(!compiles(large[i], why), "'%s' is taken", large[i]);
		CHECK(strcmp(why, "pattern with more than 1000 repeats") == 0, "'%s': %s", large[i],
		    why);
	}
}

static void
others_are_refused(void)
{
	char why[PATTERN_WHY], longest[PATTERN_LONGEST + 2];

	CHECK(!compiles("(a)\\1", why) && strstr(why, "back-reference") != NULL, "%s", why);
	CHECK(compiles("\\\\1", why), "%s", why); /* a backslash and a 1 */
	CHECK(!compiles("(", why) && strncmp(why, "no pattern: ", 12) == 0, "%s", why);
	CHECK(!compiles("[a", why) && strncmp(why, "no pattern: ", 12) == 0, "%s", why);
	memset(longest, 'a', sizeof longest);
	longest[PATTERN_LONGEST] = '\0';
	CHECK(compiles(longest, why), "%s", why);
	longest[PATTERN_LONGEST] = 'a';
	longest[PATTERN_LONGEST + 1] = '\0';
	CHECK(!compiles(longest, why) && strcmp(why, "pattern too long") == 0, "%s", why);
	memset(longest, '(', PATTERN_LONGEST);
	longest[PATTERN_LONGEST] = '\0';
	CHECK(!compiles(longest, why), "%s", why);
}

int
main(void)
{
	RUN(usual_ones_compile);
	RUN(large_ones_are_refused);
	RUN(others_are_refused);
	return check_done();
}
