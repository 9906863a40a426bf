#include "command/made.h"

#include <string.h>

#include "command/again.h"
#include "command/messages.h"
#include "command/options.h"
#include "tailvolt/version.h"

/* The command line itself sets a value, which may name another file. */
static bool sets_values(const struct tv_invocation *invocation) {
  for (int k = 0; k < invocation->given_count; k++)
    if (!invocation->given[k].again && strcmp(invocation->given[k].option->name, "set") == 0) return true;
  return false;
}

bool tv_note_programmes(const struct tv_invocation *invocation, const struct tailvolt_system *system, bool compared) {
  struct tv_made_from *made = invocation->made;
  if (made == NULL) return true;
  if (invocation->again == NULL) {
    tv_made_programmes(made, system, compared);
    return !made->failed;
  }
  for (int k = 0;; k++) {
    struct tv_made_use use;
    char key[2 * TAILVOLT_NAME_MAX], *path = NULL;
    const char *name = tailvolt_system_input_key(system, k, key, sizeof key);
    if (tailvolt_system_input(system, k, &path) != TAILVOLT_OK) made->failed = true;
    if (path == NULL) return !made->failed;
    const struct tv_made_file *file = tv_again_at(invocation, path);
    bool named = tv_made_key_use(key, compared, &use);
    if (named) tv_made_path(made, use, file != NULL ? file->name : name, path);
    bool stray = named && file == NULL && !sets_values(invocation);
    if (stray) tv_error("%s: its system names %s, of which it does not say what it was", invocation->again->report, name);
    tailvolt_system_text_free(path);
    if (stray || made->failed) return false;
  }
}

bool tv_note_named(const struct tv_invocation *invocation, const char *text, const char *path, const struct tailvolt_setting *settings,
                   int setting_count) {
  for (int k = 0;; k++) {
    char *named = NULL;
    if (tailvolt_system_named(text, path, settings, setting_count, k, &named) != TAILVOLT_OK) return false;
    if (named == NULL) return !invocation->made->failed;
    tv_made_path(invocation->made, (struct tv_made_use){.role = TV_MADE_RECORDING}, named, named);
    tailvolt_system_text_free(named);
  }
}

bool tv_note_report(const struct tv_invocation *invocation, const struct tv_again *again) {
  for (int k = 0; k < again->from.file_count; k++) {
    char path[TV_AGAIN_PATH];
    for (int p = 0; tv_again_place(again, k, p, path); p++)
      if (path[0] != '\0') tv_made_path(invocation->made, (struct tv_made_use){.role = TV_MADE_RECORDING}, path, path);
  }
  return !invocation->made->failed;
}

/* Nothing that moves the bits was changed on the way. */
static bool is_same_job(const struct tv_invocation *invocation) {
  for (int k = 0; k < invocation->given_count; k++)
    if (!invocation->given[k].again && (invocation->given[k].option->group & (TV_SYSTEM | TV_RUN | TV_PROFILE)) != 0) return false;
  return true;
}

void tv_note_runs(const struct tv_invocation *invocation, struct tailvolt_result *const *runs, int count) {
  const struct tv_again *again = invocation->again;
  if (invocation->made == NULL) return;
  tv_made_runs(invocation->made, (const struct tailvolt_result *const *)runs, count);
  if (again == NULL || again->from.run_count != count || invocation->made->run_count != count || !is_same_job(invocation)) return;
  int same = 0;
  for (int k = 0; k < count; k++) same += strcmp(again->from.state_hashes[k], invocation->made->state_hashes[k]) == 0;
  if (same == count) tv_note(invocation->quiet, "%s: run again to the same bits", again->report);
  else tv_warning(invocation->quiet, "%s: run again, it ends in other bits", again->report);
}

const struct tv_made_from *tv_made_of(const struct tv_invocation *invocation, const char *date) {
  static const struct {
    const char *option;
    enum tv_made_role role;
  } files[] = {{"prices", TV_MADE_PRICES}, {"catalogue", TV_MADE_CATALOGUE}};
  struct tv_made_from *made = invocation->made;
  snprintf(made->command, sizeof made->command, "%s", invocation->command->name);
  for (int k = 0; k < invocation->given_count; k++) {
    const struct tv_given_option *given = &invocation->given[k];
    if (tv_option_is_apart(given->option->name, strlen(given->option->name))) continue;
    tv_made_option(made, given->option->name, given->said);
    for (size_t f = 0; f < sizeof files / sizeof *files; f++)
      if (strcmp(given->option->name, files[f].option) == 0)
        tv_made_path(made, (struct tv_made_use){.role = files[f].role}, given->said, given->value);
  }
  if (date != NULL && !tv_option_given(invocation, "date")) tv_made_option(made, "date", date);
  return made;
}

enum tailvolt_status tv_made_add(const struct tv_invocation *invocation, int format, const struct tailvolt_report_style *style,
                                 bool labelled, char **text) {
  enum { BRIEF = 80, DETAILED = 100 };
  if (invocation->made == NULL || format == TV_AS_CSV) return TAILVOLT_OK;
  const struct tv_made_from *made = tv_made_of(invocation, NULL);
  if (format == TV_AS_JSON) return tv_made_into_json(made, text);
  return tv_made_into_text(made, style, style->details ? DETAILED : BRIEF, labelled, text);
}
