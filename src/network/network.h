/* The wiring reduced to its ports.
 *
 * Two reductions, so that what changes often costs little:
 *  1. wiring: every resistance (cables, joints, fuses, the inside of amplifiers) by nodal analysis, down to the ports at which
 *     storage, switches, loads and sources hang. Redone when a conductor's resistance has drifted or a fuse blew.
 *  2. ports: the linear ports (a voltage e behind a conductance g, plus a current) are eliminated; what is left relates
 *     the few nonlinear ports (alternator, amplifiers, constant-power loads). Redone when the step's length, a switch or
 *     a load changes.
 *
 * Currents at ports are injections into the positive terminal. With s = g e + i for each linear port and j for the
 * nonlinear ones:   v_nonlinear = T s + U j     v_linear = P s + Q j     row = A s + B j.
 *
 * Wiring reduction: G is the conductance matrix (Cholesky, GSL), A_p the ports' incidence; Z = A_p' G^-1 A_p. A linear port
 * has a reference conductance already in G, so that a point held up by storage alone does not float; its difference from
 * the true one is put right in the second reduction (matrix inversion lemma):
 *   v_L = M^-1 (Z_LL s + Z_LN j),  M = 1 - Z_LL diag(g_ref - g). */
#ifndef TV_NETWORK_NETWORK_H
#define TV_NETWORK_NETWORK_H

#include <gsl/gsl_matrix.h>
#include <gsl/gsl_permutation.h>
#include <stdbool.h>

#include "tailvolt/status.h"

#define TV_SOURCES_MAX 4 /* regulated sources: the alternator and up to three converters */

struct tv_port { int positive, negative; };
struct tv_branch { int from, to; double ohm; };
/* What is watched: (v_from - v_to) / ohm: a branch current, or with ohm = 1 a voltage. */
struct tv_watch { int from, to; double ohm; };

/* A regulated source: holds the voltage of a sensing port at its set value less droop times its own current. */
struct tv_source { int port, sense; double droop_ohm; };

/* The nonlinear ports with some of the sources holding their voltage (bit k of the set: source k):
 *   v = T s + H set + U j,  j the currents of all others. And for a holding source  j_k = C s + D set + E j. */
struct tv_mode {
  bool valid;
  double *t, *h, *u;  /* nonlinear x linear, x sources, x nonlinear */
  double *c, *d, *e;  /* sources x linear, x sources, x nonlinear */
};

struct tv_network {
  int node_count, branch_count, linear_count, nonlinear_count, source_count, watch_count;
  struct tv_branch *branch;
  struct tv_port *port;        /* linear ports first */
  double *reference_s;         /* [linear] conductance put into the wiring */
  double *conductance_s;       /* [linear] true conductance, set by the run */
  struct tv_source source[TV_SOURCES_MAX];
  struct tv_watch *watch;
  /* results */
  double *x;                   /* nodes x ports: node voltage per injected ampere */
  double *z;                   /* ports x ports */
  double *p, *q, *t, *u, *a, *b;
  struct tv_mode mode[1 << TV_SOURCES_MAX];
  /* workspace */
  gsl_matrix *nodal, *lu, *inverse;
  gsl_vector *column;
  gsl_permutation *permutation;
  double *scratch;
  long wiring_reductions, port_reductions;
};

/* Takes the counts; everything is allocated here. Fill branch, port, reference_s, conductance_s, source and watch before
 * reducing. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_create(int node_count, int branch_count,
                                                        int linear_count, int nonlinear_count,
                                                        int watch_count, struct tv_network **out);
void tv_network_free(struct tv_network *network);

/* First reduction; TAILVOLT_SINGULAR where a point floats. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_reduce_wiring(struct tv_network *network);
/* Second reduction, with the conductances in force. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_reduce_ports(struct tv_network *network);
/* The mode for a set of holding sources, made when first asked for after a reduction. */
const struct tv_mode *tv_network_mode(struct tv_network *network, unsigned set);

/* Shortest time constant of capacitances (farad, 0 = none) at the linear ports behind esr_ohm, all other ports as they are;
 * INFINITY without any. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_shortest_s(struct tv_network *network,
                                                            const double *farad, const double *esr_ohm,
                                                            double *shortest_s);

#endif
