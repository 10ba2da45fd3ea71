/*
 * picture: files that stand in a page as they are: pictures of SVG, and plain texts.
 */
#ifndef THRUM_PAGE_PICTURE_H
#define THRUM_PAGE_PICTURE_H

#include "base/bytes.h"
#include "base/err.h"

/* Appends a whole file. 0, or -1 with err set ("PATH: why"). */
int file_read(const char *path, struct bytes *b, struct err *err);

/*
 * 0 if the text is one element svg that can stand in a page: its tags are balanced, and it has only
 * elements and attributes that thrum-plot writes, none of which runs, or leads out of the page. Else -1
 * with err set.
 */
int picture_check(const char *path, struct field svg, struct err *err);

/* The picture within a figure, without what stands before its element. */
void picture_html(struct field svg, struct bytes *b);

#endif
