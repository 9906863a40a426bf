/* What the page was made from. */
#include <stdlib.h>
#include <string.h>

#include "report/html_parts.h"
#include "report/json_write.h"
#include "report/made_from.h"
#include "text/number.h"

static const char *last_name(const char *name) {
  const char *slash = strrchr(name, '/');
  return slash != NULL ? slash + 1 : name;
}

static void add_size(struct tv_buffer *page, const struct tv_made_file *file) {
  bool large = file->bytes >= 100000;
  double size = (double)file->bytes / (large ? 1e6 : 1e3);
  if (file->sha256[0] == '\0') tv_buffer_add(page, " (decoded or piped: what was in it is not known)");
  else tv_html_add(page, " (%s %s: keep it beside the page)", tv_compact(size, 1).text, large ? "MB" : "kB");
}

static void to_be_read(struct tv_buffer *page, const struct tv_made_from *made, const char *sha256) {
  int apart = 0;
  tv_html_add(page, "<p>Job %.*s", TV_MADE_SHORT, sha256);
  for (int k = 0; k < made->file_count; k++) {
    tv_buffer_add(page, k == 0 ? " of " : ", ");
    tv_html_text(page, last_name(made->files[k].name));
    tv_html_add(page, " %.*s", TV_MADE_SHORT, made->files[k].sha256);
    apart += made->files[k].text == NULL;
  }
  tv_buffer_add(page, " (first digits of their SHA-256). This page holds ");
  tv_buffer_add(page, apart == 0 ? "them" : "them, except ");
  for (int k = 0, said = 0; k < made->file_count; k++) {
    if (made->files[k].text != NULL) continue;
    tv_buffer_add(page, said++ == 0 ? "" : ", ");
    tv_html_text(page, last_name(made->files[k].name));
    add_size(page, &made->files[k]);
  }
  tv_buffer_add(page, "; &quot;tailvolt report --from&quot; and its name makes it again.</p>\n");
}

/* As ASCII in which nothing can end the block or begin another: no <, > or &. */
static void add_block(struct tv_buffer *page, json_t **object) {
  char sha256[TV_SHA256_HEX];
  tv_made_page_hash(page->text, page->length, sha256);
  tv_json_put_text(object, "report_sha256", sha256);
  char *text = tv_json_compact(*object, JSON_ENSURE_ASCII);
  if (text == NULL) page->failed = true;
  tv_buffer_add(page, "<script type=\"application/json\" id=\"made-from\">");
  for (const char *at = text; at != NULL && *at != '\0';) {
    size_t plain = strcspn(at, "<>&");
    tv_buffer_add_bytes(page, at, plain);
    at += plain;
    if (*at == '\0') break;
    tv_buffer_add(page, *at == '<' ? "\\u003c" : *at == '>' ? "\\u003e" : "\\u0026");
    at++;
  }
  tv_buffer_add(page, "</script>\n");
  free(text);
}

void tv_html_made_from(struct tv_buffer *page, const struct tv_made_from *made) {
  json_t *object = tv_made_json(made);
  to_be_read(page, made, tv_json_text_of(object, "sha256"));
  if (object == NULL || page->failed) page->failed = true;
  else add_block(page, &object);
  json_decref(object);
}
