#include "support/remedy_scene.h"

#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/scenes.h"

const char remedy_van[] = "[vehicle]\nname = Puppet theatre van  # comes first\nbase load = 55 A\n"
                          "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
                          "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
const char remedy_idling[] = "time_s,engine_rpm,programme\n0,800,music\n12,800,music\n";

const char *remedy_catalogue_file(const char *text) {
  static char path[64];
  snprintf(path, sizeof path, "/tmp/tailvolt-catalogue-XXXXXX");
  int file = mkstemp(path);
  assert_true(file >= 0);
  assert_int_equal(write(file, text, strlen(text)), (ssize_t)strlen(text));
  close(file);
  return path;
}

struct tailvolt_remedy_options remedy_options_with(const char *catalogue) {
  struct tailvolt_remedy_options options = tailvolt_default_remedy_options();
  options.catalogue = catalogue;
  options.run.time_step_s = 1e-3;
  return options;
}

struct tailvolt_remedy *remedy_find(const char *system_text, const char *profile_text,
                                    const struct tailvolt_remedy_options *options) {
  char error[TAILVOLT_TEXT_MAX];
  struct tailvolt_system *system = scene_parse(system_text);
  struct tailvolt_profile *profile = scene_profile(system, profile_text);
  struct tailvolt_remedy *remedy = NULL;
  enum tailvolt_status status = tailvolt_remedy(system_text, "scene.ini", NULL, 0, profile, options, &remedy, error);
  if (status != TAILVOLT_OK) fail_msg("%s", error);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return remedy;
}

void remedy_open_job(struct tv_remedy_job *job, const struct tailvolt_remedy_options *options,
                     const char *system_text, const char *profile_text, struct tailvolt_result **before) {
  char error[TAILVOLT_TEXT_MAX];
  memset(job, 0, sizeof *job);
  job->text = system_text;
  job->name = "scene.ini";
  job->options = *options;
  job->parked_s = (double)NAN;
  atomic_init(&job->stop, false);
  job->system = scene_parse(system_text);
  job->profile = scene_profile(job->system, profile_text);
  assert_int_equal(tv_catalogue_read(options->catalogue, &job->catalogue, error), TAILVOLT_OK);
  struct tv_lane_job lane = {.system = job->system};
  assert_int_equal(tv_remedy_runs(job, job->profile, &lane, 1), TAILVOLT_OK);
  assert_int_equal(lane.status, TAILVOLT_OK);
  *before = lane.result;
  assert_int_equal(tv_plan_make(job->system, &job->catalogue, *before, &job->plan), TAILVOLT_OK);
}

void remedy_close_job(struct tv_remedy_job *job, struct tailvolt_result *before) {
  tailvolt_result_free(before);
  tv_catalogue_free(&job->catalogue);
  tailvolt_profile_free((struct tailvolt_profile *)(size_t)job->profile);
  tailvolt_system_free(job->system);
}
