/*
 * width: how many columns of a terminal a text takes: combining marks none, East Asian wide characters
 * two, all others one (Unicode Standard Annex 11; emoji made of several characters count as their parts).
 */
#ifndef THRUM_PAGE_WIDTH_H
#define THRUM_PAGE_WIDTH_H

#include <stdbool.h>

#include "base/bytes.h"

/* The columns that f takes; bytes that are not UTF-8 count as characters, control characters as none. */
size_t width_field(struct field f);

/* As much of the start of f as fits into so many columns, marks that belong to it included. */
struct field width_cut(struct field f, size_t most);

#endif
