/* A job: read, kept, returned. */
#include "page/job.h"

#include <stdlib.h>
#include <string.h>

#include "report/json.h"
#include "report/json_write.h"

void *tv_page_take(size_t size) { return malloc(size > 0 ? size : 1); }
void tv_page_free(void *memory) { free(memory); }

char *tv_page_finish(json_t *root) {
  char *text = NULL;
  return tv_json_finish(root, &text) == TAILVOLT_OK ? text : NULL;
}

json_t *tv_page_begin(void) {
  json_t *root = json_object();
  tv_json_put(&root, "ok", json_true());
  return root;
}

char *tv_page_refuse(enum tailvolt_status status, const char *error) {
  json_t *root = json_object();
  if (status == TAILVOLT_NO_MEMORY) error = NULL; /* whatever was made of it on the way */
  tv_json_put(&root, "ok", json_false());
  tv_json_put_text(&root, "error", error != NULL && error[0] != '\0' ? error : tailvolt_status_text(status));
  return tv_page_finish(root);
}

char *tv_page_text_answer(enum tailvolt_status status, char *text) {
  if (status != TAILVOLT_OK) return tv_page_refuse(status, NULL);
  json_t *root = tv_page_begin();
  tv_json_put_text(&root, "text", text);
  tailvolt_report_free(text);
  return tv_page_finish(root);
}

struct tv_page_job *tv_page_create(void) {
  struct tv_page_job *job = calloc(1, sizeof *job);
  if (job != NULL) job->options = tailvolt_default_options();
  return job;
}

void tv_page_listen(struct tv_page_job *job, tv_page_progress *progress, void *context) {
  job->progress = progress;
  job->progress_context = context;
}

struct tailvolt_options tv_page_options(const struct tv_page_job *job) {
  struct tailvolt_options options = job->options;
  options.progress = job->progress;
  options.progress_context = job->progress_context;
  return options;
}

void tv_page_forget_results(struct tv_page_job *job) {
  for (int k = 0; k < TAILVOLT_STANDARD_PROFILES; k++) {
    tailvolt_result_free(job->results[k]);
    job->results[k] = NULL;
  }
  job->options = tailvolt_default_options();
  job->worst = 0;
  job->advised = false;
  job->next[0] = '\0';
}

static void unload(struct tv_page_job *job) {
  tv_page_forget_results(job);
  for (int k = 0; k < TAILVOLT_STANDARD_PROFILES; k++) {
    tailvolt_profile_free(job->profiles[k]);
    job->profiles[k] = NULL;
  }
  tv_page_trace_free(&job->trace);
  job->watched = 0;
  tailvolt_system_free(job->system);
  free(job->settings);
  free(job->settings_text);
  free(job->text);
  free(job->name);
  free(job->profile_text);
  free(job->profile_name);
  job->profile_text = job->profile_name = NULL;
  job->system = NULL;
  job->settings = NULL;
  job->settings_text = job->text = job->name = NULL;
  job->setting_count = job->count = 0;
  for (int k = 0; k < job->decoded_count; k++) free(job->decoded[k].name);
  free(job->decoded);
  job->decoded = NULL;
  job->decoded_count = 0;
}

void tv_page_destroy(struct tv_page_job *job) {
  if (job == NULL) return;
  unload(job);
  free(job);
}

/* One setting per line; empty lines are skipped. */
static bool cut_settings(struct tv_page_job *job, const char *lines) {
  size_t most = 1;
  for (const char *at = lines; *at != '\0'; at++) most += *at == '\n';
  job->settings_text = strdup(lines);
  job->settings = calloc(most, sizeof *job->settings);
  if (job->settings_text == NULL || job->settings == NULL) return false;
  for (char *at = job->settings_text; *at != '\0';) {
    char *end = strchr(at, '\n');
    if (end != NULL) *end = '\0';
    if (*at != '\0') job->settings[job->setting_count++].text = at;
    if (end == NULL) break;
    at = end + 1;
  }
  return true;
}

static enum tailvolt_status read_all(struct tv_page_job *job, const char *text, const char *name, const char *settings,
                                     const char *profile, const char *profile_name, struct tailvolt_faults *faults) {
  job->text = strdup(text);
  job->name = strdup(name);
  if (job->text == NULL || job->name == NULL || !cut_settings(job, settings != NULL ? settings : "")) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tailvolt_system_parse(text, name, job->settings, job->setting_count, &job->system, faults);
  if (status != TAILVOLT_OK) return status;
  if ((status = tailvolt_check(job->system, faults)) != TAILVOLT_OK) return status;
  job->standard = profile == NULL;
  if (job->standard) return tailvolt_standard_profiles(job->system, job->profiles, &job->count);
  job->profile_text = strdup(profile);
  job->profile_name = strdup(profile_name);
  if (job->profile_text == NULL || job->profile_name == NULL) return TAILVOLT_NO_MEMORY;
  status = tailvolt_profile_parse(profile, profile_name, job->system, &job->profiles[0], faults);
  job->count = status == TAILVOLT_OK ? 1 : 0;
  return status;
}

static char *say_faults(enum tailvolt_status status, const struct tailvolt_faults *faults) {
  json_t *root = json_object();
  tv_json_put(&root, "ok", json_false());
  if (faults->count == 0) tv_json_put_text(&root, "error", tailvolt_status_text(status));
  tv_json_put(&root, "faults", tv_json_faults(faults));
  tv_json_put(&root, "dropped", json_integer(faults->dropped));
  return tv_page_finish(root);
}

char *tv_page_load(struct tv_page_job *job, const char *text, const char *name, const char *settings, const char *profile,
                   const char *profile_name) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return NULL;
  unload(job);
  enum tailvolt_status status = read_all(job, text, name, settings, profile, profile_name, faults);
  if (status != TAILVOLT_OK) {
    char *answer = say_faults(status, faults);
    unload(job);
    free(faults);
    return answer;
  }
  free(faults);
  json_t *root = tv_page_begin();
  tv_json_put_text(&root, "name", job->system->vehicle.name);
  tv_json_put(&root, "parts", tv_page_parts(job->system));
  tv_json_put(&root, "assumed", tv_json_assumed(job->system));
  return tv_page_finish(root);
}
