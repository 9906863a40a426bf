#include <stdlib.h>

#include "input/lines.h"
#include "input/path.h"
#include "tailvolt/system.h"
#include "text/text.h"

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

enum tailvolt_status tailvolt_system_input(const struct tailvolt_system *system, int index, char **path) {
  *path = NULL;
  for (int k = 0; k < system->programme_count; k++) {
    const struct tailvolt_programme *programme = &system->programmes[k];
    const char *const named[] = {programme->recording, programme->envelope, programme->style};
    for (int n = 0; n < 3; n++) {
      if (named[n][0] == '\0' || index-- > 0) continue;
      *path = tv_beside(system->file, named[n]);
      return *path != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
    }
  }
  return TAILVOLT_OK;
}
