/* Any bytes as a report that is read back: never a crash or a silent refusal, and what is accepted is written again as it was read.
 * A first byte of 'j' puts a hash that fits where "sha256" stands empty, so that what lies behind it is reached. */
#include <jansson.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "report/made_from.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* The document with the hash of its own "made_from"; NULL where it has none. */
static char *fitted(const char *text, size_t length) {
  char sha256[TV_SHA256_HEX], *out = NULL;
  json_t *root = json_loadb(text, length, 0, NULL), *made = json_object_get(root, "made_from");
  if (json_is_object(made) && tv_made_hash(made, sha256)) {
    json_object_set_new(made, "sha256", json_string(sha256));
    out = json_dumps(root, JSON_COMPACT);
  }
  json_decref(root);
  return out;
}

static void check(const char *text, size_t length) {
  struct tv_made_from made;
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tv_made_read(text, length, &made, error);
  if (status != TAILVOLT_OK && (status != TAILVOLT_BAD_INPUT || error[0] == '\0')) abort();
  if (status == TAILVOLT_OK) {
    char *report = strdup("{\n  \"a\": 1\n}\n");
    if (report == NULL || tv_made_into_json(&made, &report) != TAILVOLT_OK) abort();
    struct tv_made_from again;
    if (tv_made_read(report, strlen(report), &again, error) != TAILVOLT_OK || again.report_changed ||
        again.file_count != made.file_count || again.option_count != made.option_count)
      abort();
    tv_made_free(&again);
    free(report);
  }
  tv_made_free(&made);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char *text = malloc(size + 1);
  if (text == NULL) abort();
  if (size > 0) memcpy(text, data, size);
  text[size] = '\0';
  char *fit = size > 0 && text[0] == 'j' ? fitted(text + 1, size - 1) : NULL;
  if (fit != NULL) check(fit, strlen(fit));
  else check(text, size);
  free(fit);
  free(text);
  return 0;
}
