#include "command/messages.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "command/commands.h"
#include "text/text.h"

/* Written in one piece, so that messages of several processes do not mix; control characters in file names
 * and values never reach the terminal. */
static void message(const char *severity, const char *format, va_list arguments) {
  char text[2048], seen[2048], line[2112];
  vsnprintf(text, sizeof text, format, arguments);
  tv_copy_seen(seen, sizeof seen, text);
  snprintf(line, sizeof line, "tailvolt: %s%s\n", severity, seen);
  fputs(line, stderr);
}

void tv_error(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  message("", format, arguments);
  va_end(arguments);
}

void tv_warning(bool quiet, const char *format, ...) {
  va_list arguments;
  if (quiet) return;
  va_start(arguments, format);
  message("warning: ", format, arguments);
  va_end(arguments);
}

void tv_note(bool quiet, const char *format, ...) {
  va_list arguments;
  if (quiet) return;
  va_start(arguments, format);
  message("note: ", format, arguments);
  va_end(arguments);
}

int tv_usage_hint(const char *command) {
  if (command != NULL) fprintf(stderr, "tailvolt: try `tailvolt help %s`\n", command);
  else fputs("tailvolt: try `tailvolt help`\n", stderr);
  return TV_EXIT_INPUT;
}

/* True where the message holds `word`, or the start of a long one, right after `sign`, a quote or a bracket. */
static bool quotes(const char *message, char sign, const char *word) {
  enum { ENOUGH = 40 };
  size_t length = strnlen(word, ENOUGH);
  for (const char *at = strchr(message, sign); at != NULL && length > 0; at = strchr(at + 1, sign))
    if (strncmp(at + 1, word, length) == 0) return true;
  return false;
}

/* Messages about system files usually name key and value themselves: what they quote is not repeated. */
static bool names_itself(const struct tailvolt_fault *fault) {
  if (quotes(fault->message, '\'', fault->value) || quotes(fault->message, '\'', fault->key)) return true;
  char section[TAILVOLT_NAME_MAX + 32];
  for (const char *dot = strchr(fault->key, '.'); dot != NULL; dot = strchr(dot + 1, '.')) {
    snprintf(section, sizeof section, "%.*s", (int)(dot - fault->key), fault->key);
    if (quotes(fault->message, '\'', dot + 1) || quotes(fault->message, '[', section)) return true;
  }
  return quotes(fault->message, '[', fault->key);
}

/* FILE:LINE:COLUMN: KEY = VALUE: text; unknown pieces are left out, and so are key and value where the
 * message itself names them. Where no line shows the section, the section stays. */
static void print_fault(const struct tailvolt_fault *fault) {
  char place[TAILVOLT_TEXT_MAX + 32], what[256] = "";
  bool named = names_itself(fault);
  if (fault->line > 0 && fault->column > 0)
    snprintf(place, sizeof place, "%s:%d:%d", fault->file, fault->line, fault->column);
  else if (fault->line > 0)
    snprintf(place, sizeof place, "%s:%d", fault->file, fault->line);
  else
    snprintf(place, sizeof place, "%s", fault->file[0] != '\0' ? fault->file : "''");
  if (named && fault->line == 0 && strchr(fault->key, '.') != NULL && strchr(fault->message, '[') == NULL)
    snprintf(what, sizeof what, "%.*s: ", (int)strcspn(fault->key, "."), fault->key);
  else if (!named && fault->key[0] != '\0' && fault->value[0] != '\0')
    snprintf(what, sizeof what, "%s = %s: ", fault->key, fault->value);
  else if (!named && (fault->key[0] != '\0' || fault->value[0] != '\0'))
    snprintf(what, sizeof what, "%s: ", fault->key[0] != '\0' ? fault->key : fault->value);
  tv_error("%s: %s%s", place, what, fault->message);
}

void tv_print_faults(const struct tailvolt_faults *faults) {
  for (int k = 0; k < faults->count; k++) print_fault(&faults->fault[k]);
  if (faults->dropped > 0)
    tv_error("%d more fault%s not shown", faults->dropped, faults->dropped == 1 ? "" : "s");
}

int tv_exit_code(enum tailvolt_status status) {
  if (status == TAILVOLT_OK) return TV_EXIT_DONE;
  if (status == TAILVOLT_STOPPED) return TV_EXIT_STOPPED;
  switch (status / 100) {
  case 2: return TV_EXIT_INPUT;
  case 4: return TV_EXIT_NOT_WRITTEN;
  default: return TV_EXIT_NOT_COMPUTED;
  }
}
