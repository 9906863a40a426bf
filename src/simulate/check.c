/* Faults that show only when parts are made from the file, found before anything is run. */
#include <math.h>
#include <stdio.h>

#include "input/assumes.h"
#include "input/faults.h"
#include "input/programme_read.h"
#include "parts/battery.h"
#include "simulate/places.h"
#include "tailvolt/simulate.h"
#include "text/text.h"
#include "text/words.h"

/* A fault of a part, at the line of the key that it is about (NULL = of its section). */
static void add_fault(struct tailvolt_faults *faults, const struct tailvolt_system *system, enum tailvolt_part_kind kind,
                      const char *name, const char *key, const char *message) {
  if (faults->count == TAILVOLT_FAULTS_MAX) {
    faults->dropped++;
    return;
  }
  struct tailvolt_fault *fault = &faults->fault[faults->count++];
  char section[TAILVOLT_NAME_MAX + 16];
  bool setting = false;
  *fault = (struct tailvolt_fault){.line = 0};
  tv_section_words(kind, name, section, sizeof section);
  fault->line = tv_system_line(system, section, key, &setting);
  tv_copy_text(fault->file, sizeof fault->file, setting ? "--set" : system->file);
  snprintf(fault->key, sizeof fault->key, "%s%s%s", section, key != NULL ? "." : "", key != NULL ? key : "");
  tv_copy_text(fault->message, sizeof fault->message, message);
}

/* Labels that cannot be met together show up only when the battery is derived from them. */
static enum tailvolt_status check_battery(const struct tailvolt_system *system, int k, char error[TAILVOLT_TEXT_MAX]) {
  struct tv_battery *battery = NULL;
  enum tailvolt_status status = tv_battery_create(&system->batteries[k], &battery, error);
  tv_battery_free(battery);
  return status;
}

/* The figure of the label that the others contradict: without a reserve of its own the rest can be met, or cannot. */
static const char *battery_key(const struct tailvolt_battery *spec) {
  struct tailvolt_battery without = *spec;
  struct tv_battery *battery = NULL;
  if (isnan(spec->reserve_min)) return "cold cranking";
  without.reserve_min = (double)NAN;
  bool met = tv_battery_create(&without, &battery, NULL) == TAILVOLT_OK;
  tv_battery_free(battery);
  return met ? "reserve" : "cold cranking";
}

static const char *programme_key(const struct tailvolt_programme *programme) {
  return programme->recording[0] != '\0'  ? "recording"
         : programme->envelope[0] != '\0' ? "envelope"
         : programme->style[0] != '\0'    ? "style"
                                          : NULL;
}

/* Reads recordings, envelopes and styles as a run would. */
static enum tailvolt_status check_programme(const struct tailvolt_system *system, int k, char error[TAILVOLT_TEXT_MAX]) {
  struct tv_programme *programme = NULL;
  enum tailvolt_status status = tv_programme_create(&system->programmes[k], system->file, NULL, &programme, error);
  tv_programme_free(programme);
  return status;
}

static enum tailvolt_status check_places(const struct tailvolt_system *system, struct tailvolt_faults *faults) {
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tv_check_places(system, error);
  if (status != TAILVOLT_OK) add_fault(faults, system, TAILVOLT_PART_LOAD, "", NULL, error);
  return status;
}

enum tailvolt_status tailvolt_check(const struct tailvolt_system *system, struct tailvolt_faults *faults) {
  TV_FAULTS_OR_OWN(faults, tailvolt_check(system, faults));
  enum tailvolt_status worst = TAILVOLT_OK;
  int count = system->programme_count + system->battery_count;
  for (int k = 0; k < count && worst != TAILVOLT_NO_MEMORY; k++) {
    char error[TAILVOLT_TEXT_MAX] = "";
    int battery = k - system->programme_count;
    enum tailvolt_status status =
        battery < 0 ? check_programme(system, k, error) : check_battery(system, battery, error);
    if (status == TAILVOLT_OK) continue;
    worst = status;
    if (status == TAILVOLT_NO_MEMORY) continue;
    const char *message = error[0] != '\0' ? error : tailvolt_status_text(status);
    if (battery < 0)
      add_fault(faults, system, TAILVOLT_PART_PROGRAMME, system->programmes[k].name, programme_key(&system->programmes[k]), message);
    else
      add_fault(faults, system, TAILVOLT_PART_BATTERY, system->batteries[battery].name, battery_key(&system->batteries[battery]), message);
  }
  enum tailvolt_status places = check_places(system, faults);
  return worst == TAILVOLT_OK ? places : worst;
}
