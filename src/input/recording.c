#include "input/recording.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/recording_filter.h"
#include "input/sound_file.h"
#include "text/number.h"

#define BLOCK_SAMPLES 8192

/* A sum that keeps what rounding would lose (Neumaier 1974). */
struct sum {
  double value, lost;
};

static void add(struct sum *sum, double term) {
  double total = sum->value + term;
  if (fabs(sum->value) >= fabs(term))
    sum->lost += (sum->value - total) + term;
  else
    sum->lost += (term - total) + sum->value;
  sum->value = total;
}

struct reader {
  struct tv_sound_file file;
  const struct tv_recording_options *options;
  struct tv_recording *out;
  size_t block_frames;
  size_t channels;         /* in use: 1 where mixed down */
  double *sample;          /* [block_frames * info.channels] */
  double *power;           /* [block_frames]: mean square over the channels */
  struct tv_section low, high;
  struct tv_crossover_state *low_state, *high_state; /* [channels] */
  struct sum whole, band;
  double window_frames;    /* length of a window in frames, not always whole */
  double window_sum, window_end; /* of the window being filled; its end in frames */
  long window_room;
};

static enum tailvolt_status refuse(char *error, enum tailvolt_status status, const char *text) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%s", text);
  return status;
}

static enum tailvolt_status check_options(const struct tv_recording_options *options, double rate_hz, char *error) {
  double highest_hz = 0.5 * rate_hz;
  if (!(options->window_s >= TV_WINDOW_MIN_S && options->window_s <= TV_WINDOW_MAX_S))
    return refuse(error, TAILVOLT_BAD_INPUT, "window: must be 1 ms to 10 s");
  if (options->window_s * rate_hz < 1.0)
    return refuse(error, TAILVOLT_BAD_INPUT, "window: shorter than one sample of this recording");
  if (!(options->below_hz >= 0.0 && options->below_hz < highest_hz && options->above_hz >= 0.0 &&
        options->above_hz < highest_hz)) {
    snprintf(error, TAILVOLT_TEXT_MAX, "crossover: must be below half of the sampling rate, %s Hz", tv_fixed(highest_hz, 0).text);
    return TAILVOLT_BAD_INPUT;
  }
  if (options->below_hz > 0.0 && options->above_hz >= options->below_hz)
    return refuse(error, TAILVOLT_BAD_INPUT, "crossover: nothing is left below one and above the other frequency");
  return TAILVOLT_OK;
}

static enum tailvolt_status prepare(struct reader *reader, char *error) {
  const struct tv_recording_options *options = reader->options;
  struct tv_recording *out = reader->out;
  size_t file_channels = (size_t)reader->file.channels;
  double rate_hz = reader->file.rate_hz;
  enum tailvolt_status status = check_options(options, rate_hz, error);
  if (status != TAILVOLT_OK) return status;
  out->rate_hz = rate_hz;
  out->channels = reader->file.channels;
  out->filtered = options->below_hz > 0.0 || options->above_hz > 0.0;
  out->window_s = options->window_s;
  reader->channels = options->mono ? 1 : file_channels;
  reader->block_frames = BLOCK_SAMPLES / file_channels;
  if (reader->block_frames == 0) reader->block_frames = 1;
  reader->window_frames = options->window_s * rate_hz;
  reader->window_end = reader->window_frames;
  reader->sample = malloc(reader->block_frames * file_channels * sizeof *reader->sample);
  reader->power = malloc(reader->block_frames * sizeof *reader->power);
  reader->low_state = calloc(reader->channels, sizeof *reader->low_state);
  reader->high_state = calloc(reader->channels, sizeof *reader->high_state);
  if (reader->sample == NULL || reader->power == NULL || reader->low_state == NULL || reader->high_state == NULL)
    return TAILVOLT_NO_MEMORY;
  if (options->below_hz > 0.0) reader->low = tv_crossover_section(false, options->below_hz, rate_hz);
  if (options->above_hz > 0.0) reader->high = tv_crossover_section(true, options->above_hz, rate_hz);
  return TAILVOLT_OK;
}

static bool push_window(struct reader *reader, double mean_square) {
  struct tv_recording *out = reader->out;
  if (out->window_count == reader->window_room) {
    long room = reader->window_room > 0 ? 2 * reader->window_room : 4096;
    double *wider = realloc(out->mean_square, (size_t)room * sizeof *wider);
    if (wider == NULL) return false;
    out->mean_square = wider;
    reader->window_room = room;
  }
  out->mean_square[out->window_count++] = mean_square;
  return true;
}

/* Sums frames into windows. A window may end inside a frame, which is then split. */
static bool fill_windows(struct reader *reader, size_t frames) {
  size_t i = 0;
  double at = (double)reader->out->frames;
  while (i < frames) {
    double left = fmax(reader->window_end - at, 0.0);
    size_t whole = left < (double)(frames - i) ? (size_t)left : frames - i;
    double sum = 0.0;
    for (size_t end = i + whole; i < end; i++) sum += reader->power[i];
    reader->window_sum += sum;
    at += (double)whole;
    if (i == frames) break;
    double part = reader->window_end - at;
    if (!push_window(reader, (reader->window_sum + part * reader->power[i]) / reader->window_frames)) return false;
    reader->window_sum = (1.0 - part) * reader->power[i];
    reader->window_end = (double)(reader->out->window_count + 1) * reader->window_frames;
    i++;
    at += 1.0;
  }
  return true;
}

static void mix_down(const struct reader *reader, size_t frames) {
  size_t channels = (size_t)reader->file.channels;
  for (size_t i = 0; i < frames; i++) {
    double sum = 0.0;
    for (size_t c = 0; c < channels; c++) sum += reader->sample[i * channels + c];
    reader->sample[i] = sum / (double)channels;
  }
}

/* Peak and power of a block; false where a sample is not a finite number. */
static bool measure(const struct reader *reader, size_t frames, double *peak, struct sum *total) {
  size_t channels = reader->channels;
  double highest = *peak, share = 1.0 / (double)channels, block = 0.0;
  const double *sample = reader->sample;
  for (size_t i = 0; i < frames; i++) {
    double power = 0.0;
    for (size_t c = 0; c < channels; c++, sample++) {
      double size = fabs(*sample);
      if (size > highest) highest = size;
      power += size * size;
    }
    reader->power[i] = power * share;
    block += reader->power[i];
  }
  *peak = highest;
  if (!isfinite(block)) return false;
  add(total, block);
  return true;
}

static enum tailvolt_status refuse_sample(const struct reader *reader, size_t frames, char *error) {
  size_t i = 0;
  while (i < frames && isfinite(reader->power[i])) i++;
  double at_s = ((double)reader->out->frames + (double)i) / reader->out->rate_hz;
  snprintf(error, TAILVOLT_TEXT_MAX, "holds a sample that is not a number, or out of all bounds, %s s from its start",
           tv_fixed(at_s, 3).text);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status take_block(struct reader *reader, size_t frames, char *error) {
  struct tv_recording *out = reader->out;
  if (reader->options->mono && reader->file.channels > 1) mix_down(reader, frames);
  if (!measure(reader, frames, &out->whole.peak, &reader->whole)) return refuse_sample(reader, frames, error);
  if (out->filtered) {
    for (size_t c = 0; c < reader->channels; c++) {
      double *sample = reader->sample + c;
      if (reader->options->below_hz > 0.0)
        tv_crossover_run(&reader->low, &reader->low_state[c], sample, frames, reader->channels);
      if (reader->options->above_hz > 0.0)
        tv_crossover_run(&reader->high, &reader->high_state[c], sample, frames, reader->channels);
    }
    if (!measure(reader, frames, &out->band.peak, &reader->band)) return refuse_sample(reader, frames, error);
  }
  if (!fill_windows(reader, frames)) return TAILVOLT_NO_MEMORY;
  out->frames += (long long)frames;
  return TAILVOLT_OK;
}

static enum tailvolt_status finish(struct reader *reader, char *error) {
  struct tv_recording *out = reader->out;
  tv_sound_file_length(&reader->file, out->frames, &out->declared_s, &out->truncated);
  if (out->frames == 0)
    return refuse(error, TAILVOLT_BAD_INPUT,
                  out->truncated ? "holds no sound that could be read: the file is cut short" : "holds no sound");
  double left = (double)out->frames - (double)out->window_count * reader->window_frames;
  if (left > 1e-6 && !push_window(reader, reader->window_sum / left)) return TAILVOLT_NO_MEMORY;
  out->duration_s = (double)out->frames / out->rate_hz;
  out->whole.mean_square = (reader->whole.value + reader->whole.lost) / (double)out->frames;
  if (out->filtered)
    out->band.mean_square = (reader->band.value + reader->band.lost) / (double)out->frames;
  else
    out->band = out->whole;
  if (out->whole.peak <= 0.0) return refuse(error, TAILVOLT_BAD_INPUT, "is silent throughout");
  if (out->band.peak <= 0.0) return refuse(error, TAILVOLT_BAD_INPUT, "is silent after the crossover");
  return TAILVOLT_OK;
}

static enum tailvolt_status read_all(struct reader *reader, const char *path, char *error) {
  enum tailvolt_status status = tv_sound_file_open(&reader->file, path, error);
  if (status == TAILVOLT_OK) status = prepare(reader, error);
  while (status == TAILVOLT_OK) {
    size_t got = tv_sound_file_frames(&reader->file, reader->sample, reader->block_frames);
    if (got == 0) break;
    status = take_block(reader, got, error);
  }
  if (status == TAILVOLT_OK) status = finish(reader, error);
  return status;
}

enum tailvolt_status tv_recording_read(const char *path, const struct tv_recording_options *options,
                                       struct tv_recording *out, char *error) {
  struct reader reader;
  memset(&reader, 0, sizeof reader);
  memset(out, 0, sizeof *out);
  error[0] = '\0';
  reader.options = options;
  reader.out = out;
  enum tailvolt_status status = read_all(&reader, path, error);
  tv_sound_file_close(&reader.file);
  free(reader.sample);
  free(reader.power);
  free(reader.low_state);
  free(reader.high_state);
  if (status == TAILVOLT_NO_MEMORY) refuse(error, status, "out of memory");
  if (status != TAILVOLT_OK) tv_recording_free(out);
  return status;
}

void tv_recording_free(struct tv_recording *recording) {
  free(recording->mean_square);
  recording->mean_square = NULL;
  recording->window_count = 0;
}
