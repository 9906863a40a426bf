/* From road speed to engine speed: a speed trace (a driving cycle, or a log) turned into the engine_rpm column of a load
 * profile, by gears, idle and stop-start.
 *
 * A trace and what is made from it belong to the caller; no call keeps hidden state. */
#ifndef TAILVOLT_DRIVE_H
#define TAILVOLT_DRIVE_H

#include <stddef.h>
#include <stdio.h>

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_GEARS_MAX 8
#define TAILVOLT_GEAR_CHOSEN (-1) /**< gear of a sample: chosen by the gear rule */
#define TAILVOLT_CLUTCH_OUT 0     /**< gear of a sample: the engine idles */

/** Road speed over time, linear between samples. */
struct tailvolt_trace {
  char name[TAILVOLT_TEXT_MAX];
  int count;         /**< samples, two at least */
  double *time_s;    /**< strictly rising */
  double *speed_kmh;
  int *gear;         /**< prescribed gear from 1, TAILVOLT_CLUTCH_OUT or TAILVOLT_GEAR_CHOSEN */
};

/** Reads a trace: CSV with a header row, a time column (time_s, time, seconds, t) and a speed column (speed_kmh, km/h,
 *  kmh, or in speed_mph, mph, speed_m_per_s, m/s; km/h where there are several). Other columns are ignored; blank lines
 *  and lines that start with `#` are skipped.
 *  \param path    file to read, or "-" for standard input
 *  \param out     receives the trace; free with tailvolt_trace_free()
 *  \param faults  filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_trace_read(const char *path, struct tailvolt_trace **out, struct tailvolt_faults *faults);

/** The same from text in memory, called `name`.
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_trace_parse(const char *text, const char *name, struct tailvolt_trace **out,
                     struct tailvolt_faults *faults);

/** Cycles built from the operations of UN Regulation 83, one sample a second, with its prescribed gears. */
enum tailvolt_cycle {
  TAILVOLT_CYCLE_ECE15, /**< elementary urban cycle, 195 s, 25 operations */
  TAILVOLT_CYCLE_EUDC,  /**< extra-urban part, 400 s, 21 operations */
  TAILVOLT_CYCLE_NEDC   /**< four times the first, then the second: 1180 s */
};
/** Makes one of them, starting at 0 s.
 *  \param out  free with tailvolt_trace_free()
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_trace_cycle(enum tailvolt_cycle cycle, struct tailvolt_trace **out);

/** Appends a trace whose first sample coincides with the last of `trace`: both must have the same speed there, to the bit. The times of
 *  `next`, which is copied and may be `trace` itself, are moved to follow.
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT (different speeds, or a trace without samples) with `trace` unchanged; TAILVOLT_NO_MEMORY with
 *          as many samples appended as there was room for */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_trace_append(struct tailvolt_trace *trace, const struct tailvolt_trace *next);

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_trace_free(struct tailvolt_trace *trace);

/** How gears are chosen. */
enum tailvolt_gear_choice {
  /** Gear by speed alone: up at 15, 35, 50, 70 km/h, the points of UN Regulation 83 (a driver in no hurry to change
   *  up); a sixth gear at 90 km/h is common practice. */
  TAILVOLT_GEARS_FIXED,
  /** The highest gear that keeps the engine above the lower bound of UN GTR 15, Annex 2 (a thrifty driver): first gear
   *  idle, second 0.9 of idle, above that idle + 0.125 (rated - idle). Its power check is left out. */
  TAILVOLT_GEARS_HIGHEST,
  /** The gears of the trace; where it has none, as TAILVOLT_GEARS_FIXED. */
  TAILVOLT_GEARS_OF_TRACE
};

/** The car and its driver. */
struct tailvolt_drive_options {
  size_t size;              /**< of this structure where the program was compiled; set by tailvolt_default_drive_options() */
  enum tailvolt_gear_choice gears; /**< TAILVOLT_GEARS_FIXED */
  int gear_count;           /**< 1 to TAILVOLT_GEARS_MAX; 5 */
  double gear_rpm[TAILVOLT_GEARS_MAX]; /**< engine speed at 1 km/h in each gear; above 0, falling */
  double idle_rpm;          /**< above 0; 750 */
  double rated_rpm;         /**< speed of rated power, above idle_rpm; 6000 */
  double stop_after_s;      /**< stop-start: the engine stops after standing this long; 0 = it idles on */
  double start_before_s;    /**< and starts this long before moving off, 0 or more; 1 */
  double thin_rpm;          /**< rows within this of a straight line are left out, 0 or more; 1 */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_drive_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_drive_options_init(struct tailvolt_drive_options *options, size_t size);
/** A small petrol car: 124, 68, 45, 33, 27 rpm per km/h (common practice). */
static inline struct tailvolt_drive_options tailvolt_default_drive_options(void) {
  struct tailvolt_drive_options options;
  tailvolt_drive_options_init(&options, sizeof options);
  return options;
}

/** One moment of a drive, one a second or closer; times are the trace's. */
struct tailvolt_drive_moment {
  double time_s;
  double speed_kmh;
  int gear;          /**< 0 = standing, clutch out or engine off */
  double engine_rpm; /**< 0 = off */
};

/** A drive in figures. */
struct tailvolt_drive_summary {
  double duration_s, distance_m;
  double mean_kmh;     /**< distance over duration, standing included */
  double highest_kmh;
  double standing_s;   /**< between samples that both stand */
  double stopped_s;    /**< engine off by stop-start */
  double mean_rpm;     /**< over the moments, engine off counted as 0 */
  double idle_frac;    /**< share of the moments at idle speed or below */
  int stops;           /**< times the engine stops */
};

/** A trace with its engine speeds. */
struct tailvolt_drive {
  int count;
  struct tailvolt_drive_moment *moments;
  struct tailvolt_drive_summary summary;
};

/** Works out the engine speed of a trace.
 *  \param out  free with tailvolt_drive_free()
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT (options out of range or not begun with their defaults, a trace of one sample),
 *          TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_drive_create(const struct tailvolt_trace *trace, const struct tailvolt_drive_options *options,
                      struct tailvolt_drive **out);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_drive_free(struct tailvolt_drive *drive);

/** Writes a drive as a load profile: comment lines, then time_s, engine_rpm and note_kmh, a row only where engine
 *  speed leaves the straight line between rows.
 *  \param options  those that it was made with
 *  \param comment  lines without their `#`, separated by \n; may be NULL
 *  \param to       open for writing; neither flushed nor closed, so what fclose() returns has to be looked at too
 *  \return TAILVOLT_OK, TAILVOLT_NOT_WRITTEN */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_drive_write(const struct tailvolt_drive *drive, const struct tailvolt_drive_options *options,
                     const char *comment, FILE *to);

/** Writes a trace as CSV that tailvolt_trace_read() takes, one sample a row, without its gears. Arguments and statuses as for
 *  tailvolt_drive_write(). */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_trace_write(const struct tailvolt_trace *trace, const char *comment, FILE *to);

#ifdef __cplusplus
}
#endif
#endif
