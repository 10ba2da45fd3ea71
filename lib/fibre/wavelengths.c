#include "fibre/wavelengths.h"

#include <stdio.h>

#include "base/num.h"

int
wavelengths_add(struct wavelengths *w, double nm, struct err *err)
{
	size_t i = w->n;

	while (i > 0 && w->nm[i - 1] >= nm)
		i--;
	if (i < w->n && w->nm[i] == nm)
		return 0;
	if (w->n == WAVELENGTHS_MOST)
		return err_set(err, "more than %d wavelengths for one link", WAVELENGTHS_MOST);
	memmove(w->nm + i + 1, w->nm + i, (w->n - i) * sizeof *w->nm);
	w->nm[i] = nm;
	w->n++;
	return 0;
}

int
wavelengths_parse(struct wavelengths *w, const char *option, const struct field *pieces, size_t n,
    struct err *err)
{
	double nm;

	for (size_t i = 0; i < n; i++) {
		bool number = num_parse(pieces[i], &nm) == 0;
		char shown[ERR_SHOWN];

		if (!number || nm < 600 || nm > 1700)
			return err_set(err, "%s: %s: '%s'", option,
			    number ? "outside 600 to 1700" : num_fault(pieces[i]),
			    err_show(shown, pieces[i].p, pieces[i].n));
		if (wavelengths_add(w, nm, err) != 0)
			return -1;
		if (w->n <= i)
			return err_set(err, "%s: named twice: '%s'", option,
			    err_show(shown, pieces[i].p, pieces[i].n));
	}
	return 0;
}

struct field
wavelengths_text(char dst[WAVELENGTHS_TEXT], double nm)
{
	dst[0] = '\0';
	if (nm > 0)
		snprintf(dst, WAVELENGTHS_TEXT, "%.10g", nm);
	return field_of(dst);
}
