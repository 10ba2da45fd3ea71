/*
 * rule: a table of rules, and the rows of another table judged by it, one at a time. Only rules that
 * compare rows with one another need memory for each row.
 *
 *	struct rules rules;
 *	struct table t;
 *
 *	rules_init(&rules, "joint", NULL, report, arg);
 *	if (rules_read(&rules, &rules_table) == 0 &&
 *	    table_open(&t, rules.cols, files, n, READER_KEEP_MISSHAPEN, NULL, &err) == 0 &&
 *	    rules_bind(&rules, &t) == 0) {
 *		while (table_next(&t))
 *			rules_row(&rules);
 *		rules_end(&rules);
 *	}
 *	table_close(&t);
 *	rules_free(&rules);
 *
 * A rules table has the columns rule, level (off, warning, error), kind, columns, low, high, words,
 * pattern, when, says and source; thrum-check(1) explains them. What kinds there are is data: the
 * generic ones are in rule_kind.c, a program may bring its own.
 *
 * A subject is what several rows may be about, such as a joint with several attempts. The column of
 * that name is written in each finding, and a kind may report on a subject at the end of the table.
 */
#ifndef THRUM_TABLE_RULE_H
#define THRUM_TABLE_RULE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"
#include "table/findings.h"
#include "table/ids.h"
#include "table/table.h"

struct rules;

/* the columns of a rules table, for rule_kind.prepare to name in table_fail */
enum {
	RULE_NAME,
	RULE_LEVEL,
	RULE_KIND,
	RULE_COLUMNS,
	RULE_LOW,
	RULE_HIGH,
	RULE_WORDS,
	RULE_PATTERN,
	RULE_WHEN,
	RULE_SAYS,
	RULE_SOURCE,
};

enum rule_level { RULE_OFF, RULE_WARNING, RULE_ERROR };

enum { RULE_COLUMNS_MOST = 32 };

/* one row of a rules table; texts live as long as the rules */
struct rule {
	const struct rule_kind *kind;
	enum rule_level level;
	const char *name, *says, *wanted;
	size_t cols[RULE_COLUMNS_MOST], ncols; /* among rules.cols */
	uint32_t optional;                     /* which of these may be missing, as bits */
	bool standing;                    /* one of its conditions is about the column `stands` */
	double low, high;                 /* -INFINITY, INFINITY if not given */
	struct field low_text, high_text; /* as they were written; n 0: not given */
	struct field *words;
	size_t nwords;
	struct field pattern;
	uint64_t need;  /* which of rules.terms must hold for it to apply, as bits */
	void *made;     /* by kind->prepare */
	unsigned table; /* which call of rules_read has read it */
};

/* a rule at work on some columns of the table that is judged */
struct rule_check {
	void (*judge)(struct rules *rs, struct rule_check *c);
	uint64_t need; /* which of rules.open must hold, as bits */
	const struct rule *rule;
	struct rule_memo *memo;    /* NULL: none answers for it */
	int at[RULE_COLUMNS_MOST]; /* columns of the table; -1: one it does not have */
	size_t first, n;           /* which of the rule's columns */
	uint32_t optional;         /* bits */
	bool missed;    /* a row demands a value, and the table does not have the column */
	struct ids ids; /* for kinds that remember rows */
	void *memory;
	size_t cap;
};

struct rule_kind {
	const char *name;
	size_t group; /* how many columns one check reads; 0: all of the rule, `least` or more */
	size_t least;
	unsigned takes;     /* bits 1 << RULE_LOW, _HIGH, _WORDS, _PATTERN: what a rule may give */
	unsigned needs;     /* what it must give */
	const char *wanted; /* what it demands, for the rule's wanted */
	bool filled;        /* it demands a value: every field is fine that is not empty */
	bool pure; /* of one column, and the same field is judged the same way every time */
	/*
	 * Looks at what the rule gives; may set wanted (to what rules_text made) and made. 0, or -1
	 * after table_fail with one of the columns above. May be NULL.
	 */
	int (*prepare)(struct rules *rs, struct rule *r, struct table *t);
	void (*release)(struct rule *r); /* frees made; may be NULL */
	/* Judges the present row. */
	void (*judge)(struct rules *rs, struct rule_check *c);
	/* Judges a subject at the end of the table; NULL: nothing to say then. */
	void (*end)(struct rules *rs, struct rule_check *c, size_t subject);
};

struct rules {
	struct col *cols; /* what the rules read, ended by one without a name: for table_open */
	struct rule *rules;
	size_t n;

	/* used by rule.c and rule_read.c only; kinds may read it */
	struct ids col_names, names; /* of cols and of rules, numbered as they are */
	size_t ncols, cap_cols, cap_rules, cap_places;
	struct rule_place *places;     /* of cols that rules name */
	unsigned tables;               /* how many have been read */
	const struct rule_kind *kinds; /* of the program, ended by one without a name; or NULL */
	bool strict;                   /* warnings are errors; to be set before rules_read */
	bool demands; /* to be set: rules_end tells of columns missing that rules demand */
	struct rule_term *terms;
	size_t nterms, cap_terms;
	size_t *open; /* the terms to be evaluated for each row */
	size_t nopen;
	struct region text;

	struct table *table;
	struct rule_check *checks;
	size_t nchecks, cap_checks;
	struct rule_memo *memos;
	size_t nmemos;
	size_t *others; /* checks without a memo */
	size_t nothers;
	struct rule_mark *marks; /* for each column of the table, what was found in which row */
	uint64_t serial;         /* of the present row */
	bool remembers;          /* a check has something to say at the end */

	struct ids subjects;
	struct rule_subject *last; /* for each of them its last row */
	size_t cap_last, subject;
	bool subject_known;

	void (*report)(void *arg, const struct finding *f);
	void *arg;
	struct bytes found, wanted; /* room for kinds to make texts in */
	void *trade;                /* of the program, for its kinds */
};

/*
 * subject: the name of the subject's column. kinds: more kinds, may be NULL. report is called for
 * each finding; what it is given lives until it returns.
 */
void rules_init(struct rules *rs, const char *subject, const struct rule_kind *kinds,
    void (*report)(void *arg, const struct finding *f), void *arg);

/* the columns of a table of rules */
extern const struct col rule_cols[];

/*
 * Reads the rows of such a table. Called again it adds rules; one of a name read by an earlier call
 * takes that one's place. 0, or -1 with the table's err set.
 */
int rules_read(struct rules *rs, struct table *t);

/* Has a column read beside those of the rules, before rules_bind; its number among rs->cols. */
size_t rules_reads(struct rules *rs, const char *name);

/*
 * Makes rules work on table, which was opened with rs->cols and READER_KEEP_MISSHAPEN and must stay
 * where it is. Rules whose columns it does not have do not apply; one that no table of the suite has, but
 * that is nearly one of this table, is trouble. 0, or -1 with the table's err set: none does.
 */
int rules_bind(struct rules *rs, struct table *table);

/* Judges the present row of the table. */
void rules_row(struct rules *rs);

/* Once after the last row. */
void rules_end(struct rules *rs);

/* A rules that is all zero is fine. */
void rules_free(struct rules *rs);

/* --- for kinds ------------------------------------------------------------------------------- */

/* The present row's field in the check's column i; empty if the table does not have it. */
static inline struct field
rules_cell(const struct rules *rs, const struct rule_check *c, size_t i)
{
	return c->at[i] < 0 ? (struct field){ "", 0 }
			    : row_field(&rs->table->row, (size_t)c->at[i]);
}

/* false: the field is empty, and must not be for the check to say anything */
static inline bool
rules_cell_is_enough(const struct rules *rs, const struct rule_check *c, size_t i)
{
	return (c->optional >> i & 1) || rules_cell(rs, c, i).n > 0;
}

/* n of them from `first` on, joined by blanks; valid until the next call. */
struct field rules_cells(struct rules *rs, const struct rule_check *c, size_t first, size_t n);

/* The name of the check's column i in the table that is judged. */
struct field rules_column(const struct rules *rs, const struct rule_check *c, size_t i);

/*
 * A finding in the check's column i of the present row; wanted and says may be NULL: the rule's.
 * Nothing is reported of a field of which something as grave has been reported already: one wrong
 * number is one finding, whatever rules read it.
 */
void rules_report(struct rules *rs, const struct rule_check *c, size_t i, struct field found,
    const char *wanted, const char *says);

/* A finding about a subject, at its last row; in the end only. */
void rules_report_end(struct rules *rs, const struct rule_check *c, size_t subject,
    struct field found, const char *wanted);

/* The same in the check's column i. */
void rules_report_end_at(struct rules *rs, const struct rule_check *c, size_t i, size_t subject,
    struct field found, const char *wanted);

/* The number of the present row's subject, or SIZE_MAX if it has none. */
size_t rules_subject(struct rules *rs);

/* The present row's subject, empty if it has none. */
struct field rules_subject_name(const struct rules *rs);

/*
 * The field of column i as a whole number. false if it is empty; also, after a finding, if it is no
 * whole number.
 */
bool rules_whole(struct rules *rs, const struct rule_check *c, size_t i, int64_t *n);

/* The check's memory, made to hold at least n elements of `size` bytes; what is new is zero. */
void *rules_memory(struct rule_check *c, size_t n, size_t size);

/* A text that lives as long as the rules. */
const char *
rules_text(struct rules *rs, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* "LOW to HIGH", "at least LOW", "at most HIGH" as far as the rule gives them, else `any`. */
const char *rules_range(struct rules *rs, const struct rule *r, const char *any);

#endif
