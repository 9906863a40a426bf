#include <stdlib.h>
#include <string.h>

#include "input/lines.h"
#include "input/path.h"
#include "input/style.h"
#include "input/system_keys.h"
#include "tailvolt/system.h"
#include "text/text.h"
#include "text/words.h"

enum tailvolt_status tailvolt_system_text(const char *path, char **out, char *error) {
  struct tv_lines lines;
  const char *why = NULL;
  *out = NULL;
  enum tailvolt_status status = tv_lines_read(path, &lines, &why);
  if (status == TAILVOLT_OK && (why = tv_lines_unreadable(&lines)) != NULL) {
    tv_lines_free(&lines);
    status = TAILVOLT_BAD_INPUT;
  }
  if (error != NULL) tv_copy_text(error, TAILVOLT_TEXT_MAX, why != NULL ? why : tailvolt_status_text(status));
  if (status == TAILVOLT_OK) *out = lines.text;
  return status;
}

void tailvolt_system_text_free(char *text) { free(text); }

/* The index-th file that a programme names: which programme and which of its keys; NULL after the last. */
static const struct tailvolt_programme *named_by(const struct tailvolt_system *system, int index, const char **key, const char **name) {
  static const char *const keys[] = {"recording", "envelope", "style"};
  for (int k = 0; k < system->programme_count; k++) {
    const struct tailvolt_programme *programme = &system->programmes[k];
    const char *const named[] = {programme->recording, programme->envelope, programme->style};
    for (int n = 0; n < 3; n++) {
      if (named[n][0] == '\0' || index-- > 0) continue;
      *key = keys[n];
      *name = named[n];
      return programme;
    }
  }
  return NULL;
}

enum tailvolt_status tailvolt_system_input(const struct tailvolt_system *system, int index, char **path) {
  const char *key, *name;
  *path = NULL;
  if (named_by(system, index, &key, &name) == NULL) return TAILVOLT_OK;
  *path = tv_beside(system->file, name);
  return *path != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

const char *tailvolt_system_input_key(const struct tailvolt_system *system, int index, char *key, size_t size) {
  const char *word = "", *name = "";
  const struct tailvolt_programme *programme = named_by(system, index, &word, &name);
  bool file = programme != NULL && (strcmp(word, "style") != 0 || tv_style_is_file(name));
  tv_copy_text(key, size, "");
  if (!file) return "";
  tv_section_words(TAILVOLT_PART_PROGRAMME, programme->name, key, size);
  tv_append(key, size, ".%s", word);
  return name;
}

/* The file that a line or a setting names for a programme; *name empty where it names none. A key that is nearly one is taken for it. */
static void name_in(const char *text, char name[TAILVOLT_TEXT_MAX]) {
  size_t split = strcspn(text, "=:");
  char left[TAILVOLT_TEXT_MAX], key[TAILVOLT_TEXT_MAX];
  name[0] = '\0';
  if (text[split] == '\0' || split >= sizeof left) return;
  tv_copy_text(left, split + 1, text);
  const char *dot = strrchr(left, '.');
  tv_squeeze(key, sizeof key, dot != NULL ? dot + 1 : left);
  enum tv_key_id id = tv_key_find(TV_KIND_PROGRAMME, key);
  const char *near = id == TV_KEY_COUNT ? tv_key_nearest(TV_KIND_PROGRAMME, key) : NULL;
  if (near != NULL) id = tv_key_find(TV_KIND_PROGRAMME, near);
  if (id == TV_K_RECORDING || id == TV_K_ENVELOPE || id == TV_K_STYLE) tv_squeeze(name, TAILVOLT_TEXT_MAX, text + split + 1);
}

enum tailvolt_status tailvolt_system_named(const char *text, const char *name, const struct tailvolt_setting *settings, int setting_count,
                                           int index, char **path) {
  struct tv_lines lines;
  char line[TV_LINE_LONGEST + 1], named[TAILVOLT_TEXT_MAX] = "";
  const char *problem = NULL;
  *path = NULL;
  enum tailvolt_status status = tv_lines_copy(text, &lines);
  if (status != TAILVOLT_OK) return status;
  int setting = 0;
  bool found = false;
  while (!found && tv_lines_next(&lines, line, &problem)) {
    name_in(line, named);
    found = named[0] != '\0' && index-- == 0;
  }
  while (!found && setting < setting_count) {
    name_in(settings[setting++].text, named);
    found = named[0] != '\0' && index-- == 0;
  }
  tv_lines_free(&lines);
  if (found) *path = tv_beside(name, named);
  return !found || *path != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}
