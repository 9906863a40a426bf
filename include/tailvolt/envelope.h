/* Recordings as loads: levels, crest factor and the short-term power envelope. */
#ifndef TAILVOLT_ENVELOPE_H
#define TAILVOLT_ENVELOPE_H

#include <stddef.h>

#include "tailvolt/system.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The level that counts as the loudest unclipped. */
enum tailvolt_reference {
  TAILVOLT_LOUDEST = 0,    /**< the loudest sample of the recording (after the crossover) */
  TAILVOLT_FULL_SCALE = 1  /**< digital full scale */
};

/** How a recording is read. */
struct tailvolt_envelope_options {
  size_t size;             /**< of this structure where the program was compiled; set by tailvolt_default_envelope_options() */
  double window_s;         /**< 10 ms; 1 ms to 10 s */
  double below_hz;         /**< crossover: only the band below, 0 = all; below half the sampling rate */
  double above_hz;         /**< only the band above, 0 = all; below half the sampling rate */
  enum tailvolt_reference reference;
  bool mono;               /**< all channels mixed to one first, as for a single subwoofer */
};

/** Levels of a signal. The peak is that of the loudest channel; RMS is over all channels and the whole length. */
struct tailvolt_level {
  double peak_dbfs;
  double rms_dbfs;         /**< 0 = a full-scale square wave; a full-scale sine is -3.01 */
  double crest_factor_db;
  double mean_frac;        /**< mean power over rated power when the peak just clips: 2 / CF^2 */
};

/** Order of the crossover (Linkwitz-Riley: two Butterworth sections of half the order); 6.02 dB down at the named
 *  frequency. */
#define TAILVOLT_CROSSOVER_ORDER 4

/** A recording turned into windows of short-term power. */
struct tailvolt_envelope {
  char name[TAILVOLT_TEXT_MAX]; /**< path as given */
  double duration_s;       /**< of the readable part */
  double declared_s;       /**< what the file declares; NAN where it does not */
  bool truncated;          /**< the file ends before its declared length, or is damaged */
  double rate_hz;
  int channels;
  long long frames;
  struct tailvolt_level whole;
  bool is_filtered;
  double below_hz, above_hz;
  struct tailvolt_level filtered; /**< same as `whole` where there is no crossover */
  double reference_dbfs;   /**< the clip level */
  double window_s;
  long window_count;       /**< the last window may be shorter, ending at duration_s */
  double *share_frac;      /**< [window_count] mean power over rated power; above 1 where a window is denser than
                            *   a sine at clip */
  double mean_share_frac;  /**< of the envelope, over time */
  double peak_share_frac;  /**< highest window */
  double phrases_frac;     /**< how far the mean power of a second swings: its standard deviation over the mean of the
                            *   whole, looped; for `phrases` of generated music; NAN below 20 s */
  double sections_frac;    /**< share of that swing still in ten-second means; for `sections` */
  bool mono;               /**< all channels were mixed to one first */
};

/** The draw of an amplifier that plays an envelope at its rated voltage. */
struct tailvolt_envelope_draw {
  double output_frac;      /**< mean power delivered over rated power, level and clipping applied */
  double output_w;
  double supply_w;         /**< mean, idle draw included */
  double mean_a;           /**< the constant draw with the same charge */
  double rms_a;            /**< the constant draw that heats the cable equally */
  double peak_a;           /**< highest window */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_envelope_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_envelope_options_init(struct tailvolt_envelope_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_envelope_options tailvolt_default_envelope_options(void) {
  struct tailvolt_envelope_options options;
  tailvolt_envelope_options_init(&options, sizeof options);
  return options;
}

/** Reads a recording (WAV, FLAC, OGG and whatever else libsndfile knows) as a stream: memory grows by one number per
 *  window. A truncated file is read as far as it goes and `truncated` set.
 *  \param path     a file
 *  \param options  NULL = defaults
 *  \param out      receives the envelope; free with tailvolt_envelope_free()
 *  \return TAILVOLT_OK, _BAD_INPUT, _NOT_READABLE, _NO_MEMORY, _INTERNAL (options not defaulted) */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_envelope_read(const char *path, const struct tailvolt_envelope_options *options,
                       struct tailvolt_envelope **out, struct tailvolt_faults *faults);

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_envelope_free(struct tailvolt_envelope *envelope);

/** Mean power delivered over rated power at a playing level; above 0 dB the windows clip like a sine. */
TAILVOLT_API double tailvolt_envelope_output_frac(const struct tailvolt_envelope *envelope, double level_db);

/** The draw of an amplifier that plays the envelope at level_db (plus its own level offset) with rated
 *  voltage at its terminals. */
TAILVOLT_API void tailvolt_envelope_amplifier(const struct tailvolt_envelope *envelope,
                                              const struct tailvolt_amplifier *amplifier, double level_db,
                                              struct tailvolt_envelope_draw *out);

/** The envelope as CSV with the columns time_s and share: a row holds until the next, the last row ends it. `envelope
 *  =` in a programme reads it back. Free with tailvolt_report_free().
 *  \return TAILVOLT_OK or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_envelope_csv(const struct tailvolt_envelope *envelope, char **out);

#ifdef __cplusplus
}
#endif
#endif
