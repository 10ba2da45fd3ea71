/*
 * html: text into HTML that is well-formed as XML too, opens without a network and has no script.
 *
 *	html_begin(&b, field_of("Ombrick cove"), ".over { font-weight: bold; }");
 *	html_fill(&b, "<p>%: <b>%</b></p>\n", name, verdict);
 *	html_end(&b);
 */
#ifndef THRUM_PAGE_HTML_H
#define THRUM_PAGE_HTML_H

#include "base/bytes.h"

/* The start of a document, up to the start of its body; `style` is CSS behind that of all pages. */
void html_begin(struct bytes *b, struct field title, const char *style);
void html_end(struct bytes *b);

/*
 * f as text, also within a quoted attribute: markup and quotes as entities; control bytes, bytes that
 * are not UTF-8 and what XML has no place for as \xNN.
 */
void html_text(struct bytes *b, struct field f);

/* The markup, with each % replaced by the next argument, a struct field, as html_text writes it. */
void html_fill(struct bytes *b, const char *markup, ...);

#endif
