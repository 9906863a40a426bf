/* What to take along: the system file, the report page, tables, pictures. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "report/html.h"
#include "report/html_parts.h"
#include "report/json_write.h"

char *tv_page_system_file(struct tv_page_job *job) {
  const struct tailvolt_remedy_set nothing = {0};
  char *text = NULL;
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = tailvolt_remedy_write(job->text, job->settings, job->setting_count, &nothing, &text);
  return tv_page_text_answer(status, text);
}

char *tv_page_csv(struct tv_page_job *job) {
  char *text = NULL;
  if (job->system == NULL || job->results[0] == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "nothing was run");
  enum tailvolt_status status = tailvolt_report_csv((const struct tailvolt_result *const *)job->results, job->count, &text);
  return tv_page_text_answer(status, text);
}

/* Every profile once more, recording what the pictures need. */
static enum tailvolt_status run_traced(struct tv_page_job *job, struct tv_trace *traces, char *error) {
  tv_page_forget_results(job);
  for (int k = job->count - 1; k >= 0; k--) {
    struct tailvolt_options options = tv_page_options(job);
    struct tailvolt_record_sink sink = tv_trace_begin(&traces[k], job->system);
    options.record = &sink;
    options.record_every_s = TV_TRACE_EVERY_S;
    enum tailvolt_status status = tailvolt_simulate(job->system, job->profiles[k], &options, &job->results[k], error);
    if (traces[k].failed) status = TAILVOLT_NO_MEMORY; /* the run takes it for one that cannot be written */
    if (status != TAILVOLT_OK) return status;
    tv_trace_end(&traces[k]);
    if (job->standard && k == job->count - 1)
      job->options.road_balance_a = tailvolt_charge_balance_a(job->results[k], TAILVOLT_ROAD);
  }
  for (int k = 1; k < job->count; k++)
    if (job->results[k]->status > job->results[job->worst]->status) job->worst = k;
  return TAILVOLT_OK;
}

/* As in `report --quick`: one next step instead of a remedy. */
static enum tailvolt_status advise(struct tv_page_job *job) {
  struct tailvolt_result *worst = job->results[job->worst];
  enum tailvolt_status status = tailvolt_ask_parked(job->system, job->profiles[job->worst], &job->options, worst);
  return status != TAILVOLT_OK || worst->status == TAILVOLT_HOLDS ? status : tv_page_look_ahead(job);
}

static enum tailvolt_status play_parked(struct tv_page_job *job, struct tailvolt_parked **evening) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  char error[TAILVOLT_TEXT_MAX];
  bool wanted = isfinite(job->system->targets.parked_s);
  for (int k = 0; k < job->count; k++) wanted = wanted || job->results[k]->phases[TAILVOLT_PARKED].present;
  if (!wanted) return TAILVOLT_OK;
  enum tailvolt_status status = tailvolt_parked(job->system, NULL, &options, evening, error);
  return status == TAILVOLT_NO_MEMORY ? status : TAILVOLT_OK;
}

static struct tv_page_decoded *decoded_as(const struct tv_page_job *job, const char *name) {
  for (int k = 0; k < job->decoded_count; k++)
    if (strcmp(job->decoded[k].name, name) == 0) return &job->decoded[k];
  return NULL;
}

static struct tv_page_decoded *add_decoded(struct tv_page_job *job, const char *name) {
  struct tv_page_decoded *more = realloc(job->decoded, ((size_t)job->decoded_count + 1) * sizeof *more);
  char *copy = strdup(name);
  if (more != NULL) job->decoded = more;
  if (more == NULL || copy == NULL) {
    free(copy);
    return NULL;
  }
  more[job->decoded_count] = (struct tv_page_decoded){.name = copy};
  return &more[job->decoded_count++];
}

int tv_page_decoded(struct tv_page_job *job, const char *name, int step, const void *piece, size_t length) {
  enum { BEGIN, ADD };
  struct tv_page_decoded *file = decoded_as(job, name);
  if (file == NULL && (file = add_decoded(job, name)) == NULL) return 0;
  if (step == BEGIN) {
    file->sha256[0] = '\0';
    tv_sha256_begin(&file->hash);
  } else if (step == ADD) {
    tv_sha256_add(&file->hash, piece, length);
  } else {
    file->bytes = file->hash.bytes;
    tv_sha256_end(&file->hash, file->sha256);
  }
  return 1;
}

/* What was played is what the browser made of a recording; what is named is the file that it was made from. A page knows no folders. */
static void name_original(const struct tv_page_job *job, struct tv_made_file *file) {
  const char *slash = strrchr(file->name, '/');
  const struct tv_page_decoded *original = decoded_as(job, file->name);
  if (original == NULL && slash != NULL) original = decoded_as(job, slash + 1);
  file->sha256[0] = '\0';
  if (original == NULL || original->sha256[0] == '\0') return;
  memcpy(file->sha256, original->sha256, sizeof file->sha256);
  file->bytes = original->bytes;
}

/* As the command would have it: `report --quick` of the same files and settings makes the same page. */
static void note_job(const struct tv_page_job *job, const char *date, const char *note, struct tv_made_from *made) {
  snprintf(made->command, sizeof made->command, "report");
  tv_made_option(made, "quick", NULL);
  for (int k = 0; k < job->setting_count; k++) tv_made_option(made, "set", job->settings[k].text);
  if (note[0] != '\0') tv_made_option(made, "note", note);
  tv_made_option(made, "date", date);
  tv_made_text(made, (struct tv_made_use){.role = TV_MADE_SYSTEM}, job->name, NULL, job->text, strlen(job->text));
  if (job->profile_text != NULL)
    tv_made_text(made, (struct tv_made_use){.role = TV_MADE_PROFILE}, job->profile_name, NULL, job->profile_text,
                 strlen(job->profile_text));
  tv_made_programmes(made, job->system, false);
  for (int k = 0; k < made->file_count; k++)
    if (made->files[k].use.role == TV_MADE_RECORDING) name_original(job, &made->files[k]);
  tv_made_runs(made, (const struct tailvolt_result *const *)job->results, job->count);
}

char *tv_page_report(struct tv_page_job *job, const char *date, const char *note) {
  struct tv_trace traces[TAILVOLT_STANDARD_PROFILES] = {0};
  struct tailvolt_parked *evening = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", *text = NULL;
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = run_traced(job, traces, error);
  if (status == TAILVOLT_OK) status = advise(job);
  if (status == TAILVOLT_OK) status = play_parked(job, &evening);
  if (status == TAILVOLT_OK) {
    struct tv_html_run runs[TAILVOLT_STANDARD_PROFILES];
    for (int k = 0; k < job->count; k++)
      runs[k] = (struct tv_html_run){.result = job->results[k], .trace = &traces[k],
                                     .next = k == job->worst && job->next[0] != '\0' ? job->next : NULL};
    struct tv_made_from made = {0};
    note_job(job, date, note, &made);
    const struct tv_html_report report = {.system = job->system, .run_count = job->count, .runs = runs, .evening = evening,
                                          .date = date[0] != '\0' ? date : NULL, .note = note[0] != '\0' ? note : NULL,
                                          .made = &made};
    status = tv_html(&report, &text);
    tv_made_free(&made);
  }
  for (int k = 0; k < TAILVOLT_STANDARD_PROFILES; k++) tv_trace_free(&traces[k]);
  tailvolt_parked_free(evening);
  return status == TAILVOLT_OK ? tv_page_text_answer(status, text) : tv_page_refuse(status, error);
}

/* <figure> and <svg> of each picture; a picture by itself needs its namespace and its font styles. */
static void add_picture(json_t **list, const char *name, struct tv_buffer *page) {
  static const char look[] = "<style>text{font:11.5px system-ui,sans-serif;fill:#1a1a1a}.soft{fill:#4a4a4a}</style>";
  char *from = page->text != NULL ? strstr(page->text, "<svg ") : NULL, *end = from != NULL ? strstr(from, "</svg>") : NULL;
  struct tv_buffer picture = {.failed = page->failed};
  char *text = NULL;
  if (page->failed || (from != NULL && end != NULL)) {
    char *body = page->failed ? NULL : strchr(from, '>');
    json_t *object = json_object();
    tv_buffer_add(&picture, "<svg xmlns=\"http://www.w3.org/2000/svg\" ");
    if (body != NULL) {
      tv_buffer_add_bytes(&picture, from + 5, (size_t)(body + 1 - (from + 5)));
      tv_buffer_add(&picture, look);
      tv_buffer_add_bytes(&picture, body + 1, (size_t)(end + 6 - (body + 1)));
    }
    tv_json_put_text(&object, "name", name);
    tv_json_put(&object, "svg", tv_buffer_finish(&picture, &text) == TAILVOLT_OK ? tv_json_text(text) : NULL);
    tv_json_append(list, object);
    tailvolt_report_free(text);
  }
  free(page->text);
  *page = (struct tv_buffer){0};
}

char *tv_page_pictures(struct tv_page_job *job) {
  struct tv_trace traces[TAILVOLT_STANDARD_PROFILES] = {0};
  char error[TAILVOLT_TEXT_MAX] = "";
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = run_traced(job, traces, error);
  json_t *list = json_array();
  struct tv_buffer page = {0};
  const struct tv_trace *trace = &traces[job->worst];
  for (int k = 0; status == TAILVOLT_OK && k < trace->amplifier_count; k++) {
    tv_html_voltage(&page, trace, k, job->results[job->worst]->amplifiers[k].name);
    add_picture(&list, k == 0 ? "voltage" : "voltage of another amplifier", &page);
    tv_html_beat(&page, trace, k, job->results[job->worst]->amplifiers[k].name);
    add_picture(&list, k == 0 ? "worst beat" : "worst beat of another amplifier", &page);
  }
  if (status == TAILVOLT_OK) tv_html_currents(&page, trace);
  add_picture(&list, "currents", &page);
  for (int k = 0; k < TAILVOLT_STANDARD_PROFILES; k++) tv_trace_free(&traces[k]);
  if (status != TAILVOLT_OK) {
    json_decref(list);
    return tv_page_refuse(status, error);
  }
  json_t *root = tv_page_begin();
  tv_json_put(&root, "pictures", list);
  return tv_page_finish(root);
}
