/*
 * pattern: what is small compiles and matches as the C library's regular expressions do, what would
 * grow beyond measure is refused, and nothing takes long.
 */
#include "table/pattern.h"

#include "check.h"

#include <regex.h>
#include <stdlib.h>
#include <time.h>

#include "base/mem.h"

static struct pattern *
compile(const char *text, char why[PATTERN_WHY])
{
	return pattern_compile(field_of(text), why);
}

static bool
compiles(const char *text, char why[PATTERN_WHY])
{
	struct pattern *p = compile(text, why);

	pattern_free(p);
	return p != NULL;
}

static void
usual_ones_compile(void)
{
	static const char *const usual[] = { "", "a", "T([0-9]+)-F([0-9]+)",
		"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", "([^ ]+) T[0-9]+-F[0-9]+",
		"a+b+c+d+e+f+g+h+i+j+k+l+m+", "[]+{}*]", "[^]]", "[[:digit:]+{9999}]",
		"\\+\\+\\+\\+\\+\\+\\+\\+\\+\\+\\+", "x{0}", "a{500}", "(a{30}){30}",
		"(pass|fail)?",
		/* these cost the C library memory without bound, and nothing here */
		".*++++++++++++++++++++++++++++++++++++++++++++++",
		"((((((((((((a+)+)+)+)+)+)+)+)+)+)+)+)+" };
	char why[PATTERN_WHY] = "";

	for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
		CHECK(compiles(usual[i], why), "'%s': %s", usual[i], why);
}

static void
large_ones_are_refused(void)
{
	static const char *const large[] = { "(a{40}){40}", "a{1001}", "a{32767}{32767}",
		"(((a{1,255}){1,255}){1,255})", "((a{9}){9}[x]{99}){9}", "a{,2000}",
		"a{99999999999999999999}" };
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
	static const char *const none[] = { "(", "[a", ")", "a)", "*a", "a|*", "(+)", "^*", "a{",
		"a{x}", "a{2,1}", "[b-a]", "[[:foo:]]", "[[.a.]]", "\\", "\\w" };
	char why[PATTERN_WHY], longest[PATTERN_LONGEST + 2];

	CHECK(!compiles("(a)\\1", why) && strstr(why, "back-reference") != NULL, "%s", why);
	CHECK(compiles("\\\\1", why), "%s", why); /* a backslash and a 1 */
	for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
		CHECK(!compiles(none[i], why) && strncmp(why, "no pattern: ", 12) == 0, "%s: %s",
		    none[i], why);
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

/* groups, and letters of UTF-8 */
static void
groups_and_letters(void)
{
	static const struct {
		const char *pattern, *text, *want; /* the groups joined by '/'; NULL: no match */
	} cases[] = {
		{ "T([0-9]+)-F([0-9]+)", "T2-F05", "2/05" },
		{ "T([0-9]+)-F([0-9]+)", "T2-F05 ", NULL },
		{ "(.*) / .*", "0.3 / 0.2", "0.3" },
		{ "([a-z]+)(-([a-z]+))?", "blue", "blue//" },
		{ "([a-z]+)(-([a-z]+))?", "blue-red", "blue/-red/red" },
		{ "(.)(.)", "\xc3\xa4\xe2\x82\xac", "\xc3\xa4/\xe2\x82\xac" },
		{ "([\xc3\xa0-\xc3\xbf]+)x", "\xc3\xa4\xc3\xb6x", "\xc3\xa4\xc3\xb6" },
		{ ".{3}(.{4}).*", "\xc3\xa4\xc3\xb6\xc3\xbc 0.5 rest", " 0.5" },
		{ "(.)\xff", "\xfe\xff", "\xfe" },
		{ "^(a*)$", "aaa", "aaa" },
		{ "(a*)*", "aaa", "aaa" },
		{ "(a|ab)(c|bcd)(d*)", "abcd", "a/bcd/" },
	};
	char why[PATTERN_WHY];

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct pattern *p = compile(cases[i].pattern, why);
		struct field part[PATTERN_GROUPS];
		struct bytes got = { 0 };
		bool matches;

		CHECK(p != NULL, "%s: %s", cases[i].pattern, why);
		if (p == NULL)
			continue;
		matches = pattern_matches(p, field_of(cases[i].text), part);
		CHECK(matches == (cases[i].want != NULL), "%s", cases[i].pattern);
		for (size_t g = 0; g < pattern_groups(p) && matches; g++) {
			bytes_add(&got, "/", g > 0);
			bytes_add_field(&got, part[g]);
		}
		CHECK(!matches || field_is(bytes_field(&got), cases[i].want), "%s: %.*s",
		    cases[i].pattern, (int)got.n, got.p);
		bytes_free(&got);
		pattern_free(p);
	}
}

/* Random expressions on random texts, against regcomp(3) and regexec(3). */
static void
as_the_c_library(void)
{
	static const char *const pieces[] = { "a", "b", ".", "[ab]", "[^a]", "(", ")", "|", "*",
		"+", "?", "{2}", "{1,2}", "^", "$", "[[:digit:]b-]", "1", "\\." };
	uint64_t state = 3;
	int compared = 0, found = 0;

	for (int round = 0; round < 60000; round++) {
		char text[128] = "", why[PATTERN_WHY];
		regex_t regex;
		struct pattern *p;

		for (uint64_t n = 1 + check_random(&state) % 7; n > 0; n--)
			strcat(text,
			    pieces[check_random(&state) % (sizeof pieces / sizeof pieces[0])]);
		p = compile(text, why);
		if (p == NULL)
			goto next; /* what we refuse the library may take in a way of its own */
		if (regcomp(&regex, text, REG_EXTENDED) != 0) {
			CHECK(false, "%s", text);
			goto next;
		}
		for (int k = 0; k < 8; k++) {
			char s[16];
			size_t n = check_random(&state) % 8;
			regmatch_t m;
			bool ours, whole;

			for (size_t i = 0; i < n; i++)
				s[i] = "aab1.-"[check_random(&state) % 6];
			s[n] = '\0';
			ours = regexec(&regex, s, 1, &m, 0) == 0;
			whole = ours && m.rm_so == 0 && (size_t)m.rm_eo == n;
			CHECK(pattern_found(p, field_of(s)) == ours, "'%s' in '%s'", text, s);
			CHECK(pattern_matches(p, field_of(s), NULL) == whole, "'%s' is '%s'", text,
			    s);
			compared++;
			found += ours;
		}
		regfree(&regex);
	next:
		pattern_free(p);
	}
	CHECK(compared > 100000 && found > 20000, "%d compared, %d found", compared, found);
}

static void
nothing_takes_long(void)
{
	enum { N = 200000 };
	static const char *const hard[] = { "(a|b)*a(a|b){20}.*", "(a*)*b", "(a|aa)+$",
		"(((((((((a+)+)+)+)+)+)+)+)+)c", "(.*)(.*)(.*)(.*)(.*)x" };
	char *text = mem_zeroed(N, 1), why[PATTERN_WHY];
	clock_t begun = clock();

	memset(text, 'a', N);
	for (size_t i = 0; i < sizeof hard / sizeof hard[0]; i++) {
		struct pattern *p = compile(hard[i], why);

		CHECK(p != NULL, "%s: %s", hard[i], why);
		if (p != NULL)
			pattern_found(p, (struct field){ text, N });
		pattern_free(p);
	}
	/* some 10 ms each; a minute with the C library's */
	CHECK(clock() - begun < 20 * CLOCKS_PER_SEC, "%g s",
	    (double)(clock() - begun) / CLOCKS_PER_SEC);
	free(text);
}

int
main(void)
{
	RUN(usual_ones_compile);
	RUN(large_ones_are_refused);
	RUN(others_are_refused);
	RUN(groups_and_letters);
	RUN(as_the_c_library);
	RUN(nothing_takes_long);
	return check_done();
}
