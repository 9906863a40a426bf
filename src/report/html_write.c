/* Text and cells of the page, escaped. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "report/html_parts.h"
#include "text/number.h"
#include "text/text.h"

void tv_html_text(struct tv_buffer *page, const char *text) {
  while (*text != '\0') {
    size_t length = tv_utf8_length(text);
    if (length == 0 || tv_is_unseen(text, length))
      tv_buffer_add(page, *text == '\t' || *text == '\n' ? " " : "?");
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
