/*
 * judge: does each link run from its port a to its port b, and is every joint on a link?
 *
 *	struct judge judge;
 *
 *	judge_begin(&judge, &g, &lay);
 *	judge_links(&judge);
 *	judge_free(&judge);
 *
 * What it finds is added to the records' findings; the elements of each link are laid out as it goes.
 */
#ifndef THRUM_ROUTE_JUDGE_H
#define THRUM_ROUTE_JUDGE_H

#include "route/lay.h"

struct judge {
	struct joined *g;
	struct lay *lay;
	struct path path, back;
	uint32_t *stamp; /* of each section, the last link of `apart` that was seen in it */
};

void judge_begin(struct judge *j, struct joined *g, struct lay *lay);

/*
 * Every link in the order of its first appearance, then the joints on none. A link that is not whole, or
 * with a finding on its way that light cannot pass, ends with an open element.
 */
void judge_links(struct judge *j);

/*
 * Lays out j->path, which somebody walked, under this name. With an open element at its end if `open`, or if
 * there is a finding on its way that light cannot pass.
 */
void judge_lay(struct judge *j, struct field name, bool open);

void judge_free(struct judge *j);

#endif
