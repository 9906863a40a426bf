#include "report/plot.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "report/plot_parts.h"
#include "report/plot_scripts.h"

const char *const tv_picture_names[TV_PICTURES + 1] = {
    "voltage", "currents", "charge", "beat",    "histogram",  "ledger", "loop",
    "curve",   "family",   "heat",   "playing", "alternator", NULL};

enum content { RECORD, VARIATION, RESULT, PARKED, SYSTEM, UNKNOWN };

struct file {
  const char *path;
  enum content content;
  json_t *json; /* of RESULT, VARIATION as JSON, PARKED */
};

/* By what stands in it, not by its name. */
static enum tailvolt_status look(struct tv_plot *plot, struct file *file) {
  char head[512] = "";
  json_error_t error;
  FILE *stream = fopen(file->path, "rb");
  if (stream == NULL) {
    tv_plot_refuse(plot, "%.150s: %.90s", file->path, strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  size_t got = fread(head, 1, sizeof head - 1, stream);
  head[got] = '\0';
  fclose(stream);
  const char *at = strncmp(head, "\xef\xbb\xbf", 3) == 0 ? head + 3 : head;
  at += strspn(at, " \t\r\n");
  file->content = UNKNOWN;
  if (strncmp(at, "time_s,", 7) == 0 || strncmp(at, "\"time_s\"", 8) == 0)
    file->content = RECORD;
  else if (strncmp(at, "row,", 4) == 0)
    file->content = VARIATION;
  else if (*at == '[' || *at == '#' || *at == ';')
    file->content = SYSTEM;
  if (*at != '{') return TAILVOLT_OK;
  file->json = json_load_file(file->path, 0, &error);
  if (file->json == NULL)
    return tv_plot_refuse(plot, "%.120s:%d:%d: %.100s", file->path, error.line, error.column, error.text);
  if (json_object_get(file->json, "playing") != NULL)
    file->content = PARKED;
  else if (json_object_get(file->json, "keys") != NULL)
    file->content = VARIATION;
  else if (json_object_get(file->json, "sag_ledger") != NULL || json_object_get(file->json, "runs") != NULL)
    file->content = RESULT;
  return TAILVOLT_OK;
}

static const struct file *of_content(const struct file *files, int count, enum content content) {
  for (int k = 0; k < count; k++)
    if (files[k].content == content) return &files[k];
  return NULL;
}

/* What each picture is drawn from. */
static enum content content_of(int picture) {
  static const enum content contents[TV_PICTURES] = {RECORD, RECORD,    RECORD,    RECORD,    RECORD, RESULT,
                                                     RESULT, VARIATION, VARIATION, VARIATION, PARKED, SYSTEM};
  return contents[picture];
}

/* The worst of several runs, or the result itself. */
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

static enum tailvolt_status make_picture(struct tv_plot *plot, const struct file *files, int count,
                                         int *chosen) {
  int picture = *chosen;
  static const char *const needs[] = {
      "a record (simulate --record FILE.csv)", "the output of vary as CSV or JSON",
      "the JSON of simulate (--format json)", "the JSON of parked (--format json)", "a system file"};
  const struct file *file = of_content(files, count, content_of(picture));
  const struct file *record = of_content(files, count, RECORD);
  if (picture == TV_PICTURE_ALTERNATOR && (file != NULL || record != NULL))
    return tv_plot_of_alternator(plot, file != NULL ? file->path : NULL,
                                 record != NULL ? record->path : NULL);
  if (file == NULL)
    return tv_plot_refuse(plot, "the picture `%s` is drawn from %s", tv_picture_names[picture],
                          needs[content_of(picture)]);
  switch (file->content) {
  case RECORD:
    return tv_plot_of_record(plot, file->path, picture);
  case VARIATION:
    return tv_plot_of_variation(plot, file->path, file->json, chosen);
  case RESULT:
    return tv_plot_of_ledger(plot, worst_run(file->json), picture);
  case PARKED:
    return tv_plot_of_parked(plot, file->json);
  default:
    return TAILVOLT_BAD_INPUT;
  }
}

static int picture_for(const struct file *files, int count) {
  if (of_content(files, count, SYSTEM) != NULL) return TV_PICTURE_ALTERNATOR;
  if (of_content(files, count, RECORD) != NULL) return TV_PICTURE_VOLTAGE;
  if (of_content(files, count, RESULT) != NULL) return TV_PICTURE_LEDGER;
  if (of_content(files, count, PARKED) != NULL) return TV_PICTURE_PLAYING;
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
  enum { FILES_MAX = 4 };
  struct file files[FILES_MAX] = {{0}};
  struct tv_plot plot = {.request = request, .error = error};
  enum tailvolt_status status = TAILVOLT_OK;
  int count = 0;
  *out = NULL;
  error[0] = '\0';
  if (request->path_count > FILES_MAX)
    return tv_plot_refuse(&plot, "at most %d files make a picture", FILES_MAX);
  for (; count < request->path_count && status == TAILVOLT_OK; count++) {
    files[count].path = request->paths[count];
    status = look(&plot, &files[count]);
    if (status == TAILVOLT_OK && files[count].content == UNKNOWN)
      status = tv_plot_refuse(&plot, "%.150s: is neither a record, a variation, a result nor a system file",
                              files[count].path);
  }
  int picture = request->picture >= 0 ? request->picture : picture_for(files, count);
  if (status == TAILVOLT_OK) status = make_picture(&plot, files, count, &picture);
  if (status == TAILVOLT_OK) status = assemble(&plot, picture, out);
  for (int k = 0; k < count; k++) json_decref(files[k].json);
  free(plot.settings.text);
  free(plot.data.text);
  return status;
}
