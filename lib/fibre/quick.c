#include "fibre/quick.h"

#include "base/db.h"

bool
quick_is_given(const struct quick *q)
{
	return q->length_ukm >= 0 || q->joints >= 0 || q->connectors >= 0 || q->splitter >= 0;
}

int64_t
quick_sections(const struct quick *q)
{
	int64_t joints = q->joints > 0 ? q->joints : 0;
	int64_t pigtails = q->connectors > 2 ? 2 : q->connectors > 0 ? q->connectors : 0;

	if (q->sections > 0)
		return q->sections;
	return joints > pigtails ? joints - pigtails + 1 : 1;
}

/* So many fibres of this length each. */
static void
add_fibres(struct bytes *text, int64_t count, int64_t length_ukm)
{
	char km[DB_FIXED];

	if (count > 0)
		bytes_add_format(text, "options\tfibre\t\t%lld\t%.*s\n", (long long)count,
		    (int)db_fixed(km, length_ukm, 6), km);
}

void
quick_table(const struct quick *q, struct bytes *text)
{
	int64_t n = quick_sections(q), each_ukm = q->length_ukm / n;

	bytes_add_text(text, "link\tkind\tways\tcount\tlength_km\n");
	if (q->length_ukm >= 0) { /* what does not divide is the last one's */
		add_fibres(text, n - 1, each_ukm);
		add_fibres(text, 1, q->length_ukm - (n - 1) * each_ukm);
	}
	if (q->joints >= 0)
		bytes_add_format(text, "options\tfusion\t\t%lld\t\n", (long long)q->joints);
	if (q->connectors >= 0)
		bytes_add_format(text, "options\tconnector\t\t%lld\t\n", (long long)q->connectors);
	if (q->splitter >= 0)
		bytes_add_format(text, "options\tsplitter\t%lld\t1\t\n", (long long)q->splitter);
}
