#include "fibre/signal.h"

#include <math.h>

void
signal_add_fibre(
    struct signal *s, const struct signal_part *part, int64_t count, int64_t length_ukm)
{
	double km = length_ukm == DB_NONE ? NAN : (double)count * db_to(length_ukm);

	s->fibres = true;
	if (km == 0)
		return;
	s->cd_ps_nm += km * part->cd_ps_nm_km;
	s->pmd2_ps2 += km * part->pmd_ps_sqrt_km * part->pmd_ps_sqrt_km;
}

void
signal_add_reflection(struct signal *s, const struct signal_part *part, int64_t count,
    int64_t before_udb, int64_t own_udb, bool must)
{
	if (isnan(part->reflectance_db) && !must)
		return;
	s->reflects = true;
	s->from_a += (double)count * pow(10, (part->reflectance_db - 2 * db_to(before_udb)) / 10);
	s->from_b +=
	    (double)count * pow(10, (part->reflectance_db + 2 * db_to(before_udb + own_udb)) / 10);
}

/* A value in millionths; what is not finite is not known. */
static int64_t
millionths(double x)
{
	int64_t u;

	return db_from(x, &u) == 0 ? u : DB_NONE;
}

int64_t
signal_cd_ups(const struct signal *s)
{
	return s->fibres ? millionths(s->cd_ps_nm) : DB_NONE;
}

int64_t
signal_pmd_ups(const struct signal *s)
{
	return s->fibres ? millionths(sqrt(s->pmd2_ps2)) : DB_NONE;
}

int64_t
signal_orl_udb(const struct signal *s, int64_t total_udb)
{
	if (!s->reflects)
		return DB_NONE;
	return millionths(
	    -10 * log10(fmax(s->from_a, s->from_b * pow(10, -2 * db_to(total_udb) / 10))));
}
