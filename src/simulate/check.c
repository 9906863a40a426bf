/* Faults that show only when parts are made from the file, found before anything is run. */
#include <stdio.h>

#include "input/programme_read.h"
#include "parts/battery.h"
#include "simulate/places.h"
#include "tailvolt/simulate.h"
#include "text/text.h"
#include "text/words.h"

static void add_fault(struct tailvolt_faults *faults, const char *file, enum tailvolt_part_kind kind, const char *name,
                      const char *message) {
  if (faults->count == TAILVOLT_FAULTS_MAX) {
    faults->dropped++;
    return;
  }
  struct tailvolt_fault *fault = &faults->fault[faults->count++];
  *fault = (struct tailvolt_fault){.line = 0};
  tv_copy_text(fault->file, sizeof fault->file, file);
  tv_section_words(kind, name, fault->key, sizeof fault->key);
  tv_copy_text(fault->message, sizeof fault->message, message);
}

/* Labels that cannot be met together show up only when the battery is derived from them. */
static enum tailvolt_status check_battery(const struct tailvolt_system *system, int k, char error[TAILVOLT_TEXT_MAX]) {
  struct tv_battery *battery = NULL;
  enum tailvolt_status status = tv_battery_create(&system->batteries[k], &battery, error);
  tv_battery_free(battery);
  return status;
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
  if (status != TAILVOLT_OK) add_fault(faults, system->file, TAILVOLT_PART_LOAD, "", error);
  return status;
}

enum tailvolt_status tailvolt_check(const struct tailvolt_system *system, struct tailvolt_faults *faults) {
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
    add_fault(faults, system->file, battery < 0 ? TAILVOLT_PART_PROGRAMME : TAILVOLT_PART_BATTERY,
              battery < 0 ? system->programmes[k].name : system->batteries[battery].name,
              error[0] != '\0' ? error : tailvolt_status_text(status));
  }
  enum tailvolt_status places = check_places(system, faults);
  return worst == TAILVOLT_OK ? places : worst;
}
