/* The wiring reduced to its ports.
 *
 * Two reductions, so that frequent changes cost little:
 *  1. wiring: every resistance (cables, joints, fuses, the inside of amplifiers) by nodal analysis, down to the ports where
 *     storage, switches, loads and sources connect. Redone when a conductor's resistance has drifted or a fuse has blown.
 *  2. ports: the linear ports (a voltage e behind a conductance g, plus a current) are eliminated; what remains relates the
 *     few nonlinear ports (alternator, amplifiers, constant-power loads). Redone when the step length, a switch or a load
 *     changes.
 *
 * Currents at ports are injections into the positive terminal. Everything is a row times one vector
 *   z = [ s of the linear ports | set values of the regulated sources | j of the nonlinear ports ],   s = g e + i:
 * the voltages of the linear ports, what is watched, and for an active set (below) the nonlinear ports' voltages.
 *
 * Wiring reduction: G is the conductance matrix (Cholesky, GSL), A_p the ports' incidence; Z = A_p' G^-1 A_p. A linear port
 * has a reference conductance already in G, so that a point held up by storage alone does not float; its difference from the
 * true one is corrected in the second reduction (matrix inversion lemma):
 *   v_L = M^-1 (Z_LL s + Z_LN j),  M = 1 - Z_LL diag(g_ref - g). */
#ifndef TV_NETWORK_NETWORK_H
#define TV_NETWORK_NETWORK_H

#include <gsl/gsl_matrix.h>
#include <stdbool.h>

#include "tailvolt/status.h"

#define TV_SOURCES_MAX 4 /* regulated sources: the alternator and up to three converters */

struct tv_port { int positive, negative; };
struct tv_branch { int from, to; double ohm; };
/* What is watched: (v_from - v_to) / ohm: a branch current, or with ohm = 1 a voltage. */
struct tv_watch { int from, to; double ohm; };

/* A regulated source: holds the voltage of a sensing port at its set value less droop times its own current. */
struct tv_source { int port, sense; double droop_ohm; };

/* The nonlinear ports with some of the sources holding their voltage (bit k of the set: source k): rows over z, first the
 * voltages of the nonlinear ports, then the currents of the sources that hold. Set values count for holding sources only, whose
 * currents are no longer unknowns: their columns are zero. */
struct tv_active_set {
  bool valid;
  double *row;                 /* (nonlinear + sources) x width */
};

struct tv_network {
  int node_count, branch_count, linear_count, nonlinear_count, source_count, watch_count;
  struct tv_branch *branch;
  struct tv_port *port;        /* linear ports first */
  double *reference_s;         /* [linear] conductance stamped into the wiring */
  double *conductance_s;       /* [linear] true conductance, set by the run */
  struct tv_source source[TV_SOURCES_MAX];
  struct tv_watch *watch;
  /* results */
  double *x;                   /* nodes x ports: node voltage per injected ampere */
  double *z;                   /* ports x ports */
  int width;                   /* of z: linear + sources + nonlinear; fixed by tv_network_fix() */
  double *row;                 /* (linear + watches) x width */
  double *port_row;            /* nonlinear x width, no source holding */
  struct tv_active_set active_set[1 << TV_SOURCES_MAX];
  /* workspace */
  gsl_matrix *nodal, *correction, *inverse;
  gsl_vector *column;
  double *scratch;
  long wiring_reductions, port_reductions;
};

/* Sets the counts and allocates everything. Fill branch, port, reference_s, conductance_s, source and watch before
 * reducing. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_create(int node_count, int branch_count,
                                                        int linear_count, int nonlinear_count,
                                                        int watch_count, struct tv_network **out);
void tv_network_free(struct tv_network *network);

/* Fixes the length of z once source_count is set. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_fix(struct tv_network *network);

/* First reduction; TAILVOLT_SINGULAR where a point floats. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_reduce_wiring(struct tv_network *network);
/* Second reduction, with the conductances in force. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_reduce_ports(struct tv_network *network);
/* Makes the rows for a set of holding sources. */
void tv_network_make_active_set(struct tv_network *network, unsigned set);
/* The rows for a set, made on first use after a reduction. */
static inline const struct tv_active_set *tv_network_active_set(struct tv_network *network, unsigned set) {
  if (!network->active_set[set].valid) tv_network_make_active_set(network, set);
  return &network->active_set[set];
}

static inline double tv_dot(const double *row, const double *z, int width) {
  double sum = 0;
  for (int k = 0; k < width; k++) sum += row[k] * z[k];
  return sum;
}

/* Shortest time constant of capacitances (farad, 0 = none) at the linear ports behind esr_ohm, all other ports as they are;
 * INFINITY without any. */
TAILVOLT_CHECKED enum tailvolt_status tv_network_shortest_s(struct tv_network *network,
                                                            const double *farad, const double *esr_ohm,
                                                            double *shortest_s);

#endif
