/* Changing a system without its text: what was stated is kept, everything else is derived from it again. */
#include <stdio.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"
#include "text/text.h"

/* Replaces the old content with the new and frees the old. */
static void replace(struct tailvolt_system *system, struct tailvolt_system *changed) {
  struct tailvolt_system old = *system;
  *system = *changed;
  *changed = old;
  tailvolt_system_free(changed);
}

enum tailvolt_status tailvolt_system_change(struct tailvolt_system *system, const struct tailvolt_setting *settings,
                                            int setting_count, struct tailvolt_faults *faults) {
  TV_FAULTS_OR_OWN(faults, tailvolt_system_change(system, settings, setting_count, faults));
  *faults = (struct tailvolt_faults){0};
  if (system->stated == NULL) {
    struct tv_draft none = {.faults = faults};
    struct tv_place place = {&none, "--set", 0, "system", NULL, NULL, 0};
    tv_place_fault(&place, "was not read from a file: its fields are the host program's to change");
    return TAILVOLT_BAD_INPUT;
  }
  struct tv_draft draft = {.faults = faults};
  struct tailvolt_system *changed = NULL;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (tv_stated_restore(system->stated, &draft)) status = tv_draft_finish(&draft, settings, setting_count, &changed);
  tv_draft_free(&draft);
  if (status == TAILVOLT_OK)
    replace(system, changed);
  else
    tailvolt_system_free(changed);
  return status;
}

enum tailvolt_status tailvolt_system_set(struct tailvolt_system *system, const char *key, const char *value) {
  char text[2 * TAILVOLT_TEXT_MAX];
  int length = snprintf(text, sizeof text, "%s = %s", key, value);
  if (length < 0 || (size_t)length >= sizeof text) return TAILVOLT_BAD_INPUT;
  const struct tailvolt_setting setting = {text};
  return tailvolt_system_change(system, &setting, 1, NULL);
}
