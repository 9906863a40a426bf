/* What a picture is made of: settings, rows of data, a title. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/plot_parts.h"
#include "text/number.h"
#include "text/text.h"

const char *const tv_picture_names[TV_PICTURES + 1] = {
    "voltage", "currents", "charge",  "beat",     "histogram",  "ledger",  "loop",
    "curve",   "family",   "heat",    "playing",  "alternator", "evening", "evenings",
    "overlay", "compare",  "profile", "envelope", "measured", NULL};

/* Drops whatever would end a string, start a shell command, break a line or turn the direction of writing; what stands for the quote. */
static void add_clean(struct tv_buffer *to, const char *text, char quote, const char *quoted) {
  while (*text != '\0') {
    size_t length = tv_utf8_length(text);
    bool unseen = length > 0 && tv_is_unseen(text, length);
    if (length == 0)
      tv_buffer_add(to, "?");
    else if (unseen || *text == '\\' || *text == '`' || *text == '@')
      tv_buffer_add(to, " ");
    else if (*text == quote)
      tv_buffer_add(to, quoted);
    else
      tv_buffer_add_bytes(to, text, length);
    text += length > 0 ? length : 1;
  }
}

/* gnuplot does not read single quotes that follow one another, so a text with those is put between double ones. */
void tv_plot_set_text(struct tv_plot *plot, const char *name, const char *text) {
  size_t length = strlen(text);
  bool doubled = text[0] == '\'' || strstr(text, "''") != NULL || (length > 0 && text[length - 1] == '\'');
  tv_buffer_add(&plot->settings, name);
  tv_buffer_add(&plot->settings, doubled ? " = \"" : " = '");
  add_clean(&plot->settings, text, doubled ? '"' : '\'', doubled ? "\\\"" : "''");
  tv_buffer_add(&plot->settings, doubled ? "\"\n" : "'\n");
}

/* Six digits are finer than any pixel; always with a point, since gnuplot divides whole numbers as
 * integers. */
static void add_number(struct tv_buffer *to, double value) {
  char text[48];
  struct tv_number number = tv_compact(value, 6);
  snprintf(text, sizeof text, "%s%s", number.text, strpbrk(number.text, ".e") == NULL ? ".0" : "");
  tv_buffer_add(to, isfinite(value) ? text : "?");
}

void tv_plot_set_number(struct tv_plot *plot, const char *name, double value) {
  if (!isfinite(value)) return;
  tv_buffer_add(&plot->settings, name);
  tv_buffer_add(&plot->settings, " = ");
  if (value >= -1e6 && value <= 1e6 && !(floor(value) < value))
    tv_buffer_add(&plot->settings, tv_fixed(value, 0).text);
  else
    add_number(&plot->settings, value);
  tv_buffer_add(&plot->settings, "\n");
}

static bool is_digit(char byte) { return byte >= '0' && byte <= '9'; }

/* Too long a title takes two lines, split at the blank nearest its middle. */
void tv_plot_title(struct tv_plot *plot, const char *format, ...) {
  enum { LINE_MOST = 72 };
  char text[200];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  size_t length = strlen(text), split = 0;
  for (size_t k = 1; k < length && length > LINE_MOST; k++)
    /* a number stays with its unit */
    if (text[k] == ' ' && !is_digit(text[k - 1]) && !is_digit(text[k + 1]) &&
        (split == 0 || labs((long)(2 * k) - (long)length) < labs((long)(2 * split) - (long)length)))
      split = k;
  if (split > 0) {
    text[split] = '\0';
    tv_plot_set_text(plot, "title2", text + split + 1);
  }
  tv_plot_set_text(plot, "title", text);
}

void tv_plot_cell(struct tv_plot *plot, double value) {
  tv_buffer_add(&plot->data, " ");
  add_number(&plot->data, value);
}

void tv_plot_cell_text(struct tv_plot *plot, const char *text) {
  tv_buffer_add(&plot->data, " \"");
  add_clean(&plot->data, text, '"', "'");
  tv_buffer_add(&plot->data, "\"");
}

void tv_plot_row(struct tv_plot *plot) {
  tv_buffer_add(&plot->data, "\n");
}

enum tailvolt_status tv_plot_refuse(struct tv_plot *plot, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(plot->error, TAILVOLT_TEXT_MAX, format, arguments);
  va_end(arguments);
  return TAILVOLT_BAD_INPUT;
}

struct tv_time_axis tv_time_axis_of(double span_s) {
  if (span_s > 3.0 * 3600.0) return (struct tv_time_axis){"h", 3600.0};
  if (span_s > 300.0) return (struct tv_time_axis){"min", 60.0};
  return (struct tv_time_axis){"s", 1.0};
}
