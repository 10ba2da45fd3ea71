/*
 * joint_rule: the kinds of rule that know what a joint of two fibres is; struct rule_kind explains.
 *
 *	colour       of two columns, a fibre's number and its colour, they agree by the colour order
 *	             that words names (tia-598); `high` is how many fibres a tube holds (12)
 *	tube         of two columns, a fibre's number and its tube's colour or number, they agree
 *	not-itself   of four columns, cable and fibre of both ends, these are not one fibre
 *	fibre-once   of three columns, closure, cable and fibre, these belong to one joint; put it on
 *	             the joints that stand
 *	attempts     the numbers of a joint's attempts have no hole, counted from 1 (1 to 64 count)
 *	one-stands   of a joint's attempts one stands: "yes", or empty
 *
 * A row in which one of their columns is empty is passed over, except by one-stands.
 * Memory: attempts and one-stands together need about 100 bytes a joint and its name, fibre-once
 * about 60 bytes a fibre and the names of its closure and cable.
 */
#ifndef THRUM_FIBRE_JOINT_RULE_H
#define THRUM_FIBRE_JOINT_RULE_H

#include "table/rule.h"

extern const struct blob rules_tsv;

extern const struct rule_kind joint_rule_kinds[]; /* ended by one without a name */

#endif
