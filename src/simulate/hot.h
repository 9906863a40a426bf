/* The loop's own form of one or more runs side by side: everything a step touches, as plain numbers [quantity][lane].
 *
 * A run (simulate/run.h) is made from a system and owns a hot block of one lane; runs of one shape may step together in a
 * block of 2, 4 or 8 lanes. Each lane does the same sums in the same order whatever its neighbours do, so its bits are the
 * same at any width. Rare work (a switch, a collapse, a new tangent, a fuse) is done on one lane's slice, in the run's own
 * block, by the same code for every width; see simulate/event.c.
 *
 * The order of a block:  [ state and description | numbers of the step | totals ].  The first part is all a snapshot
 * needs. */
#ifndef TV_SIMULATE_HOT_H
#define TV_SIMULATE_HOT_H

#include <stdbool.h>
#include <stddef.h>

#include "parts/battery.h"
#include "tailvolt/status.h"

#define TV_LANES_MOST 8
#define TV_ROWS_TOGETHER 4   /* one lane: this many matrix rows to a vector */
#define TV_AHEAD 32          /* most steps that are listened to, and looked back on, together */
#define TV_RING 512          /* most steps in a ripple period */

#define TV_VD double
#define TV_S(name) tv_##name
#include "simulate/hot_parts.inc"
#undef TV_VD
#undef TV_S

/* Where things are in a block, in quantities; the same for every width, and for every run of one shape. */
/* Shapes so common that the loop is compiled again for them, with their part counts as constants. */
enum tv_shape {
  TV_SHAPE_ANY,
  TV_SHAPE_BARE,          /* a battery given as a circuit, an ideal source, an amplifier with prescribed draw */
  TV_SHAPE_CAR,           /* a battery and an alternator from their labels, an amplifier with storage */
  TV_SHAPE_CAR_LOAD,      /* the same and one constant-power load */
  TV_SHAPE_TWO_BATTERIES, /* two batteries and a relay, an alternator, a capacitor, an amplifier with storage */
  TV_SHAPE_CAPACITOR,     /* TV_SHAPE_CAR_LOAD and a capacitor: a remedy's */
  TV_SHAPE_SECOND,        /* TV_SHAPE_CAR_LOAD and a second battery behind a relay: likewise */
  TV_SHAPE_BOTH,          /* TV_SHAPE_CAR_LOAD and both of these */
  TV_SHAPE_SMOOTH,        /* TV_SHAPE_CAR without storage in the amplifier, or with prescribed draw: a quick study's */
  TV_SHAPE_SMOOTH_LOAD,   /* and TV_SHAPE_CAR_LOAD */
  TV_SHAPE_PARKED         /* TV_SHAPE_CAR without its alternator */
};

struct tv_layout {
  int batteries, capacitors, amplifiers, unknowns, sources, isolators, groups, meters, ports, loads;
  enum tv_shape form;
  int columns;                     /* of the matrix: line voltages, capacitors, storages, then the unknowns */
  int rows_used;
  int rows;                        /* of the matrix, rounded up to a multiple of TV_ROWS_TOGETHER */
  int values;                      /* what a step knows: rows, then derived values */
  /* offsets of the parts */
  int lane, battery, capacitor, amplifier, unknown, source, isolator, port, group;
  int state_end;
  int z, y;                        /* the step's columns and values */
  int amplifier_note, source_note; /* what else its sums need */
  int noted;                       /* from z to here: what is kept of a step until it is looked back on */
  int totals;
  int battery_sum, capacitor_sum, amplifier_sum, unknown_sum, source_sum, isolator_sum, group_sum, meter_sum, port_sum;
  int z_sum;                       /* [columns + 1], the last counts the steps */
  int end;
  /* which row is which */
  int sense_row;                   /* the alternator's */
  int battery_row, capacitor_row, isolator_row, port_row;
  /* derived values */
  int terminal_v, terminal_a, battery_a, battery_net_a, capacitor_a, isolator_a, source_a;
  int start_battery;               /* carries the base load: the first port is its posts */
  int storage_column;              /* first of the storages */
  int unknown_column;
  int first_amplifier, first_load, first_converter; /* among the unknowns */
  bool alternator, fixed_output, curve, field_lag, ramp, fuses;
  bool may_clip;                   /* an amplifier with its own supply */
  int constant_end;                /* no constant current at this port or behind it */
  bool agrees_within;              /* something may have to be settled within a step */
  int fuse_values;                 /* different currents through fuses */
  /* by part; all owned */
  int *storage;                    /* [amplifiers] column, or -1 */
  bool *class_ab, *regulated, *prescribed;
  int *branches;                   /* [batteries] */
  bool *label, *guarded;           /* [batteries] */
  enum tv_isolator_form { TV_HOT_FROM, TV_HOT_EITHER, TV_HOT_DIODE } *isolator_form; /* how it is switched */
  int *isolator_unknown;           /* a converter's input; its output follows; -1 otherwise */
  int *isolator_source;            /* [isolators] */
  int *group_value, *meter_value;  /* [groups], [meters] among the values */
  int *fuse_value;                 /* [fuse_values] among the values; as many as groups have room */
  bool *resistive, *constant;      /* [ports] */
  int *port_value;                 /* [ports] */
  unsigned long long hash;         /* of all of it */
};

struct tv_run;
struct tv_hot;

static inline int tv_layout_take(int *end, size_t size, int count) {
  int begin = *end;
  *end += (int)(size / sizeof(double)) * count;
  return begin;
}

/* One lane takes rows and columns by fours. */
static inline int tv_layout_even(int *end) {
  return *end = (*end + TV_ROWS_TOGETHER - 1) / TV_ROWS_TOGETHER * TV_ROWS_TOGETHER;
}

/* Sets all positions from the part counts. What each shape has its own number of comes last, so where the others are
 * constants most positions are too. */
static inline void tv_layout_place(struct tv_layout *y) {
  int n = 0;
  y->lane = tv_layout_take(&n, sizeof(struct tv_hot_lane), 1);
  y->battery = tv_layout_take(&n, sizeof(struct tv_hot_battery), y->batteries);
  y->capacitor = tv_layout_take(&n, sizeof(struct tv_hot_capacitor), y->capacitors);
  y->amplifier = tv_layout_take(&n, sizeof(struct tv_hot_amplifier), y->amplifiers);
  y->unknown = tv_layout_take(&n, sizeof(struct tv_hot_unknown), y->unknowns);
  y->source = tv_layout_take(&n, sizeof(struct tv_hot_source), y->sources);
  y->isolator = tv_layout_take(&n, sizeof(struct tv_hot_isolator), y->isolators);
  y->port = tv_layout_take(&n, sizeof(struct tv_hot_port), y->ports);
  y->group = tv_layout_take(&n, sizeof(struct tv_hot_group), y->groups);
  y->state_end = n;
  y->z = tv_layout_even(&n);
  tv_layout_take(&n, sizeof(double), y->columns);
  y->y = tv_layout_even(&n);
  tv_layout_take(&n, sizeof(double), y->values);
  y->amplifier_note = tv_layout_take(&n, sizeof(struct tv_hot_amplifier_note), y->amplifiers);
  y->source_note = tv_layout_take(&n, sizeof(struct tv_hot_source_note), y->alternator);
  y->totals = tv_layout_even(&n);
  y->noted = y->totals - y->z;
  y->z_sum = tv_layout_take(&n, sizeof(double), y->columns + 1);
  tv_layout_even(&n);
  y->battery_sum = tv_layout_take(&n, sizeof(struct tv_hot_battery_sum), y->batteries);
  y->capacitor_sum = tv_layout_take(&n, sizeof(struct tv_hot_capacitor_sum), y->capacitors);
  y->amplifier_sum = tv_layout_take(&n, sizeof(struct tv_hot_amplifier_sum), y->amplifiers);
  y->unknown_sum = tv_layout_take(&n, sizeof(struct tv_hot_unknown_sum), y->unknowns);
  y->source_sum = tv_layout_take(&n, sizeof(struct tv_hot_source_sum), y->sources);
  y->isolator_sum = tv_layout_take(&n, sizeof(struct tv_hot_isolator_sum), y->isolators);
  y->port_sum = tv_layout_take(&n, sizeof(struct tv_hot_port_sum), y->ports);
  y->group_sum = tv_layout_take(&n, sizeof(struct tv_hot_group_sum), y->groups);
  y->meter_sum = tv_layout_take(&n, sizeof(struct tv_hot_meter_sum), y->meters);
  y->end = n;
}

void tv_layout_free(struct tv_layout *layout);
TAILVOLT_CHECKED enum tailvolt_status tv_layout_copy(const struct tv_layout *layout, struct tv_layout **out);

/* The widest instructions to use: all that the processor has, or less than that to compare. The bits are the same. */
enum tv_vectors { TV_VECTORS_ALL, TV_VECTORS_AVX2, TV_VECTORS_PLAIN };

enum tv_event {        /* up to LOWEST: those that leave the totals alone */
  TV_EVENT_RAMP,       /* the load response limits the field */
  TV_EVENT_WATCH,      /* each step is recorded */
  TV_EVENT_LOWEST,     /* an amplifier's lowest so far: index = amplifier */
  TV_EVENT_TANGENT,    /* a battery has left the range of its tangents: index = battery */
  TV_EVENT_UNSOLVED,   /* the iteration does not converge */
  TV_EVENT_DISAGREES,  /* solved, but a diode, a low draw or a pack that refuses charge disagrees with its own
                        * voltages */
  TV_EVENT_AMPLIFIER,  /* cut-out, cut-in: index = amplifier */
  TV_EVENT_ISOLATOR,   /* relay, converter: index = isolator */
  TV_EVENT_GUARD,      /* a pack's protection changes: index = battery */
  TV_EVENT_CRANK       /* the starter turns */
};

/* Handles an event of a lane; `index` is that of the part concerned. */
typedef enum tailvolt_status tv_event_taker(struct tv_hot *hot, int lane, enum tv_event event, int index);

struct tv_hot_ops {
  int lanes;
  bool wide;                       /* made for wider vectors than every processor has */
  /* `count` steps of every live lane, fewer (`done`) where something happens while rows are waiting, or a fuse is overloaded */
  enum tailvolt_status (*steps)(struct tv_hot *hot, long long count);
  /* parts of a step, for one lane: the columns, and the values without the unknown currents; the currents (false: none
   * found); the values with them; whether anything disagrees with them */
  void (*open)(struct tv_hot *hot);
  bool (*solve)(struct tv_hot *hot);
  void (*close)(struct tv_hot *hot);
  bool (*disagrees)(struct tv_hot *hot);
};

struct tv_hot {
  const struct tv_layout *layout;
  const struct tv_hot_ops *ops;
  int lanes;
  void *block;                     /* as allocated */
  double *d;                       /* [layout->end][lanes], aligned */
  double *matrix, *offset;         /* [rows][columns][lanes] (one lane: rows by fours), [rows][lanes] */
  double *own;                     /* [unknowns + 1][unknowns][lanes]: rows of the unknowns' ports and the sensing one, over
                                    * currents */
  double *scratch;                 /* for the iteration */
  double *noted;                   /* [TV_AHEAD][layout->noted][lanes]: the last steps' columns, values and notes */
  int noted_from, noted_to;        /* those not yet looked back on */
  int lamp_value[TV_LANES_MOST];   /* index of its voltage among the values */
  double *fuse_limit_a;            /* [fuse_values][lanes]: a larger current ends the stretch (simulate/fuses.c) */
  double *ring;                    /* [amplifiers][TV_RING][lanes] */
  long long ring_at;               /* steps taken, in whichever lane */
  struct tv_run *run[TV_LANES_MOST];
  const double **heard;            /* [amplifiers][envelope, ripple][lanes]: for the coming steps, where they were computed */
  double **bins;                   /* [amplifiers][lanes] seconds at each millivolt, for the phase in force */
  const double *draw[TV_LANES_MOST]; /* for each lane: rows of one step that only change draws (simulate/draws.h), or NULL */
  long long done;                  /* steps taken in the last stretch */
  bool stirred;                       /* something rare happened in the step */
  unsigned events;                 /* so far */
  bool overloaded;                 /* a fuse carried more than its limit in it ... */
  int wary;                        /* ... and may again for so many stretches */
  bool one_time;                   /* all lanes play the same at the same time */
  bool watched;                    /* every step is recorded */
  bool unsummed;                   /* nobody asks for statistics: only what the states need is summed, and battery voltages seen; what
                                    * batteries lost may be left out too */
  tv_event_taker *event;           /* rare work in a step goes here: tv_hot_event() */
};

/* `layout` must outlive the block. TAILVOLT_INTERNAL where there is no kernel of that width. */
TAILVOLT_CHECKED enum tailvolt_status tv_hot_create(const struct tv_layout *layout, int lanes, enum tv_vectors vectors,
                                                    tv_event_taker *event, struct tv_hot **out);
void tv_hot_free(struct tv_hot *hot);

/* Kernels of a width; NULL where this machine or build has none. */
const struct tv_hot_ops *tv_hot_ops(int lanes, enum tv_vectors vectors);

/* Moves a lane to or from the run's own block. */
void tv_hot_extract(struct tv_hot *hot, int lane);
void tv_hot_insert(struct tv_hot *hot, int lane, bool with_matrix);
/* The same for some quantities only. */
void tv_hot_extract_part(struct tv_hot *hot, int lane, int from, int count);
void tv_hot_insert_part(struct tv_hot *hot, int lane, int from, int count);
/* Copies one lane of a block to another. */
void tv_hot_copy_lane(struct tv_hot *hot, int from, int to);

/* Position of a matrix entry, lane 0. */
static inline size_t tv_hot_at(const struct tv_layout *layout, int lanes, int row, int column) {
  if (lanes > 1) return (size_t)(row * layout->columns + column) * (size_t)lanes;
  return (size_t)((row / TV_ROWS_TOGETHER * layout->columns + column) * TV_ROWS_TOGETHER + row % TV_ROWS_TOGETHER);
}

/* A member of a lane's struct tv_hot_lane, in a block of any width. */
static inline double tv_hot_lane_value(const struct tv_hot *hot, int lane, size_t offset) {
  size_t quantity = (size_t)hot->layout->lane + offset / sizeof(double);
  return hot->d[quantity * (size_t)hot->lanes + (size_t)lane];
}

/* Parts and totals of a one-lane block. */
#define TV_HOT(hot, part) ((struct tv_hot_##part *)(void *)((hot)->d + (hot)->layout->part))
static inline double *tv_hot_y(const struct tv_hot *hot) { return hot->d + hot->layout->y; }
static inline double *tv_hot_z(const struct tv_hot *hot) { return hot->d + hot->layout->z; }
#endif
