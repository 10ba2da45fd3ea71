/*
 * findings: what a night leaves to a person: findings, a row a stretch, and the questions that settle most.
 */
#ifndef THRUM_MATCH_FINDINGS_H
#define THRUM_MATCH_FINDINGS_H

#include "match/tell.h"
#include "table/findings.h"
#include "table/sheet.h"

/* Puts all findings in; with `each`, also single arcs and joints. */
void match_findings(const struct match_night *night, bool each, struct findings *found);

/* an arc to be asked about */
struct match_question {
	uint32_t stream, seen;
	uint32_t settles; /* arcs */
};

/* The questions, that which settles most first; *n how many. To be freed. */
struct match_question *match_questions(const struct match_night *night, size_t *n);

/* Of the table of questions; the first ones are those of the answers, is and joint stay empty. */
extern const struct col match_question_cols[];

/* Writes them all into a sheet of these columns. */
void match_questions_write(const struct match_night *night, struct sheet *out);

#endif
