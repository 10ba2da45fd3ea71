/*
 * wavelengths: a small set of them.
 *
 *	struct wavelengths w = { 0 };
 *
 *	if (wavelengths_parse(&w, "--wavelength", pieces, n, &err) == 0)
 *		for (size_t i = 0; i < w.n; i++)
 *			use(w.nm[i]);
 */
#ifndef THRUM_FIBRE_WAVELENGTHS_H
#define THRUM_FIBRE_WAVELENGTHS_H

#include "base/bytes.h"
#include "base/err.h"

enum { WAVELENGTHS_MOST = 64 };

struct wavelengths {
	double nm[WAVELENGTHS_MOST]; /* ascending, each once */
	size_t n;
};

/* Adds one, in nm. 0, also if it is there already, or -1 with err set: there are too many. */
int wavelengths_add(struct wavelengths *w, double nm, struct err *err);

/* Adds n numbers of an option's list, each 600 to 1700. 0, or -1 with err set. */
int wavelengths_parse(struct wavelengths *w, const char *option, const struct field *pieces,
    size_t n, struct err *err);

enum { WAVELENGTHS_TEXT = 32 };

/* A wavelength as people write it: 1310, 1264.5; 0, which stands for none, as nothing. A string. */
struct field wavelengths_text(char dst[WAVELENGTHS_TEXT], double nm);

#endif
