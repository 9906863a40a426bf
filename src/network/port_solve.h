/* The small nonlinear solve of one step: alternator and converters against amplifiers and constant-power loads.
 *
 * A regulated source holds the voltage at its sensing port (set_v less droop times its current) while its current lies
 * within what it can give; else it gives the nearest it can. A constant-power load behind a resistance R at E:
 *   v = (E + sqrt(E^2 - 4 R P)) / 2, no solution for P > E^2/4R.
 * One load is solved in closed form; several by Newton's method from above, where the function is convex and the
 * iteration descends monotonically to the upper solution if there is one. */
#ifndef TV_NETWORK_PORT_SOLVE_H
#define TV_NETWORK_PORT_SOLVE_H

#include "network/network.h"
#include "parts/alternator.h"
#include "parts/amplifier.h"

enum tv_source_kind { TV_SOURCE_ALTERNATOR, TV_SOURCE_CONVERTER };

struct tv_source_law {
  enum tv_source_kind kind;
  bool active;
  double set_v;
  /* alternator: the field may lie anywhere from field_low_frac to field_high_frac in this step */
  const struct tv_alternator *alternator;
  double rotor_rpm, field_low_frac, field_high_frac;
  /* converter */
  double limit_a, efficiency_frac;
  int input_load;              /* index of the load that represents its input */
  /* secant of a clamped source within one solve */
  bool has_last;
  double last_a, last_miss_a;
  /* result */
  int clamp;                   /* -1: at its minimum, 0: holds its voltage, 1: at its maximum */
};

struct tv_load_port {
  int port;
  bool active;
  bool is_amplifier;
  struct tv_load_law law;
};

enum tv_port_outcome { TV_PORT_SOLVED, TV_PORT_NO_SOLUTION, TV_PORT_UNSETTLED };

struct tv_port_solver {
  struct tv_network *network;
  int load_count;
  struct tv_load_port *load;
  struct tv_source_law source[TV_SOURCES_MAX];
  double *z;                   /* [width] the network's vector: s, set values, j */
  double *s, *set, *j;         /* its parts; j is kept as the next guess */
  double *v;                   /* [nonlinear] port voltages, likewise */
  double *base;                /* [nonlinear] workspace: a load's port without the loads */
  double *jacobian, *residual; /* workspace of several loads */
  int *active;                 /* workspace: indices of the active loads */
  int collapsed_load;                /* on TV_PORT_NO_SOLUTION: the load that overloads its supply most, or -1 */
};

TAILVOLT_CHECKED enum tailvolt_status tv_port_solver_create(struct tv_network *network,
                                                            int load_count,
                                                            struct tv_port_solver **out);
void tv_port_solver_free(struct tv_port_solver *solver);

/* Solves for the sources s filled in by the caller. Results in v and j. */
enum tv_port_outcome tv_port_solve(struct tv_port_solver *solver);

#endif
