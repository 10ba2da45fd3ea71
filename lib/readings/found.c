#include "readings/found.h"

#include <math.h>

#include "fibre/wavelengths.h"

enum {
	FINDING,
	FILE_NAME,
	LINE,
	JOINT,
	LINK,
	WAVELENGTH,
	SITE,
	KM,
	RULE,
	LEVEL,
	WAS,
	WANTED,
	SAYS
};

const struct col found_reading_cols[] = {
	[FINDING] = { "finding", COL_OUT, COL_WHOLE },
	[FILE_NAME] = { "file", COL_OUT, COL_TEXT },
	[LINE] = { "line", COL_OUT, COL_WHOLE },
	[JOINT] = { "joint", COL_OUT, COL_TEXT },
	[LINK] = { "link", COL_OUT, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_OUT, COL_TEXT },
	[SITE] = { "site", COL_OUT, COL_TEXT },
	[KM] = { "km", COL_OUT, COL_NUM, .places = 6 },
	[RULE] = { "rule", COL_OUT, COL_TEXT },
	[LEVEL] = { "level", COL_OUT, COL_TEXT },
	[WAS] = { "found", COL_OUT, COL_TEXT },
	[WANTED] = { "wanted", COL_OUT, COL_TEXT },
	[SAYS] = { "says", COL_OUT, COL_TEXT },
	{ NULL },
};

void
found_reading(struct found *f, const struct found_row *row)
{
	static const char *const rules[] = { "length", "ends", "open", "over", "negative", "step",
		"bend", "loss-differs", "read-twice", "copied", "unread", "undated", "unpaired",
		"astray", "cord", "shared", "outdated" };
	bool error = row->rule < FOUND_UNREAD;
	char nm[WAVELENGTHS_TEXT];

	*(error ? &f->errors : &f->warnings) += 1;
	put_whole(f->out, FINDING, (int64_t)(f->errors + f->warnings));
	if (row->file != NULL) {
		put_text(f->out, FILE_NAME, field_of(row->file));
		put_whole(f->out, LINE, (int64_t)row->line);
	}
	put_text(f->out, JOINT, row->joint);
	put_text(f->out, LINK, row->link);
	put_text(f->out, WAVELENGTH, wavelengths_text(nm, row->nm));
	put_text(f->out, SITE, row->site);
	if (!isnan(row->km))
		put_num(f->out, KM, row->km);
	put_text(f->out, RULE, field_of(rules[row->rule]));
	put_text(f->out, LEVEL, field_of(error ? "error" : "warning"));
	put_text(f->out, WAS, row->found);
	put_text(f->out, WANTED, field_of(row->wanted != NULL ? row->wanted : ""));
	put_text(f->out, SAYS, field_of(row->says != NULL ? row->says : ""));
	sheet_row(f->out);
}
