#include "input/recording.h"

#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "text/read_number.h"
#include "input/recording_filter.h"

#define BLOCK_SAMPLES 8192
#define FORMAT_MPEG 0x230000 /* SF_FORMAT_MPEG, which older headers lack */

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
  SNDFILE *file;
  SF_INFO info;
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

/* Opens the file, or says why not in words of one who looks at a folder, not at a header. */
static enum tailvolt_status open_file(struct reader *reader, const char *path, char *error) {
  struct stat about;
  if (stat(path, &about) != 0) return refuse(error, TAILVOLT_NOT_READABLE, strerror(errno));
  if (S_ISDIR(about.st_mode)) return refuse(error, TAILVOLT_NOT_READABLE, "is a folder, not a recording");
  if (S_ISREG(about.st_mode) && about.st_size == 0)
    return refuse(error, TAILVOLT_BAD_INPUT, "the file is empty (0 bytes)");
  reader->file = sf_open(path, SFM_READ, &reader->info);
  if (reader->file == NULL) {
    snprintf(error, TAILVOLT_TEXT_MAX, "cannot be read as a recording: %.180s", sf_strerror(NULL));
    return TAILVOLT_BAD_INPUT;
  }
  if (reader->info.channels < 1 || reader->info.samplerate < 1)
    return refuse(error, TAILVOLT_BAD_INPUT, "has no channels or no sampling rate");
  return TAILVOLT_OK;
}

static enum tailvolt_status check_options(const struct tv_recording_options *options, double rate_hz, char *error) {
  double highest_hz = 0.5 * rate_hz;
  if (!(options->window_s >= TV_WINDOW_MIN_S && options->window_s <= TV_WINDOW_MAX_S))
    return refuse(error, TAILVOLT_BAD_INPUT, "window: must be 1 ms to 10 s");
  if (options->window_s * rate_hz < 1.0)
    return refuse(error, TAILVOLT_BAD_INPUT, "window: shorter than one sample of this recording");
  if (!(options->below_hz >= 0.0 && options->below_hz < highest_hz && options->above_hz >= 0.0 &&
        options->above_hz < highest_hz)) {
    snprintf(error, TAILVOLT_TEXT_MAX, "crossover: must be below half of the sampling rate, %.0f Hz", highest_hz);
    return TAILVOLT_BAD_INPUT;
  }
  if (options->below_hz > 0.0 && options->above_hz >= options->below_hz)
    return refuse(error, TAILVOLT_BAD_INPUT, "crossover: nothing is left below one and above the other frequency");
  return TAILVOLT_OK;
}

static enum tailvolt_status prepare(struct reader *reader, char *error) {
  const struct tv_recording_options *options = reader->options;
  struct tv_recording *out = reader->out;
  size_t file_channels = (size_t)reader->info.channels;
  double rate_hz = reader->info.samplerate;
  enum tailvolt_status status = check_options(options, rate_hz, error);
  if (status != TAILVOLT_OK) return status;
  out->rate_hz = rate_hz;
  out->channels = reader->info.channels;
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

/* Sums the frames into windows. A window's end may fall inside a frame, which is then shared out. */
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
  size_t channels = (size_t)reader->info.channels;
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
  snprintf(error, TAILVOLT_TEXT_MAX, "holds a sample that is not a number, or out of all bounds, %.3f s from its start",
           at_s);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status take_block(struct reader *reader, size_t frames, char *error) {
  struct tv_recording *out = reader->out;
  if (reader->options->mono && reader->info.channels > 1) mix_down(reader, frames);
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

/* Reads the number behind `label` at `text`; false where there is none. */
static bool number_behind(const char *text, const char *label, double *value) {
  const char *at = strstr(text, label);
  if (at == NULL) return false;
  at += strlen(label);
  while (*at == ' ') at++;
  return tv_parse_leading_number(at, strlen(at), value) > 0;
}

/* A WAV or AIFF file cut short: libsndfile quietly takes what is there, but its log shows both sizes as
 * "data : DECLARED (should be PRESENT)". Sizes near 2^31 and 2^32 are what a writer to a pipe puts in for "unknown".
 * Returns the ratio of declared to present, 1 where nothing is missing. */
static double declared_ratio(SNDFILE *file) {
  static const char *const chunk[] = {"\ndata : ", "\n SSND : "};
  char log[16384];
  memset(log, 0, sizeof log);
  sf_command(file, SFC_GET_LOG_INFO, log, (int)sizeof log - 1);
  for (size_t k = 0; k < sizeof chunk / sizeof chunk[0]; k++) {
    double declared, present;
    const char *line = strstr(log, chunk[k]);
    if (line == NULL || !number_behind(line, chunk[k], &declared)) continue;
    const char *line_end = strchr(line + 1, '\n');
    const char *remark = strstr(line, "(should be ");
    if (remark == NULL || (line_end != NULL && remark > line_end)) continue;
    if (!number_behind(remark, "(should be ", &present) || present <= 0.0 || declared <= present) continue;
    if (declared >= 2147400000.0 && declared <= 2147483648.0) continue;
    if (declared >= 4294900000.0) continue;
    return declared / present;
  }
  return 1.0;
}

/* What the file says it holds, against what could be read. An unknown length is shown as the greatest count there is;
 * in an OGG stream that means that its last page is missing. The length of an MPEG stream is an estimate. */
static void compare_declared(struct reader *reader) {
  struct tv_recording *out = reader->out;
  int type = reader->info.format & SF_FORMAT_TYPEMASK;
  bool known = reader->info.frames > 0 && reader->info.frames < SF_COUNT_MAX;
  double spare = type == FORMAT_MPEG ? 0.1 * out->rate_hz : 0.5;
  out->declared_s = (double)NAN;
  if (known) out->declared_s = (double)reader->info.frames / out->rate_hz * declared_ratio(reader->file);
  out->truncated = sf_error(reader->file) != SF_ERR_NO_ERROR || (!known && type == SF_FORMAT_OGG) ||
                   out->declared_s * out->rate_hz > (double)out->frames + spare;
}

static enum tailvolt_status finish(struct reader *reader, char *error) {
  struct tv_recording *out = reader->out;
  compare_declared(reader);
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
  if (out->band.peak <= 0.0) return refuse(error, TAILVOLT_BAD_INPUT, "is silent behind the crossover");
  return TAILVOLT_OK;
}

static enum tailvolt_status read_all(struct reader *reader, const char *path, char *error) {
  enum tailvolt_status status = open_file(reader, path, error);
  if (status == TAILVOLT_OK) status = prepare(reader, error);
  while (status == TAILVOLT_OK) {
    sf_count_t got = sf_readf_double(reader->file, reader->sample, (sf_count_t)reader->block_frames);
    if (got <= 0) break;
    status = take_block(reader, (size_t)got, error);
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
  if (reader.file != NULL) sf_close(reader.file);
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
