#include "command/terminal.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command/options.h"

/* The first of the three that is set and not empty wins, as in POSIX. */
static bool locale_is_utf8(void) {
  static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
  for (size_t k = 0; k < 3; k++) {
    const char *value = getenv(names[k]);
    if (value == NULL || *value == '\0') continue;
    for (const char *at = value; *at != '\0'; at++) {
      if (toupper((unsigned char)at[0]) != 'U' || toupper((unsigned char)at[1]) != 'T' ||
          toupper((unsigned char)at[2]) != 'F')
        continue;
      return at[3] == '8' || (at[3] == '-' && at[4] == '8');
    }
    return false;
  }
  return false;
}

static bool terminal_takes_colour(FILE *out) {
  const char *no_color = getenv("NO_COLOR"), *term = getenv("TERM");
  if (no_color != NULL && *no_color != '\0') return false;
  if (term == NULL || strcmp(term, "dumb") == 0) return false;
  return out != NULL && isatty(fileno(out)) == 1;
}

bool tv_style_of(const struct tv_invocation *invocation, FILE *out, struct tailvolt_report_style *style) {
  static const char *const when[] = {"auto", "always", "never", NULL};
  static const char *const units[] = {"metric", "us", NULL};
  int colour = 0, system = 0;
  if (!tv_choice_option(invocation, "color", when, &colour)) return false;
  if (!tv_choice_option(invocation, "units", units, &system)) return false;
  style->colour = colour == 1 || (colour == 0 && terminal_takes_colour(out));
  style->utf8 = locale_is_utf8();
  style->us_units = system == 1;
  style->details = false;
  return true;
}
