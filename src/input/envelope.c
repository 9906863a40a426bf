/* Recordings as loads: the public side of the recording reader. */
#include "tailvolt/envelope.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/recording.h"
#include "parts/amplifier.h"
#include "text/text.h"

void tailvolt_envelope_options_init(struct tailvolt_envelope_options *options, size_t size) {
  struct tailvolt_envelope_options all = {.size = size, .window_s = 0.01, .reference = TAILVOLT_LOUDEST};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

static struct tailvolt_level level_of(const struct tv_recording_level *measured) {
  struct tailvolt_level level;
  level.peak_dbfs = 20.0 * log10(measured->peak);
  level.rms_dbfs = 10.0 * log10(measured->mean_square);
  level.crest_factor_db = level.peak_dbfs - level.rms_dbfs;
  level.mean_frac = 2.0 * measured->mean_square / (measured->peak * measured->peak);
  return level;
}

/* Length of a window: the last one ends with the recording. */
static double window_length_s(const struct tailvolt_envelope *envelope, long window) {
  double left_s = envelope->duration_s - (double)window * envelope->window_s;
  return window + 1 < envelope->window_count ? envelope->window_s : left_s;
}

/* A sine that peaks at the reference has a mean square of half its square and delivers rated power. */
static void scale_windows(struct tailvolt_envelope *envelope, double reference) {
  double scale = 2.0 / (reference * reference), sum = 0.0;
  for (long k = 0; k < envelope->window_count; k++) {
    double share = envelope->share_frac[k] * scale;
    envelope->share_frac[k] = share;
    if (share > envelope->peak_share_frac) envelope->peak_share_frac = share;
    sum += share * window_length_s(envelope, k);
  }
  envelope->mean_share_frac = sum / envelope->duration_s;
}

#define SHORTEST_S 20.0 /* two stretches of ten seconds */

/* Standard deviation of the mean over stretches of span_s, over the mean of the whole. The recording is played in a
 * loop; a last window shorter than the others counts like them. */
static double swing(const struct tailvolt_envelope *envelope, double span_s) {
  long count = envelope->window_count, span = (long)(span_s / envelope->window_s + 0.5);
  double whole = 0.0, sum = 0.0, square = 0.0;
  if (span < 1) span = 1;
  for (long k = 0; k < count; k++) whole += envelope->share_frac[k];
  whole /= (double)count;
  for (long k = 0; k < span; k++) sum += envelope->share_frac[k % count];
  for (long k = 0; k < count; k++) {
    double off = sum / (double)span - whole;
    square += off * off;
    sum += envelope->share_frac[(k + span) % count] - envelope->share_frac[k];
  }
  return sqrt(square / (double)count) / whole;
}

static void fill_phrases(struct tailvolt_envelope *envelope) {
  envelope->phrases_frac = envelope->sections_frac = (double)NAN;
  if (envelope->duration_s < SHORTEST_S) return;
  envelope->phrases_frac = swing(envelope, 1.0);
  /* a steady tone swings only by rounding */
  if (envelope->phrases_frac > 1e-9)
    envelope->sections_frac = fmin(1.0, swing(envelope, 10.0) / envelope->phrases_frac);
}

static void fill(struct tailvolt_envelope *envelope, struct tv_recording *recording,
                 const struct tailvolt_envelope_options *options) {
  envelope->duration_s = recording->duration_s;
  envelope->declared_s = recording->declared_s;
  envelope->truncated = recording->truncated;
  envelope->rate_hz = recording->rate_hz;
  envelope->channels = recording->channels;
  envelope->frames = recording->frames;
  envelope->whole = level_of(&recording->whole);
  envelope->filtered = level_of(&recording->band);
  envelope->is_filtered = recording->filtered;
  envelope->below_hz = options->below_hz;
  envelope->above_hz = options->above_hz;
  envelope->mono = options->mono;
  envelope->window_s = recording->window_s;
  envelope->window_count = recording->window_count;
  envelope->share_frac = recording->mean_square;
  recording->mean_square = NULL;
  double reference = options->reference == TAILVOLT_LOUDEST ? recording->band.peak : 1.0;
  envelope->reference_dbfs = 20.0 * log10(reference);
  scale_windows(envelope, reference);
  fill_phrases(envelope);
}

enum tailvolt_status tailvolt_envelope_read(const char *path, const struct tailvolt_envelope_options *options,
                                            struct tailvolt_envelope **out, struct tailvolt_faults *faults) {
  struct tailvolt_envelope_options usual = tailvolt_default_envelope_options();
  struct tv_recording recording;
  char error[TAILVOLT_TEXT_MAX];
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_envelope_read(path, options, out, faults));
  memset(faults, 0, sizeof *faults);
  if (options == NULL) options = &usual;
  if (options->size != sizeof *options) return TAILVOLT_INTERNAL;
  struct tailvolt_envelope *envelope = calloc(1, sizeof *envelope);
  if (envelope == NULL) return TAILVOLT_NO_MEMORY;
  const struct tv_recording_options wanted = {.window_s = options->window_s,
                                              .below_hz = options->below_hz,
                                              .above_hz = options->above_hz,
                                              .mono = options->mono};
  enum tailvolt_status status = tv_recording_read(path, &wanted, &recording, error);
  if (status != TAILVOLT_OK) {
    if (status != TAILVOLT_NO_MEMORY) tv_fault_add(faults, path, 0, 0, NULL, NULL, "%s", error);
    free(envelope);
    return status;
  }
  tv_copy_text(envelope->name, sizeof envelope->name, path);
  fill(envelope, &recording, options);
  tv_recording_free(&recording);
  *out = envelope;
  return TAILVOLT_OK;
}

void tailvolt_envelope_free(struct tailvolt_envelope *envelope) {
  if (envelope == NULL) return;
  free(envelope->share_frac);
  free(envelope);
}

/* Share of rated power delivered. A window denser than a sine (share above 1) still peaks at the clip level when the
 * level is 0 dB: it is treated as that many sines side by side, and never beyond the square wave's 2. */
static double delivered(double share, double level_ratio) {
  double density = share > 1.0 ? share : 1.0;
  double output = density * tv_clipped_w(share / density * level_ratio, 1.0);
  return output < 2.0 ? output : 2.0;
}

double tailvolt_envelope_output_frac(const struct tailvolt_envelope *envelope, double level_db) {
  double level_ratio = pow(10.0, level_db / 10.0), sum = 0.0;
  for (long k = 0; k < envelope->window_count; k++)
    sum += delivered(envelope->share_frac[k], level_ratio) * window_length_s(envelope, k);
  return sum / envelope->duration_s;
}

void tailvolt_envelope_amplifier(const struct tailvolt_envelope *envelope, const struct tailvolt_amplifier *amplifier,
                                 double level_db, struct tailvolt_envelope_draw *out) {
  struct tv_amplifier part;
  tv_amplifier_init(amplifier, &part);
  double level_ratio = pow(10.0, (level_db + amplifier->level_offset_db) / 10.0);
  double output = 0.0, charge = 0.0, square = 0.0;
  memset(out, 0, sizeof *out);
  for (long k = 0; k < envelope->window_count; k++) {
    double length_s = window_length_s(envelope, k);
    double share = delivered(envelope->share_frac[k], level_ratio);
    double current_a =
        part.idle_a + tv_amplifier_above_idle_w(&part, share * part.rated_w) / part.rated_v;
    output += share * length_s;
    charge += current_a * length_s;
    square += current_a * current_a * length_s;
    if (current_a > out->peak_a) out->peak_a = current_a;
  }
  out->output_frac = output / envelope->duration_s;
  out->output_w = out->output_frac * part.rated_w;
  out->mean_a = charge / envelope->duration_s;
  out->rms_a = sqrt(square / envelope->duration_s);
  out->supply_w = out->mean_a * part.rated_v;
}
