/* tailvolt vary: values of up to four keys of a system file, every combination, one row each. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command/again.h"
#include "command/commands.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/vary_table.h"
#include "text/text.h"

/* Everything of one call. It has a line for each row of the whole variation; those of other shards stay NULL. */
struct job {
  const char *files[2]; /* of the system and of the profile; a report's are temporary, and the operands name them */
  struct tailvolt_variation *variation;
  struct tailvolt_variation *played; /* the same, with files that a report brings where they are */
  struct tailvolt_setting *settings;
  int setting_count;
  char *system_text, *profile_text; /* as they were when the run began, and as all rows have them; NULL = too long, or no files */
  size_t profile_length;
  char **lines;
  long kept, written, failed; /* rows taken from an earlier run, added to the journal; rows that could not be computed */
  struct tailvolt_vary_options options;
  const struct tv_made_from *made;
  struct tv_progress progress;
  char *journal_path;
  FILE *journal; /* NULL = none */
  bool journal_failed, journal_ours; /* it is of this variation */
  const char *changed; /* a file that was written to while rows were made from it */
};

static int no_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

/* "2/8" */
static bool read_shard(const struct tv_invocation *invocation, struct tailvolt_vary_options *options) {
  const char *text = tv_value(invocation, "shard"), *at = text;
  long numbers[2] = {0, 0};
  if (text == NULL) return true;
  for (int k = 0; k < 2; k++) {
    for (; *at >= '0' && *at <= '9' && numbers[k] < 100000; at++) numbers[k] = 10 * numbers[k] + (*at - '0');
    if (k == 0 && *at++ != '/') break;
  }
  if (numbers[0] < 1 || numbers[1] < numbers[0] || numbers[1] > 100000 || *at != '\0') {
    tv_error("--shard %s: must be K/N, the K-th of N shares, such as 1/4", text);
    return false;
  }
  options->shard = (int)numbers[0];
  options->shard_count = (int)numbers[1];
  return true;
}

/* FNV-1a, 64 bits. */
static void mix(unsigned long long *hash, const void *bytes, size_t count) {
  const unsigned char *at = bytes;
  for (size_t k = 0; k < count; k++) *hash = (*hash ^ at[k]) * 1099511628211ull;
}

static void mix_text(unsigned long long *hash, const char *text) {
  mix(hash, text, strlen(text) + 1);
}

/* A setting that has a file of the report read from where it was put for this run. */
static bool is_of_this_run(const struct tv_invocation *invocation, const char *setting) {
  const struct tv_again *again = invocation->again;
  for (int k = 0; again != NULL && k < again->from.file_count; k++)
    if (again->settings[k] == setting) return true;
  return false;
}

/* Two runs with the same mark, which is of everything that decides a row, recordings, envelopes and styles included,
 * produce the same rows. */
static unsigned long long mark_of(const struct tv_invocation *invocation, const struct job *job) {
  const struct tailvolt_options *run = &job->options.run;
  unsigned long long hash = 14695981039346656037ull, seed = run->seed;
  double numbers[] = {run->time_step_s, run->settle_s};
  unsigned char flags[] = {run->isothermal, run->blow, run->seed_given, job->options.parked};
  int vehicles = job->options.vehicles;
  mix_text(&hash, TAILVOLT_VERSION);
  for (int k = 0; k < invocation->made->file_count; k++) {
    mix_text(&hash, invocation->made->files[k].name);
    mix_text(&hash, invocation->made->files[k].sha256);
  }
  for (int k = 0; k < job->setting_count; k++)
    if (!is_of_this_run(invocation, job->settings[k].text)) mix_text(&hash, job->settings[k].text);
  for (int k = 0; k < job->variation->key_count; k++) {
    mix_text(&hash, job->variation->keys[k].key);
    for (int v = 0; v < job->variation->keys[k].value_count; v++)
      mix_text(&hash, job->variation->keys[k].values[v]);
  }
  mix_text(&hash, job->options.columns != NULL ? job->options.columns : "");
  mix(&hash, numbers, sizeof numbers);
  mix(&hash, flags, sizeof flags);
  mix(&hash, &vehicles, sizeof vehicles);
  mix(&hash, &seed, sizeof seed);
  return hash;
}

static unsigned long long sum_of(const char *text) {
  unsigned long long hash = 14695981039346656037ull;
  mix(&hash, text, strlen(text));
  return hash;
}

/* The row that a journal's line holds, "ROW<tab>SUM<tab>JSON"; NULL where the line is torn or of no wanted row. */
static const char *row_of(const struct job *job, const char *line, long *index) {
  char sum[24];
  const char *at = line;
  long row = 0;
  for (; *at >= '0' && *at <= '9' && row <= TAILVOLT_VARY_ROWS; at++) row = 10 * row + (*at - '0');
  if (strlen(at) < 18 || at[0] != '\t' || at[17] != '\t' || row < 1 || row > job->variation->row_count) return NULL;
  const char *text = at + 18;
  snprintf(sum, sizeof sum, "%016llx", sum_of(text));
  *index = row - 1;
  if (memcmp(at + 1, sum, 16) != 0 || job->lines[*index] != NULL || !tailvolt_vary_in_shard(&job->options, *index)) return NULL;
  return tv_vary_line_is(job->variation, *index, text) ? text : NULL;
}

/* Takes over what an earlier run has finished; what is torn is computed again. False when out of memory. */
static bool read_journal(struct job *job) {
  char *line = NULL;
  size_t room = 0;
  ssize_t length;
  bool enough = true;
  while (enough && (length = getline(&line, &room, job->journal)) > 0) {
    long index = 0;
    if (line[length - 1] != '\n') break;
    line[length - 1] = '\0';
    const char *text = row_of(job, line, &index);
    if (text == NULL) continue;
    job->lines[index] = strdup(text);
    enough = job->lines[index] != NULL;
    job->kept += enough;
    job->failed += enough && tv_vary_line_failed(text);
  }
  enough = enough && (feof(job->journal) || ferror(job->journal) || length > 0);
  free(line);
  return enough;
}

/* Opens FILE.rows beside the output, for this run alone. */
static int open_journal(const struct tv_invocation *invocation, struct job *job) {
  const char *target = tv_value(invocation, "output");
  char wanted[96], seen[96] = "";
  if (tv_output_is_direct(target)) return TV_EXIT_DONE;
  size_t room = strlen(target) + 8;
  if ((job->journal_path = malloc(room)) == NULL) return no_memory();
  snprintf(job->journal_path, room, "%s.rows", target);
  if (tv_output_is_input(invocation, job->journal_path)) return TV_EXIT_INPUT;
  /* a pipe would wait for whoever writes to it */
  int descriptor = open(job->journal_path, O_RDWR | O_CREAT | O_CLOEXEC | O_NONBLOCK, 0666);
  if (descriptor < 0) return tv_cannot_write(job->journal_path, errno);
  struct stat about;
  if (fstat(descriptor, &about) != 0 || !S_ISREG(about.st_mode)) {
    close(descriptor);
    tv_error("%s: is no file that rows could be kept in: remove it", job->journal_path);
    return TV_EXIT_NOT_WRITTEN;
  }
  struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
  if (fcntl(descriptor, F_SETLK, &lock) != 0) {
    close(descriptor);
    tv_error("%s: another run is writing it", job->journal_path);
    return TV_EXIT_NOT_WRITTEN;
  }
  job->journal = fdopen(descriptor, "r+");
  if (job->journal == NULL) {
    close(descriptor);
    return tv_cannot_write(job->journal_path, errno);
  }
  snprintf(wanted, sizeof wanted, "tailvolt vary 2 %016llx\n", mark_of(invocation, job));
  size_t length = fread(seen, 1, strlen(wanted), job->journal);
  seen[length] = '\0';
  if (strcmp(seen, wanted) == 0) {
    if (!read_journal(job)) return no_memory();
  } else if (strncmp(seen, wanted, length) == 0) {
    /* new, or torn before its first row */
    if (ftruncate(descriptor, 0) != 0) return tv_cannot_write(job->journal_path, errno);
    rewind(job->journal);
    fputs(wanted, job->journal);
  } else {
    tv_error("%s: holds rows of another variation, or of other files, options or another version; remove it to start over",
             job->journal_path);
    return TV_EXIT_INPUT;
  }
  job->journal_ours = true;
  /* start a new line after a truncated one */
  if (fseek(job->journal, 0, SEEK_END) != 0) return tv_cannot_write(job->journal_path, errno);
  if (strcmp(seen, wanted) == 0) fputc('\n', job->journal);
  if (job->kept > 0) {
    tv_note(invocation->quiet, "%ld row%s taken over from %s", job->kept, job->kept == 1 ? "" : "s",
            job->journal_path);
  }
  return fflush(job->journal) == 0 ? TV_EXIT_DONE : tv_cannot_write(job->journal_path, errno);
}

static bool is_wanted(void *context, long index) {
  const struct job *job = context;
  return job->lines[index] == NULL;
}

/* A file that rows are made from and that did not stay as it was when it was hashed; NULL = none. */
static const char *changed_file(const struct tv_made_from *made) {
  for (int k = 0; k < made->file_count; k++)
    if (!tv_made_is_still(&made->files[k])) return made->files[k].name;
  return NULL;
}

static int keep_row(void *context, const struct tailvolt_vary_row *row) {
  struct job *job = context;
  job->changed = changed_file(job->made);
  if (job->changed != NULL) return 1;
  char *line = tv_vary_line(job->variation, row);
  if (line == NULL) return 1;
  job->lines[row->index] = line;
  if (row->result == NULL) job->failed++;
  if (job->journal == NULL) return 0;
  fprintf(job->journal, "%ld\t%016llx\t%s\n", row->index + 1, sum_of(line), line);
  job->journal_failed = fflush(job->journal) != 0;
  job->written += !job->journal_failed;
  return job->journal_failed;
}

static int report_progress(void *context, double done_frac) {
  struct job *job = context;
  return tv_progress_report(&job->progress, done_frac);
}

/* System and profile, once for all rows; what is too long, or no file, stays NULL and is read by its path. False when out of memory. */
static bool read_texts(struct job *job) {
  struct stat about;
  char error[TAILVOLT_TEXT_MAX];
  if (stat(job->files[0], &about) == 0 && S_ISREG(about.st_mode) &&
      tailvolt_system_text(job->files[0], &job->system_text, error) == TAILVOLT_NO_MEMORY)
    return false;
  if (stat(job->files[1], &about) != 0 || !S_ISREG(about.st_mode)) return true;
  job->profile_text = tv_read_file(job->files[1], TV_MADE_KEPT, &job->profile_length);
  return job->profile_text != NULL || errno != ENOMEM;
}

/* Says which of them is another file by now than the rows were made from. */
static void warn_of_changed(const struct tv_invocation *invocation) {
  for (int k = 0; k < invocation->made->file_count; k++) {
    const struct tv_made_file *file = &invocation->made->files[k];
    char sha256[TV_SHA256_HEX] = "";
    unsigned long long bytes = 0;
    if (file->use.role > TV_MADE_PROFILE || file->seen.known || file->path == NULL || file->sha256[0] == '\0') continue;
    if (!tv_hash_file(file->path, &bytes, sha256) || strcmp(sha256, file->sha256) != 0)
      tv_warning(invocation->quiet, "%s: was changed since the run began: all rows are of what it held then", file->name);
  }
}

/* How long all rows will take: each runs through the profile, may be played parked, and may have cars like it drawn. */
static void note_length(const struct tv_invocation *invocation, const struct job *job, const struct tailvolt_system *system) {
  struct tailvolt_profile *profile = NULL;
  char of_what[64];
  if (tailvolt_profile_read(job->files[1], job->options.columns, system, &profile, NULL) != TAILVOLT_OK) return;
  long rows = (job->variation->row_count + job->options.shard_count - 1) / job->options.shard_count;
  double span_s = tailvolt_profile_end_s(profile) - tailvolt_profile_start_s(profile) + job->options.vehicles * tv_car_span_s(profile);
  if (job->options.parked) span_s += TV_PLAYING_SPAN_S;
  tailvolt_profile_free(profile);
  snprintf(of_what, sizeof of_what, "profile, in %ld row%s,", rows, rows == 1 ? "" : "s");
  tv_note_long_run(invocation, invocation->operands[1], of_what, span_s * (double)rows);
}

static bool is_first(const struct job *job, const int *row) {
  for (int k = 0; row != NULL && k < job->played->key_count; k++)
    if (row[k] != 0) return false;
  return row != NULL;
}

/* Files that the system of a row names; `row` NULL = the system without the keys that are varied. Where that is complete only with them it
 * names none: every row has them. */
static int note_with(const struct tv_invocation *invocation, const struct job *job, const int *row) {
  size_t count = (size_t)job->setting_count;
  int key_count = row != NULL ? job->played->key_count : 0;
  char texts[TAILVOLT_VARY_KEYS][2 * TAILVOLT_VARY_TEXT_MAX + 8];
  struct tailvolt_setting *settings = calloc(count + TAILVOLT_VARY_KEYS, sizeof *settings);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (settings != NULL && faults != NULL) {
    if (count > 0) memcpy(settings, job->settings, count * sizeof *settings);
    for (int k = 0; k < key_count; k++) {
      snprintf(texts[k], sizeof texts[k], "%s = %s", job->played->keys[k].key, job->played->keys[k].values[row[k]]);
      settings[count + (size_t)k].text = texts[k];
    }
    count += (size_t)key_count;
    status = job->system_text != NULL
                 ? tailvolt_system_parse(job->system_text, job->files[0], settings, (int)count, &system, faults)
                 : tailvolt_system_read(job->files[0], settings, (int)count, &system, faults);
  }
  bool noted = status != TAILVOLT_OK || tv_note_programmes(invocation, system, false);
  if (status == TAILVOLT_OK && is_first(job, row)) note_length(invocation, job, system);
  tailvolt_system_free(system);
  free(settings);
  free(faults);
  if (status == TAILVOLT_NO_MEMORY || invocation->made->failed) return no_memory();
  return noted ? TV_EXIT_DONE : TV_EXIT_INPUT;
}

/* Every file that some row reads: those of the first row, and of each value of a key, whichever way the key is written. */
static int note_inputs(const struct tv_invocation *invocation, const struct job *job) {
  const int first[TAILVOLT_VARY_KEYS] = {0};
  const struct tv_made_use uses[] = {{.role = TV_MADE_SYSTEM}, {.role = TV_MADE_PROFILE}};
  const char *texts[] = {job->system_text, job->profile_text};
  size_t lengths[] = {job->system_text != NULL ? strlen(job->system_text) : 0, job->profile_length};
  for (int k = 0; k < 2; k++) {
    if (texts[k] != NULL) tv_made_text(invocation->made, uses[k], invocation->operands[k], job->files[k], texts[k], lengths[k]);
    else tv_made_path(invocation->made, uses[k], invocation->operands[k], job->files[k]);
  }
  for (int k = 2; k < invocation->operand_count; k++) tv_made_key(invocation->made, invocation->operands[k]);
  int code = note_with(invocation, job, NULL);
  if (code == TV_EXIT_DONE) code = note_with(invocation, job, first);
  for (int k = 0; k < job->variation->key_count; k++) {
    for (int v = 1; code == TV_EXIT_DONE && v < job->played->keys[k].value_count; v++) {
      int row[TAILVOLT_VARY_KEYS] = {0};
      row[k] = v;
      code = note_with(invocation, job, row);
    }
  }
  return code;
}

/* Faults are of the files that the operands name. */
static void name_files(const struct tv_invocation *invocation, const struct job *job, struct tailvolt_faults *faults) {
  for (int k = 0; k < faults->count; k++)
    for (int f = 0; f < 2; f++)
      if (strcmp(faults->fault[k].file, job->files[f]) == 0)
        tv_copy_text(faults->fault[k].file, sizeof faults->fault[k].file, invocation->operands[f]);
}

/* The report's files among the values; false where a path is too long for one. */
static bool place_values(const struct tv_invocation *invocation, struct job *job) {
  for (int k = 0; k < job->played->key_count; k++) {
    struct tailvolt_vary_key *key = &job->played->keys[k];
    for (int v = 0; v < key->value_count; v++) {
      const struct tv_made_file *file = tv_again_value(invocation, key->key, key->values[v]);
      if (file == NULL) continue;
      if (file->path == NULL || strlen(file->path) >= sizeof key->values[v]) {
        tv_error("%s: too long a path for a value that is varied: set TMPDIR to a folder with a shorter name",
                 file->path != NULL ? file->path : file->name);
        return false;
      }
      tv_copy_text(key->values[v], sizeof key->values[v], file->path);
    }
  }
  return true;
}

static enum tailvolt_status parse_keys(const struct tv_invocation *invocation, struct job *job, struct tailvolt_faults *faults) {
  const char *const *texts = invocation->operands + 2;
  int count = invocation->operand_count - 2;
  enum tailvolt_status status = tailvolt_variation_parse(texts, count, &job->variation, faults);
  return status == TAILVOLT_OK ? tailvolt_variation_parse(texts, count, &job->played, faults) : status;
}

/* Faults of options, keys and files, before anything runs. */
static int prepare(const struct tv_invocation *invocation, struct job *job) {
  unsigned long threads = 0, vehicles = 64;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  int code = TV_EXIT_NOT_COMPUTED;
  job->options = tailvolt_default_vary_options();
  for (int k = 0; k < 2; k++) job->files[k] = tv_again_path(invocation, invocation->operands[k]);
  job->settings = tv_settings(invocation, &job->setting_count);
  if (faults == NULL || job->settings == NULL) {
    free(faults);
    return no_memory();
  }
  if (tv_run_options(invocation, &job->options.run) != TV_EXIT_DONE ||
      !read_shard(invocation, &job->options) || !tv_count_option(invocation, "threads", 1, 1024, &threads) ||
      !tv_count_option(invocation, "spread", 1, 1000000, &vehicles)) {
    code = TV_EXIT_INPUT;
  } else if (strcmp(invocation->operands[0], "-") == 0 || strcmp(invocation->operands[1], "-") == 0) {
    tv_error("vary reads its files once a row: give files, not standard input");
    code = TV_EXIT_INPUT;
  } else {
    job->options.threads = (int)threads;
    job->options.columns = tv_value(invocation, "columns");
    job->options.parked = tv_option_given(invocation, "parked");
    bool sure = tv_option_given(invocation, "sure") || tv_option_given(invocation, "spread");
    job->options.vehicles = sure ? (int)vehicles : 0;
    enum tailvolt_status status = parse_keys(invocation, job, faults);
    if (status == TAILVOLT_OK && !place_values(invocation, job)) {
      free(faults);
      return TV_EXIT_INPUT;
    }
    if (status == TAILVOLT_OK)
      status = tailvolt_vary_check(job->files[0], job->settings, job->setting_count, job->files[1], job->played, &job->options,
                                   faults);
    name_files(invocation, job, faults);
    if (faults->count > 0)
      tv_print_faults(faults);
    else if (status != TAILVOLT_OK)
      tv_error("%s", tailvolt_status_text(status));
    code = tv_exit_code(status);
  }
  free(faults);
  if (code != TV_EXIT_DONE) return code;
  job->made = invocation->made;
  code = read_texts(job) ? note_inputs(invocation, job) : no_memory();
  if (code != TV_EXIT_DONE) return code;
  /* before hours of rows, not after */
  if (tv_outputs_are_inputs(invocation)) return TV_EXIT_INPUT;
  job->lines = calloc((size_t)job->variation->row_count, sizeof *job->lines);
  return job->lines != NULL ? TV_EXIT_DONE : no_memory();
}

static int run_rows(const struct tv_invocation *invocation, struct job *job) {
  char what[64];
  snprintf(what, sizeof what, "%ld combinations", job->variation->row_count);
  job->options.context = job;
  job->options.wanted = is_wanted;
  job->options.row = keep_row;
  job->options.progress = report_progress;
  tv_progress_begin(&job->progress, what, invocation->quiet);
  const struct tailvolt_vary_texts texts = {job->system_text, job->profile_text, job->profile_length};
  enum tailvolt_status status = tailvolt_vary_texts(&texts, job->files[0], job->settings, job->setting_count, job->files[1], job->played,
                                                    &job->options);
  tv_progress_end(&job->progress);
  if (status == TAILVOLT_STOPPED) {
    if (job->kept + job->written > 0 && job->journal != NULL)
      tv_error("stopped; the same command resumes from %s", job->journal_path);
    else if (job->journal != NULL)
      tv_error("stopped before a row was finished");
    else
      tv_error("stopped; with --output FILE it could be resumed");
  } else if (job->changed != NULL) {
    tv_error("%s: was changed while rows were made from it: stopped%s%s", job->changed,
             job->kept + job->written > 0 && job->journal != NULL ? "; with what it held before, the same command resumes from " : "",
             job->kept + job->written > 0 && job->journal != NULL ? job->journal_path : "");
    return TV_EXIT_NOT_COMPUTED;
  } else if (status == TAILVOLT_NOT_WRITTEN && !job->journal_failed) {
    return no_memory();
  } else if (status != TAILVOLT_OK) {
    tv_error("%s%s%s", job->journal_failed ? job->journal_path : "", job->journal_failed ? ": " : "",
             tailvolt_status_text(status));
  }
  return tv_exit_code(status);
}

static int write_rows(const struct tv_invocation *invocation, struct job *job, int format) {
  struct tv_output output;
  struct tailvolt_report_style style;
  char *text = NULL;
  int code = tv_output_open(invocation, tv_value(invocation, "output"), &output);
  if (code != TV_EXIT_DONE) return code;
  if (!tv_style_of(invocation, output.file, &style)) {
    (void)tv_output_close(&output, false);
    return TV_EXIT_INPUT;
  }
  enum tailvolt_status status = format == 0   ? tv_vary_text(job->variation, job->lines, &style, &text)
                                : format == 1 ? tv_vary_json(job->variation, job->lines, &text)
                                              : tv_vary_csv(job->variation, job->lines, &text);
  if (status == TAILVOLT_OK) status = tv_made_add(invocation, format, &style, false, &text);
  if (status == TAILVOLT_OK) warn_of_changed(invocation);
  if (status == TAILVOLT_OK)
    fputs(text, output.file);
  else
    tv_error("%s", tailvolt_status_text(status));
  tailvolt_report_free(text);
  int closed = tv_output_close(&output, status == TAILVOLT_OK);
  return status == TAILVOLT_OK ? closed : tv_exit_code(status);
}

/* Removes the journal: the rows are in the output now, or there are none. */
static void drop_journal(struct job *job, bool done) {
  if (job->journal != NULL) {
    if (done || (job->journal_ours && job->kept + job->written == 0 && !job->journal_failed)) unlink(job->journal_path);
    fclose(job->journal);
  }
  free(job->journal_path);
}

/* From the output's name where --format is not given. */
static int format_of_name(const char *path) {
  const char *dot = path != NULL ? strrchr(path, '.') : NULL;
  if (dot != NULL && strcmp(dot, ".json") == 0) return 1;
  return dot != NULL && strcmp(dot, ".csv") == 0 ? 2 : 0;
}

static int tv_command_vary(struct tv_invocation *invocation) {
  static const char *const formats[] = {"text", "json", "csv", NULL};
  struct job job = {0};
  struct tailvolt_report_style style;
  int format = format_of_name(tv_value(invocation, "output"));
  if (!tv_choice_option(invocation, "format", formats, &format) || !tv_style_of(invocation, NULL, &style))
    return TV_EXIT_INPUT;
  int code = prepare(invocation, &job);
  if (code == TV_EXIT_DONE) code = open_journal(invocation, &job);
  if (code == TV_EXIT_DONE) code = run_rows(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_rows(invocation, &job, format);
  drop_journal(&job, code == TV_EXIT_DONE);
  if (code == TV_EXIT_DONE && job.failed > 0) {
    tv_error("%ld row%s could not be computed; each says why", job.failed, job.failed == 1 ? "" : "s");
    code = TV_EXIT_NOT_COMPUTED;
  }
  for (long r = 0; job.lines != NULL && r < job.variation->row_count; r++) free(job.lines[r]);
  free(job.lines);
  tailvolt_variation_free(job.variation);
  tailvolt_variation_free(job.played);
  free(job.settings);
  free(job.system_text);
  free(job.profile_text);
  return code;
}

static const struct tv_option options[] = {
    {"parked", 0, NULL, false, TV_OWN, "also how long each plays with the engine off and still starts the car"},
    {"sure", 0, NULL, false, TV_OWN, "also in how many cars like each row's it holds, of 64 drawn for each"},
    {"spread", 0, "N", false, TV_OWN, "the same of N cars per row"},
    {"threads", 0, "N", false, TV_OWN, "rows run at the same time; default one per processor"},
    {"shard", 0, "K/N", false, TV_OWN,
     "run only the K-th of N shares of the rows, for several machines or a batch scheduler"}};

static const struct tv_example examples[] = {
    {"tailvolt vary examples/lessons/car.ini examples/lessons/idle.csv \"cable feed.size = 8 AWG, 4 AWG, 0 "
     "AWG\"",
     "three sizes of the feed"},
    {"tailvolt vary examples/lessons/car.ini examples/lessons/idle.csv \"cable feed.size = 8 AWG, 4 AWG\" "
     "\"cable feed.length = 1 m .. 6 m step 1 m\" -o lengths.csv",
     "twelve rows, into a file that `tailvolt plot` draws"},
    {"tailvolt vary --from van.html \"cable amplifier feed.size = 8 AWG, 4 AWG\"", "the job of a report, with other feeds"}};

const struct tv_command tv_vary_command = {
    .name = "vary",
    .operands = "SYSTEM PROFILE \"KEY = A, B, C\"...",
    .summary = "simulate every combination of values of up to four keys, one row each",
    .description =
        "Each KEY = VALUES names a key of the system file, as --set does, and its values: a list (8 AWG, "
        "4 AWG), a range (1 m .. 8 m step 1 m), or both; a unit that stands behind the last number alone "
        "is that of all. A set point that moves (12.4 V .. 14.8 V, without a step) is one value. If a value contains a "
        "comma, separate the values by | instead. Every combination is simulated, several at a time; the last key changes fastest.\n\n"
        "With --output FILE, finished rows are kept in FILE.rows: repeat the same command to resume a run "
        "that was stopped. FILE.csv and FILE.json choose their format by name. The rows are the same for "
        "any number of threads and shards; shards written as CSV are merged with: sort -t, -k1,1n -u "
        "FILE1.csv FILE2.csv\n\n"
        "JSON holds the files, keys and options that it was made from; --from runs that variation again without its files, or varies "
        "the job of any other report of one profile where KEY = VALUES is given besides.",
    .least_operands = 3,
    .most_operands = 2 + TAILVOLT_VARY_KEYS,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE | TV_MADE | TV_AGAIN | TV_KEYS,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_vary};
