#include <stdlib.h>
#include <string.h>

#include "input/lines.h"
#include "input/path.h"
#include "input/style.h"
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
