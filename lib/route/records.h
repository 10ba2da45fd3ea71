/*
 * records: what the tables say of a network, as numbers: joints, plan, ports, splitters, links.
 *
 *	struct records r;
 *
 *	records_begin(&r, &texts);
 *	records_spans(&r, &spans);		and records_links, _ports, _splitters, _plan
 *	while (table_next(&joints))
 *		records_joint(&r, &joints);
 *	network_number(&r.net, &err);
 *	records_free(&r);
 *
 * The functions return 0, or -1 with the table's err set. Of the attempts at a joint the last one that
 * stands is kept; one that failed its tension test, or whose protector failed, has no losses. Names of
 * joints and of links are numbers of ids of their own, all others of `texts`.
 */
#ifndef THRUM_ROUTE_RECORDS_H
#define THRUM_ROUTE_RECORDS_H

#include "fibre/allowance.h"
#include "fibre/night.h"
#include "route/found.h"
#include "route/network.h"

#define RECORD_NONE UINT32_MAX

/* a fibre's end as a row names it; of spot.at, where it is none: */
#define SPOT_UNREACHED UINT32_MAX /* the cable does not reach this site; fibre: the cable's text */
#define SPOT_DOUBT     (UINT32_MAX - 1) /* it can be on either side of the site; fibre: likewise */
#define SPOT_UNNAMED   (UINT32_MAX - 2) /* the row names no fibre */

static inline bool
spot_is(struct spot s)
{
	return s.at < SPOT_UNNAMED;
}

/* a loss at a wavelength, in a list */
struct record_loss {
	float nm; /* 0: at every wavelength */
	int32_t loss_udb;
	uint32_t next;
	uint32_t with; /* a text: by commas, with what else it is shared; or HOLD_NO_TEXT */
};

enum {
	JOINT_MADE = 1,
	JOINT_ANGLED_A = 2,
	JOINT_ANGLED_B = 4,
	JOINT_STRAIGHT_A = 8,
	JOINT_STRAIGHT_B = 16,
	JOINT_CONNECTED = 32,
	JOINT_SEEN = 64,
	JOINT_FAILED = 128 /* the tension test, or the protector */
};

struct record_joint {
	struct spot spot[2]; /* once connected, spot[].at is the end itself */
	uint32_t closure, losses, line;
	uint16_t file;
	uint8_t kind : 4, cut : 1; /* cut: a later attempt does not stand */
	uint8_t flags;
};

enum plan_state { PLAN_JOIN, PLAN_EXPRESS, PLAN_PARKED, PLAN_DEAD };

struct record_planned {
	struct spot spot[2]; /* spot[].at becomes the end itself */
	uint32_t joint, closure, ribbon, line;
	int32_t position;
	uint8_t state;
};

struct record_port {
	struct spot spot;
	uint32_t site, port, link, line;
	uint32_t end; /* or END_NONE */
};

enum { LEG_IN, LEG_OUT };

/* a port of a splitter */
struct record_leg {
	struct spot spot;
	uint32_t splitter, port, losses, end, next; /* next of its side, or RECORD_NONE */
	float channel_nm[2]; /* what it lets through, from and to; 0: not stated */
	uint16_t ways;
	uint8_t side;
};

struct record_splitter {
	uint32_t name, site;
	uint32_t n[2];    /* how many legs on each side */
	uint32_t only[2]; /* the last of them, or RECORD_NONE */
	bool plain;       /* neither tap nor multiplexer */
};

struct record_link {
	uint32_t port[2];     /* of ports, a and b, or RECORD_NONE */
	uint32_t pair, apart; /* texts: names of other links, by commas */
	bool live, exchanged; /* exchanged: it is said already */
};

struct records {
	struct network net;
	struct found found;
	struct ids *texts;
	struct ids joint_names, link_names;
	struct record_joint *joints; /* joint_names.n of them */
	struct record_loss *losses;
	float *sds_db; /* of the first losses, those of splitters; below 0: not known */
	struct record_planned *plan;
	struct record_port *ports;
	struct record_leg *legs;
	struct record_splitter *splitters;
	struct record_link *links; /* link_names.n of them */
	uint32_t *plan_of;         /* for each joint that is planned, its row */
	struct night night;        /* by the numbers of joints, as is `undone` */
	struct night undone;       /* attempts that do not stand */
	const char **files;        /* of joints */
	const char *plan_file, *ports_file;
	size_t joints_cap, losses_n, losses_cap, sds_n, sds_cap, plan_n, plan_cap, ports_n,
	    ports_cap, legs_n, legs_cap, splitters_n, splitters_cap, links_cap, planned_joints,
	    files_n, files_cap;
	struct ids leg_names, splitter_names;
	bool has_plan, has_shared; /* has_shared: a loss of a joint is shared with others */
};

extern const struct col route_joint_cols[], route_plan_cols[], route_port_cols[],
    route_splitter_cols[], route_link_cols[];

void records_begin(struct records *r, struct ids *texts);

/* Spans first, held as columns of values. A hole in a cable is a finding. */
int records_spans(struct records *r, struct table *spans);

/* In any order; a table that is all zero is fine. What a span is missing for is a finding. */
int records_links(struct records *r, struct table *t);
int records_ports(struct records *r, struct table *t);
int records_splitters(struct records *r, struct table *t);
int records_plan(struct records *r, struct table *t);

/* The present row of the joints; after the others. */
int records_joint(struct records *r, struct table *t);

/* After all joints: those that a later attempt cut have failed. */
void records_cut(struct records *r);

void records_free(struct records *r);

#endif
