/*
 * fit: a line held against the elements of its link: whether it is as long, whether it was read from the
 * ends that it names, whether light goes through.
 *
 *	line_make(&line, &r, here, n, 1550);
 *	line_fit(&line, spots, nspots, length_km);
 *	if (line.fault != LINE_SOUND)
 *		...
 */
#ifndef THRUM_READINGS_FIT_H
#define THRUM_READINGS_FIT_H

#include "readings/line.h"
#include "readings/spot.h"

/*
 * How far from where it is drawn nothing can be an element of a link of this length, and how far off the
 * length itself can be: 50 m, or 5 % of it if that is more; common practice.
 */
double fit_astray_m(double length_m);

/*
 * Sets the line's fault: LINE_OPEN if both lengths, neither of them the whole, add up to the elements'
 * within 1 % and what the instruments leave open; LINE_ROUTE if the length differs from theirs;
 * LINE_ENDS if the points are ten times nearer to the elements, counted from the other end, and 50 m off as
 * they are; common practice. length_km: of the link, NAN: not known,
 * and nothing is held against it. What is at fault already stays so, but for LINE_LENGTH.
 */
void line_fit(struct line *l, const struct spot *spots, size_t nspots, double length_km);

#endif
