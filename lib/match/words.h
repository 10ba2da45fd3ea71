/*
 * words: what is found while a night's arcs are matched, in words: rules are the names of
 * thrum-match(1).
 */
#ifndef THRUM_MATCH_WORDS_H
#define THRUM_MATCH_WORDS_H

#include "match/settle.h"
#include "table/findings.h"

/*
 * Adds every finding of a night: machine by machine in the order of time, stretches before their
 * arcs; then arcs without a time and rows that are there once more; then joints nobody recorded, in
 * the order of work.
 */
void match_words_all(const struct match_night *n, struct findings *found);

#endif
