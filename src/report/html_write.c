/* Text and cells of the page, escaped. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "report/html_parts.h"
#include "text/number.h"

static size_t sequence_length(const unsigned char *at) {
  size_t length = at[0] < 0x80                    ? 1
                  : at[0] >= 0xc2 && at[0] < 0xe0 ? 2
                  : at[0] >= 0xe0 && at[0] < 0xf0 ? 3
                  : at[0] >= 0xf0 && at[0] < 0xf5 ? 4
                                                  : 0;
  for (size_t k = 1; k < length; k++)
    if ((at[k] & 0xc0) != 0x80) return 0;
  return length;
}

void tv_html_text(struct tv_buffer *page, const char *text) {
  while (*text != '\0') {
    const unsigned char *at = (const unsigned char *)text;
    size_t length = sequence_length(at);
    /* C1 controls are not allowed in HTML either */
    bool control = at[0] < 0x20 || at[0] == 0x7f || (at[0] == 0xc2 && length == 2 && at[1] < 0xa0);
    if (length == 0 || control)
      tv_buffer_add(page, at[0] == '\t' || at[0] == '\n' ? " " : "?");
    else if (*text == '&')
      tv_buffer_add(page, "&amp;");
    else if (*text == '<')
      tv_buffer_add(page, "&lt;");
    else if (*text == '>')
      tv_buffer_add(page, "&gt;");
    else if (*text == '"')
      tv_buffer_add(page, "&quot;");
    else
      tv_buffer_add_bytes(page, text, length);
    text += length == 0 ? 1 : length;
  }
}

void tv_html_add(struct tv_buffer *page, const char *format, ...) {
  char text[1024];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  tv_buffer_add(page, text);
}

void tv_html_cell(struct tv_buffer *page, const char *text) {
  tv_buffer_add(page, "<td>");
  tv_html_text(page, text);
  tv_buffer_add(page, "</td>");
}

void tv_html_number_cell(struct tv_buffer *page, double value, int digits) {
  tv_html_add(page, "<td class=\"n\">%s</td>", isfinite(value) ? tv_fixed(value, digits).text : "");
}

void tv_html_capital(struct tv_buffer *page, const char *text) {
  char first[2] = {text[0], '\0'};
  if (first[0] >= 'a' && first[0] <= 'z') first[0] = (char)(first[0] - 'a' + 'A');
  tv_html_text(page, first);
  if (text[0] != '\0') tv_html_text(page, text + 1);
}
