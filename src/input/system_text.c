#include <stdlib.h>

#include "input/lines.h"
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
