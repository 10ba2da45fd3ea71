/*
 * reading: what reflectometers read, from either end of each link, held in memory until all is known:
 * rows come in any order.
 *
 *	struct readings r = { .links = &links };
 *
 *	while (table_next(&t) && readings_read(&r, &t) == 0)
 *		;
 *	readings_arrange(&r);
 *	for (size_t link = 0; link < r.names.n; link++)
 *		n = readings_of(&r, link, &here);
 *	readings_free(&r);
 *
 * 48 bytes a reading.
 */
#ifndef THRUM_READINGS_READING_H
#define THRUM_READINGS_READING_H

#include "base/db.h"
#include "table/hold.h"

enum reading_kind { READING_START, READING_END, READING_STEP, READING_REFLECTIVE, READING_MERGED };
#define READING_KINDS "start end step reflective merged"

/* one row; km as the instrument shows it, places are from the first connector */
struct reading {
	double km;
	int64_t loss_udb; /* DB_NONE: none was read */
	float sd_db;      /* below 0: not stated */
	float dead_m;     /* so far on either side of it nothing is told apart */
	float reach_m;    /* the greater of the pulse and of two samples */
	uint32_t trace, line;
	uint16_t file;
	uint8_t kind;
};

/* what one instrument read at one time from one end at one wavelength */
struct trace {
	double nm, index; /* index 0: not stated */
	struct when at;
	bool timed;  /* at is stated */
	uint8_t end; /* 0: from site_a of its link */
	uint32_t link;
	uint32_t copied;  /* readings_arrange: 1 more than the trace that it is like; 0: none */
	uint32_t losses;  /* how many it has */
	uint32_t digits;  /* how many digits of these chance would have to meet */
	uint64_t content; /* of all its losses and their places */
};

struct readings {
	struct table *links; /* held (fibre/link.h): says which site is a */
	struct ids names;    /* of links */
	struct ids keys;     /* of traces */
	struct trace *traces;
	struct reading *v;
	uint32_t *link_of;  /* of each reading */
	struct field *site; /* two of each link */
	const char **files;
	size_t n, cap, links_cap, traces_cap, files_n, files_cap;
	size_t *first; /* readings_arrange: of each link, where its readings begin */
	uint32_t *order;
	struct reading *here; /* readings_of */
	size_t here_cap;
};

/* the columns of a table of readings */
extern const struct col reading_cols[];

/*
 * Adds the present row. 0, or -1 with the table's err set: no such link, a `from` that is neither of its
 * sites, no km or kind, two values of index in one reading.
 */
int readings_read(struct readings *r, struct table *t);

/*
 * Once all are there. Two readings, of two links, ends or wavelengths, that agree in every loss and its
 * place are one, copied: from eight digits on, two of a loss in thousandths, one of a loss in hundredths
 * (common practice). Two of one link have to be in thousandths, as its wavelengths are alike.
 */
void readings_arrange(struct readings *r);

/* The readings of a link by trace and km, which the caller may change, until the next call; how many. */
size_t readings_of(struct readings *r, size_t link, struct reading **here);

void readings_free(struct readings *r);

#endif
