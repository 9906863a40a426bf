#include <stdlib.h>
#include <string.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "text/nearest.h"
#include "report/envelope.h"
#include "text/number.h"
#include "tailvolt/report.h"

enum { TEXT, JSON, CSV };

/* Everything one call owns, freed in one place. */
struct job {
  int format;
  double level_db;
  struct tailvolt_envelope_options options;
  struct tailvolt_envelope *envelope;
  int player_count;
  struct tailvolt_system **systems; /* [player_count] */
  struct tv_envelope_player *players;
};

static int check_options(const struct tv_invocation *invocation, struct job *job) {
  static const char *const formats[] = {"text", "json", "csv", NULL};
  job->options = tailvolt_default_envelope_options();
  if (tv_option_given(invocation, "full-scale")) job->options.reference = TAILVOLT_FULL_SCALE;
  if (tv_option_given(invocation, "mono") && tv_option_given(invocation, "stereo")) {
    tv_error("--mono and --stereo: give one of them");
    return TV_EXIT_INPUT;
  }
  if (!tv_choice_option(invocation, "format", formats, &job->format) ||
      !tv_quantity_option(invocation, "below", TAILVOLT_FREQUENCY, 1.0, 1e5, &job->options.below_hz) ||
      !tv_quantity_option(invocation, "above", TAILVOLT_FREQUENCY, 1.0, 1e5, &job->options.above_hz) ||
      !tv_quantity_option(invocation, "level", TAILVOLT_LEVEL, -100.0, 40.0, &job->level_db) ||
      !tv_time_option(invocation, "window", 1e-3, 10.0, &job->options.window_s))
    return TV_EXIT_INPUT;
  /* a bass amplifier gets the sum of both channels, as does a bridged one */
  job->options.mono = tv_option_given(invocation, "mono") ||
                      (job->options.below_hz > 0.0 && !tv_option_given(invocation, "stereo"));
  return TV_EXIT_DONE;
}

static int no_such_amplifier(const struct tailvolt_system *system, const char *path, const char *name) {
  const char **names = calloc((size_t)system->amplifier_count + 1, sizeof *names);
  const char *nearest = NULL;
  for (int k = 0; names != NULL && k < system->amplifier_count; k++) names[k] = system->amplifiers[k].name;
  if (names != NULL) nearest = tv_nearest_word(name, names, (size_t)system->amplifier_count);
  if (nearest == NULL && system->amplifier_count > 0) nearest = system->amplifiers[0].name;
  if (nearest != NULL)
    tv_error("%s: has no amplifier `%s`; it has `%s`", path, name, nearest);
  else
    tv_error("%s: has no amplifier", path);
  free(names);
  return TV_EXIT_INPUT;
}

/* "SYSTEM:NAME"; the name may be omitted where the file has only one amplifier. */
static int load_player(const struct tv_invocation *invocation, const char *value, struct tailvolt_system **system,
                       struct tv_envelope_player *player) {
  char *path = strdup(value);
  if (path == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  char *name = strrchr(path, ':');
  if (name != NULL) *name++ = '\0';
  int code = tv_load_system(invocation, path, system);
  if (code == TV_EXIT_DONE) {
    const struct tailvolt_system *read = *system;
    for (int k = 0; k < read->amplifier_count && player->amplifier == NULL; k++)
      if (name != NULL ? strcmp(read->amplifiers[k].name, name) == 0 : read->amplifier_count == 1)
        player->amplifier = &read->amplifiers[k];
    if (player->amplifier == NULL && name == NULL && read->amplifier_count > 1) {
      tv_error("%s: has several amplifiers; write --amplifier \"%s:%s\"", path, path, read->amplifiers[0].name);
      code = TV_EXIT_INPUT;
    } else if (player->amplifier == NULL) {
      code = no_such_amplifier(read, path, name != NULL ? name : "");
    }
  }
  free(path);
  return code;
}

static int load_players(const struct tv_invocation *invocation, struct job *job) {
  while (tv_value_at(invocation, "amplifier", job->player_count) != NULL) job->player_count++;
  size_t room = (size_t)job->player_count + 1;
  job->systems = calloc(room, sizeof *job->systems);
  job->players = calloc(room, sizeof *job->players);
  if (job->systems == NULL || job->players == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  for (int k = 0; k < job->player_count; k++) {
    int code = load_player(invocation, tv_value_at(invocation, "amplifier", k), &job->systems[k], &job->players[k]);
    if (code != TV_EXIT_DONE) return code;
  }
  return TV_EXIT_DONE;
}

static int read_recording(const struct tv_invocation *invocation, struct job *job) {
  const char *path = invocation->operands[0];
  if (strcmp(path, "-") == 0) {
    tv_error("a recording cannot be read from standard input; give its file");
    return TV_EXIT_INPUT;
  }
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (faults != NULL) status = tailvolt_envelope_read(path, &job->options, &job->envelope, faults);
  if (status != TAILVOLT_OK && faults != NULL && faults->count > 0)
    tv_print_faults(faults);
  else if (status != TAILVOLT_OK)
    tv_error("%s: %s", path, tailvolt_status_text(status));
  free(faults);
  if (status != TAILVOLT_OK) return tv_exit_code(status);
  const struct tailvolt_envelope *envelope = job->envelope;
  if (envelope->truncated && envelope->declared_s > envelope->duration_s)
    tv_warning(invocation->quiet, "%s: ends after %s s of the %s s that it declares; the rest is missing", path,
               tv_compact(envelope->duration_s, 3).text, tv_compact(envelope->declared_s, 3).text);
  else if (envelope->truncated)
    tv_warning(invocation->quiet, "%s: is damaged or cut short after %s s", path,
               tv_compact(envelope->duration_s, 3).text);
  for (int k = 0; k < job->player_count; k++)
    tailvolt_envelope_amplifier(envelope, job->players[k].amplifier, job->level_db, &job->players[k].draw);
  return TV_EXIT_DONE;
}

static int out_of_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

/* The envelope goes to --output or, with --format csv, to standard output; its figures go to standard output
 * unless the envelope does. */
static int write_results(const struct tv_invocation *invocation, const struct job *job) {
  const char *path = tv_value(invocation, "output");
  bool to_output = path == NULL || strcmp(path, "-") == 0;
  char *text = NULL;
  if (path != NULL || job->format == CSV) {
    if (tailvolt_envelope_csv(job->envelope, &text) != TAILVOLT_OK) return out_of_memory();
    int code = tv_output_text(invocation, text);
    tailvolt_report_free(text);
    if (code != TV_EXIT_DONE || to_output) return code;
  }
  if (job->format == CSV) return TV_EXIT_DONE;
  const struct tv_envelope_report report = {.envelope = job->envelope,
                                            .level_db = job->level_db,
                                            .player_count = job->player_count,
                                            .players = job->players,
                                            .written = path};
  enum tailvolt_status status =
      job->format == JSON ? tv_envelope_json(&report, &text) : tv_envelope_text(&report, &text);
  if (status != TAILVOLT_OK) return out_of_memory();
  struct tv_output output = {.file = stdout};
  tv_output_write(&output, text);
  tailvolt_report_free(text);
  return tv_output_close(&output, true);
}

static int tv_command_envelope(struct tv_invocation *invocation) {
  struct job job = {0};
  int code = check_options(invocation, &job);
  if (code == TV_EXIT_DONE) code = load_players(invocation, &job);
  if (code == TV_EXIT_DONE) code = read_recording(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_results(invocation, &job);
  for (int k = 0; job.systems != NULL && k < job.player_count; k++) tailvolt_system_free(job.systems[k]);
  free(job.systems);
  free(job.players);
  tailvolt_envelope_free(job.envelope);
  return code;
}

static const struct tv_option options[] = {
    {"output", 'o', "FILE.csv", false, TV_OWN, "write the envelope to FILE.csv, in one piece"},
    {"below", 0, "FREQUENCY", false, TV_OWN, "crossover: only the band below, such as 80Hz"},
    {"above", 0, "FREQUENCY", false, TV_OWN, "crossover: only the band above"},
    {"window", 0, "TIME", false, TV_OWN, "length of a window; default 10ms"},
    {"full-scale", 0, NULL, false, TV_OWN,
     "rated power = a sine at digital full scale; default: at the loudest sample of the recording"},
    {"mono", 0, NULL, false, TV_OWN, "mix all channels to one first; so by default with --below, as a bass amplifier does"},
    {"stereo", 0, NULL, false, TV_OWN, "keep the channels apart with --below too"},
    {"level", 'l', "LEVEL", false, TV_OWN, "playing level such as -6dB; 0 dB = just below clipping"},
    {"amplifier", 'a', "SYSTEM:NAME", true, TV_OWN, "show what this amplifier of a system file draws"}};

static const struct tv_example examples[] = {
    {"tailvolt envelope track.ogg --below 80Hz -o track.csv", "the bass of a recording, for `envelope = track.csv`"},
    {"tailvolt envelope track.ogg --amplifier examples/van-800w-8awg/system.ini:bass --level -6dB",
     "the constant draw that a recording amounts to"}};

const struct tv_command tv_envelope_command = {
    .name = "envelope",
    .operands = "RECORDING",
    .summary = "turn a recording into an envelope: crest factor, mean power, equivalent draw",
    .description =
        "Reads a recording (WAV, FLAC, OGG and anything else libsndfile can open) at any sample rate and "
        "with any number of channels, and shows peak, RMS, crest factor and mean power as a share of the "
        "amplifier's rated power, for the whole band and after a crossover (Linkwitz-Riley, fourth order: "
        "24 dB an octave, 6 dB down at the frequency named). With --below all channels are mixed to one first.\n\n"
        "The envelope is the power in each short window as a share of the rated power. A programme plays "
        "it with `envelope = FILE.csv`, or plays the recording itself with `recording = FILE`. Windows "
        "shorter than half a period of the bass note can exceed 1 without clipping.",
    .least_operands = 1,
    .most_operands = 1,
    .groups = TV_FORMAT | TV_SYSTEM,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_envelope};
