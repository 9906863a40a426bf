#include "report/plot.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "text/unfit.h"
#include "report/json_read.h"
#include "report/made_from.h"
#include "report/plot_parts.h"
#include "report/plot_scripts.h"

enum content { RECORD, VARIATION, RESULT, PARKED, SYSTEM, PROFILE, ENVELOPE, COMPARISON, UNKNOWN };

struct file {
  struct tv_plot_file shown;
  enum content content;
  json_t *json; /* of RESULT, VARIATION as JSON, PARKED */
};

/* What each picture is drawn from. */
static enum content content_of(int picture) {
  static const enum content contents[TV_PICTURES] = {
      [TV_PICTURE_VOLTAGE] = RECORD, [TV_PICTURE_CURRENTS] = RECORD,  [TV_PICTURE_CHARGE] = RECORD,
      [TV_PICTURE_BEAT] = RECORD,    [TV_PICTURE_HISTOGRAM] = RECORD, [TV_PICTURE_LEDGER] = RESULT,
      [TV_PICTURE_LOOP] = RESULT,    [TV_PICTURE_CURVE] = VARIATION,  [TV_PICTURE_FAMILY] = VARIATION,
      [TV_PICTURE_HEAT] = VARIATION, [TV_PICTURE_PLAYING] = PARKED,   [TV_PICTURE_ALTERNATOR] = SYSTEM,
      [TV_PICTURE_EVENING] = PARKED, [TV_PICTURE_EVENINGS] = PARKED,  [TV_PICTURE_OVERLAY] = RECORD,
      [TV_PICTURE_COMPARE] = RESULT, [TV_PICTURE_PROFILE] = PROFILE,  [TV_PICTURE_ENVELOPE] = ENVELOPE,
      [TV_PICTURE_MEASURED] = COMPARISON};
  return contents[picture];
}

/* ---- what kind of file ---- */

/* By its first line that is not a comment. */
static enum content content_of_head(const char *at) {
  static const char *const ends[] = {"_min", "_mean", "_max"};
  const char *name = *at == '"' ? at + 1 : at;
  if (*at == '[') return SYSTEM;
  if (strncmp(at, "row,", 4) == 0) return VARIATION;
  size_t length = strcspn(at, "\r\n");
  if (strncmp(at, "time_s,share", 12) == 0 && length == 12) return ENVELOPE;
  if (strncmp(name, "time_s", 6) != 0) return UNKNOWN;
  for (size_t k = 0; k + 10 < length; k++)
    if (strncmp(at + k, ",measured:", 10) == 0 || strncmp(at + k, ",\"measured:", 11) == 0) return COMPARISON;
  for (size_t k = 0; k + 1 < length; k++)
    for (size_t e = 0; e < sizeof ends / sizeof ends[0]; e++)
      if (strncmp(at + k, ends[e], strlen(ends[e])) == 0 &&
          strchr(",\"\r\n", at[k + strlen(ends[e])]) != NULL)
        return RECORD;
  return PROFILE;
}

/* A profile may begin with a column other than time. */
static bool names_a_profile(const char *at) {
  size_t length = strcspn(at, "\r\n");
  for (size_t k = 0; k + 6 <= length; k++)
    if (strncmp(at + k, "time_s", 6) == 0 && (k == 0 || at[k - 1] == ',')) return true;
  return false;
}

static const char *past_comments(const char *at) {
  for (;;) {
    at += strspn(at, " \t\r\n");
    if (*at != '#' && *at != ';') return at;
    at += strcspn(at, "\n");
  }
}

static enum tailvolt_status read_json(struct tv_plot *plot, struct file *file) {
  char error[TAILVOLT_TEXT_MAX] = "";
  size_t length = 0;
  char *text = tv_read_file(file->shown.path, SIZE_MAX, &length);
  if (text == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (text == NULL) return tv_plot_refuse(plot, "%.150s: %.90s", file->shown.path, strerror(errno));
  size_t mark = strncmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
  file->json = tv_json_read(text + mark, length - mark, error);
  free(text);
  if (file->json == NULL && error[0] == '\0') return TAILVOLT_NO_MEMORY;
  if (file->json == NULL) return tv_plot_refuse(plot, "%.120s: %.120s", file->shown.path, error);
  if (json_object_get(file->json, "playing") != NULL)
    file->content = PARKED;
  else if (json_object_get(file->json, "keys") != NULL)
    file->content = VARIATION;
  else if (json_object_get(file->json, "sag_ledger") != NULL || json_object_get(file->json, "runs") != NULL)
    file->content = RESULT;
  return TAILVOLT_OK;
}

/* By its content, not its name. */
static enum tailvolt_status look(struct tv_plot *plot, struct file *file) {
  enum { HEAD_MAX = 1 << 16 };
  const char *unfit = tv_unfit(file->shown.path, true);
  if (unfit != NULL) {
    tv_plot_refuse(plot, "%.150s: %s", file->shown.path, unfit);
    return TAILVOLT_NOT_READABLE;
  }
  FILE *stream = fopen(file->shown.path, "rb");
  if (stream == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (stream == NULL) {
    tv_plot_refuse(plot, "%.150s: %.90s", file->shown.path, strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  char *head = calloc(1, HEAD_MAX);
  if (head == NULL) {
    fclose(stream);
    return TAILVOLT_NO_MEMORY;
  }
  size_t got = fread(head, 1, HEAD_MAX - 1, stream);
  head[got] = '\0';
  fclose(stream);
  const char *at = past_comments(strncmp(head, "\xef\xbb\xbf", 3) == 0 ? head + 3 : head);
  bool json = *at == '{';
  file->content = json ? UNKNOWN : content_of_head(at);
  if (file->content == UNKNOWN && !json && names_a_profile(at)) file->content = PROFILE;
  free(head);
  return json ? read_json(plot, file) : TAILVOLT_OK;
}

/* A file's name in the key: without folder and ending. */
static void name_file(struct tv_plot_file *file) {
  const char *slash = strrchr(file->path, '/'), *base = slash != NULL ? slash + 1 : file->path;
  const char *dot = strrchr(base, '.');
  int length = dot != NULL && dot > base ? (int)(dot - base) : (int)strlen(base);
  snprintf(file->name, sizeof file->name, "%.*s", length, base);
}

/* Files that would bear one name bear the end of their path. */
static void name_files(struct file *files, int count) {
  bool shared[TV_PLOT_FILES_MAX] = {false};
  for (int k = 0; k < count; k++) name_file(&files[k].shown);
  for (int k = 0; k < count; k++)
    for (int f = 0; f < count; f++) shared[k] = shared[k] || (f != k && strcmp(files[f].shown.name, files[k].shown.name) == 0);
  for (int k = 0; k < count; k++) {
    size_t most = sizeof files[k].shown.name - 1, all = strlen(files[k].shown.path);
    if (shared[k]) snprintf(files[k].shown.name, most + 1, "%s", files[k].shown.path + (all > most ? all - most : 0));
  }
}

static int of_content(struct file *files, int count, enum content content,
                      const struct tv_plot_file *found[TV_PLOT_FILES_MAX]) {
  int known = 0;
  for (int k = 0; k < count; k++)
    if (files[k].content == content) found[known++] = &files[k].shown;
  return known;
}

/* The worst of several runs, or the single result. */
static const json_t *worst_run(const json_t *document) {
  const json_t *runs = json_object_get(document, "runs"), *worst = NULL;
  static const char *const order[] = {"fails", "marginal", "holds"};
  if (runs == NULL) return document;
  for (size_t o = 0; o < 3 && worst == NULL; o++)
    for (size_t k = 0; k < json_array_size(runs) && worst == NULL; k++) {
      const json_t *run = json_array_get(runs, k);
      const char *status = json_string_value(json_object_get(json_object_get(run, "verdict"), "status"));
      if (status != NULL && strcmp(status, order[o]) == 0) worst = run;
    }
  return worst;
}

/* ---- the picture ---- */

static enum tailvolt_status from_records(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                         int count, int *picture) {
  if (count == 1 && *picture != TV_PICTURE_OVERLAY) return tv_plot_of_record(plot, files[0]->path, *picture);
  int shown = *picture == TV_PICTURE_OVERLAY ? TV_PICTURE_VOLTAGE : *picture;
  *picture = TV_PICTURE_OVERLAY;
  return tv_plot_of_records(plot, files, count, shown);
}

static enum tailvolt_status from_results(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                         int count, int *picture) {
  if (*picture == TV_PICTURE_LOOP && count > 1)
    return tv_plot_refuse(plot, "the picture `loop` shows one result; several are drawn as `compare`");
  if (count == 1 && *picture != TV_PICTURE_COMPARE) return tv_plot_of_ledger(plot, files[0]->json, *picture);
  *picture = TV_PICTURE_COMPARE;
  return tv_plot_of_ledgers(plot, files, count);
}

static enum tailvolt_status make_picture(struct tv_plot *plot, struct file *files, int count, int *picture) {
  static const char *const needs[] = {"a record (simulate --record FILE.csv)",
                                      "the output of vary as CSV or JSON",
                                      "the JSON of simulate (--format json)",
                                      "the JSON of parked (--format json)",
                                      "a system file",
                                      "a load profile",
                                      "the CSV of envelope (--output FILE.csv)",
                                      "the CSV of compare or match (--output FILE.csv)"};
  const struct tv_plot_file *found[TV_PLOT_FILES_MAX], *records[TV_PLOT_FILES_MAX];
  enum content content = content_of(*picture);
  int known = of_content(files, count, content, found), recorded = of_content(files, count, RECORD, records);
  if (*picture == TV_PICTURE_ALTERNATOR && known + recorded > 0)
    return tv_plot_of_alternator(plot, known > 0 ? found[0]->path : NULL,
                                 recorded > 0 ? records[0]->path : NULL);
  if (known == 0)
    return tv_plot_refuse(plot, "the picture `%s` is drawn from %s", tv_picture_names[*picture],
                          needs[content]);
  if (known > 1 && (content == VARIATION || content == PROFILE || content == ENVELOPE || content == COMPARISON))
    return tv_plot_refuse(plot, "the picture `%s` shows one file, not %d", tv_picture_names[*picture], known);
  switch (content) {
  case RECORD:
    return from_records(plot, found, known, picture);
  case VARIATION:
    return tv_plot_of_variation(plot, found[0]->path, found[0]->json, picture);
  case RESULT:
    return from_results(plot, found, known, picture);
  case PARKED:
    return tv_plot_of_parked(plot, found, known, picture);
  case PROFILE:
    return tv_plot_of_profile(plot, found[0]->path);
  case ENVELOPE:
    return tv_plot_of_envelope(plot, found[0]->path);
  case COMPARISON:
    return tv_plot_of_comparison(plot, found[0]->path);
  default:
    return TAILVOLT_BAD_INPUT;
  }
}

/* A record beside a system file shows what was asked of its alternator. */
static int picture_for(struct file *files, int count) {
  static const struct {
    enum content content;
    int picture;
  } order[] = {{SYSTEM, TV_PICTURE_ALTERNATOR}, {RECORD, TV_PICTURE_VOLTAGE},
               {RESULT, TV_PICTURE_LEDGER},     {PARKED, TV_PICTURE_EVENING},
               {PROFILE, TV_PICTURE_PROFILE},   {ENVELOPE, TV_PICTURE_ENVELOPE},
               {COMPARISON, TV_PICTURE_MEASURED}};
  const struct tv_plot_file *found[TV_PLOT_FILES_MAX];
  for (size_t k = 0; k < sizeof order / sizeof order[0]; k++)
    if (of_content(files, count, order[k].content, found) > 0) return order[k].picture;
  return TV_PICTURE_CURVE;
}

static void add_script(struct tv_buffer *to, const char *name) {
  for (const struct tv_built_in_plot *script = tv_built_in_plots; script->name != NULL; script++)
    if (strcmp(script->name, name) == 0) tv_buffer_add(to, (const char *)script->text);
}

static enum tailvolt_status assemble(struct tv_plot *plot, int picture, char **out) {
  struct tv_buffer all = {0};
  char size[128];
  tv_buffer_add(&all, "# drawn by: gnuplot FILE\n");
  snprintf(size, sizeof size, "if (!exists(\"output\")) format = '%s'\nwidth = %d\nheight = %d\n",
           plot->request->format, plot->request->width, plot->request->height);
  tv_buffer_add(&all, size);
  if (plot->settings.text != NULL) tv_buffer_add(&all, plot->settings.text);
  tv_buffer_add(&all, "data = '$numbers'\n$numbers << END_OF_NUMBERS\n");
  if (plot->data.text != NULL) tv_buffer_add(&all, plot->data.text);
  tv_buffer_add(&all, "END_OF_NUMBERS\n");
  add_script(&all, "common");
  add_script(&all, tv_picture_names[picture]);
  all.failed = all.failed || plot->settings.failed || plot->data.failed;
  return tv_buffer_finish(&all, out);
}

enum tailvolt_status tv_plot_make(const struct tv_plot_request *request, char **out,
                                  char error[TAILVOLT_TEXT_MAX]) {
  struct file files[TV_PLOT_FILES_MAX] = {0};
  struct tv_plot plot = {.request = request, .error = error};
  enum tailvolt_status status = TAILVOLT_OK;
  int count = 0;
  *out = NULL;
  error[0] = '\0';
  if (request->path_count > TV_PLOT_FILES_MAX)
    return tv_plot_refuse(&plot, "at most %d files make a picture", TV_PLOT_FILES_MAX);
  for (int k = 0; k < request->path_count; k++) files[k].shown.path = request->paths[k];
  name_files(files, request->path_count);
  for (; count < request->path_count && status == TAILVOLT_OK; count++) {
    status = look(&plot, &files[count]);
    files[count].shown.json = worst_run(files[count].json);
    if (status == TAILVOLT_OK && files[count].content == UNKNOWN)
      status =
          tv_plot_refuse(&plot, "%.150s: is not a record, variation, result, comparison, profile, envelope or system file",
                         files[count].shown.path);
  }
  int picture = request->picture >= 0 ? request->picture : picture_for(files, count);
  if (status == TAILVOLT_OK) status = make_picture(&plot, files, count, &picture);
  if (status == TAILVOLT_OK) status = assemble(&plot, picture, out);
  for (int k = 0; k < count; k++) json_decref(files[k].json);
  free(plot.settings.text);
  free(plot.data.text);
  return status;
}
