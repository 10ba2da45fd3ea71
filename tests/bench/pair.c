/*
 * pair: two commands run in turn, and how their times compare.
 *
 *	pair NAME GOAL TIMES OURS THEIRS [cpu|wall]
 *
 * Prints one line: NAME, the median over TIMES pairs of OURS' time by THEIRS', the least and the
 * greatest, GOAL (the ratio should be at most that; 0: none), whether it is met, the median time and
 * the peak memory of OURS. Machines drift; a ratio of two runs side by side does not, much; every other
 * pair begins with THEIRS. cpu: the time of the processors, which other work on the machine disturbs
 * less. A command with shell characters in it is run by sh, another one directly. Outputs go to
 * /dev/null.
 */
#include <fcntl.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { TIMES_MOST = 1000, WORDS_MOST = 64 };

extern char **environ;
extern pid_t wait4(pid_t, int *, int, struct rusage *); /* not in POSIX; every Unix has it */

struct run {
	double seconds;
	double peak_mib;
};

static void
words_of(const char *command, char *copy, char *words[WORDS_MOST])
{
	size_t n = 0;

	if (strpbrk(command, "|&;<>()$`\\\"'*?[#~{") != NULL) {
		words[n++] = strdup("sh");
		words[n++] = strdup("-c");
		words[n++] = strdup(command);
	} else
		for (char *w = strtok(strcpy(copy, command), " "); w != NULL && n < WORDS_MOST - 1;
		     w = strtok(NULL, " "))
			words[n++] = w;
	words[n] = NULL;
}

static double
now(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static double
seconds_of(struct timeval t)
{
	return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

static struct run
run(const char *command, bool cpu)
{
	char copy[4096], *words[WORDS_MOST];
	posix_spawn_file_actions_t quiet;
	struct rusage usage;
	double start;
	int status;
	pid_t pid;

	words_of(command, copy, words);
	posix_spawn_file_actions_init(&quiet);
	posix_spawn_file_actions_addopen(&quiet, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
	posix_spawn_file_actions_addopen(&quiet, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
	start = now();
	if (posix_spawnp(&pid, words[0], &quiet, NULL, words, environ) != 0 ||
	    wait4(pid, &status, 0, &usage) < 0 || !WIFEXITED(status) || WEXITSTATUS(status) > 1) {
		fprintf(stderr, "pair: failed: %s\n", command);
		exit(2);
	}
	posix_spawn_file_actions_destroy(&quiet);
	return (struct run){ cpu ? seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime)
				 : now() - start,
		(double)usage.ru_maxrss / 1024 };
}

static int
by_value(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

int
main(int argc, char **argv)
{
	static double ratio[TIMES_MOST], seconds[TIMES_MOST];
	double peak_mib = 0, goal;
	int times;
	bool cpu = argc == 7 && strcmp(argv[6], "cpu") == 0;

	if (argc != 6 && argc != 7)
		return 2;
	goal = atof(argv[2]);
	times = atoi(argv[3]);
	if (times < 1 || times > TIMES_MOST)
		return 2;
	run(argv[4], cpu); /* warm */
	run(argv[5], cpu);
	for (int i = 0; i < times; i++) {
		struct run one = run(argv[4 + i % 2], cpu), other = run(argv[5 - i % 2], cpu);
		struct run ours = i % 2 ? other : one, theirs = i % 2 ? one : other;

		seconds[i] = ours.seconds;
		ratio[i] = ours.seconds / theirs.seconds;
		if (ours.peak_mib > peak_mib)
			peak_mib = ours.peak_mib;
	}
	qsort(ratio, (size_t)times, sizeof *ratio, by_value);
	qsort(seconds, (size_t)times, sizeof *seconds, by_value);
	printf("%-46s %7.3f  %7.3f-%-7.3f", argv[1], ratio[times / 2], ratio[0], ratio[times - 1]);
	if (goal > 0)
		printf(" %6.3f %-7s", goal, ratio[times / 2] <= goal ? "met" : "NOT MET");
	else
		printf(" %14s", "");
	printf(" %9.4f s %7.1f MiB\n", seconds[times / 2], peak_mib);
	return 0;
}
