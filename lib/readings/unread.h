/*
 * unread: links that nobody has read.
 *
 *	unread_links(&readings, &spots, &found);
 */
#ifndef THRUM_READINGS_UNREAD_H
#define THRUM_READINGS_UNREAD_H

#include "readings/found.h"
#include "readings/reading.h"
#include "readings/spot.h"

/*
 * A finding for each link of the elements that nobody has read, and for each that was read, but not at a
 * wavelength at which more than half of the links were.
 */
void unread_links(const struct readings *r, const struct spots *spots, struct found *found);

#endif
