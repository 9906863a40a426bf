#include "support/remedy_scene.h"

#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/scenes.h"

const char remedy_van[] = "[vehicle]\nname = Puppet theatre van  # comes first\nbase load = 55 A\n"
                          "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
                          "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
const char remedy_points[] =
    "[alternator]\npositive = alternator post\nnegative = block\nrated current = 110 A\nlow current = 52 A\n"
    "[battery starter]\npositive = post\ncapacity = 70 Ah\ncold cranking = 640 A EN\n"
    "[cable charge lead]\nfrom = alternator post\nto = post\nsize = 25 mm2\nlength = 1.2 m\n"
    "[strap engine]\nfrom = block\nto = body\nsize = 25 mm2\nlength = 0.5 m\n"
    "[cable negative lead]\nfrom = body\nto = ground\nsize = 25 mm2\nlength = 0.6 m\n"
    "[fuse main]\nfrom = post\nto = fused\nrating = 80 A\ndistance = 30 cm\n"
    "[cable feed]\nfrom = fused\nto = plus\nsize = 10 mm2\nlength = 5.5 m\n"
    "[cable earth]\nfrom = minus\nto = stud\nsize = 10 mm2\nlength = 0.8 m\n"
    "[joint stud]\nfrom = stud\nto = body\nresistance = 4 mohm\n"
    "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 800 W\n"
    "[amplifier voices]\npositive = plus\nnegative = minus\nrated power = 200 W\n";

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

struct tailvolt_system *remedy_with_largest(struct tv_remedy_job *job, const enum tailvolt_cure *cure) {
  struct tv_choice choice = {{0}};
  struct tailvolt_system *system = NULL;
  char error[TAILVOLT_TEXT_MAX];
  int family = cure != NULL ? tv_plan_family(&job->plan, *cure) : 0;
  assert_true(family >= 0);
  if (cure != NULL) choice.size_step[family] = (signed char)job->plan.family[family].size_step_count;
  if (tv_try_settings(job, &choice, NULL, &system, error) != TAILVOLT_OK) fail_msg("%s", error);
  return system;
}

static const struct tailvolt_conductor *conductor(const struct tailvolt_system *system, enum tailvolt_conductor_kind kind,
                                                  const char *name) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == kind && strcmp(system->conductors[k].name, name) == 0) return &system->conductors[k];
  fail_msg("no conductor `%s`", name);
  return NULL;
}

const struct tailvolt_conductor *remedy_cable(const struct tailvolt_system *system, const char *name) {
  return conductor(system, TAILVOLT_CABLE, name);
}

const struct tailvolt_conductor *remedy_fuse(const struct tailvolt_system *system, const char *name) {
  return conductor(system, TAILVOLT_FUSE, name);
}

bool remedy_warns_of(const struct tailvolt_remedy_caution *caution, const char *words) {
  char text[TAILVOLT_TEXT_MAX];
  tailvolt_remedy_caution_text(caution, false, text, sizeof text);
  return strstr(text, words) != NULL;
}

void remedy_free_set(struct tailvolt_remedy_set *set) {
  free(set->changes);
  free(set->cautions);
  free(set->fuses);
  free(set->leads);
}
