/* What a report was made from, read back. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/json_read.h"
#include "report/json_write.h"
#include "report/made_from.h"
#include "text/text.h"

enum { MOST_ENTRIES = 1000 };

static enum tailvolt_status refuse(char *error, const char *why) {
  tv_copy_text(error, TAILVOLT_TEXT_MAX, why);
  return TAILVOLT_BAD_INPUT;
}

/* `problem` is empty where memory ran out. */
static enum tailvolt_status unreadable(const char *problem, char *error) {
  if (problem[0] == '\0') return TAILVOLT_NO_MEMORY;
  char text[TAILVOLT_TEXT_MAX];
  snprintf(text, sizeof text, "is damaged or cut short: %.150s", problem);
  return refuse(error, text);
}

/* The command that wrote a document without such a member: each has a member that no other has. NULL = none of those. */
static const char *made_by(const json_t *root) {
  static const struct {
    const char *member, *command;
  } own[] = {{"faults", "check"}, {"disagreements", "compare"}, {"alike_s", "match"}, {"tone_w", "measure"}, {"chi_square", "measure"}};
  if (!json_is_string(json_object_get(root, "tailvolt"))) return NULL;
  for (size_t k = 0; k < sizeof own / sizeof *own; k++)
    if (json_object_get(root, own[k].member) != NULL) return own[k].command;
  return NULL;
}

/* The block of an HTML page, the member of a JSON document, as a new reference; and the hash of the rest. */
static enum tailvolt_status find_object(const char *text, size_t length, json_t **out, char sha256[TV_SHA256_HEX], char *error) {
  static const char begin[] = "<script type=\"application/json\" id=\"made-from\">", end[] = "</script>";
  size_t mark = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0, blank = strspn(text + mark, " \t\r\n");
  const char *start = text + mark + blank;
  char problem[TAILVOLT_TEXT_MAX];
  if (*start == '<') {
    const char *from = strstr(start, begin), *to = from != NULL ? strstr(from, end) : NULL;
    if (from == NULL) return refuse(error, "is no report of tailvolt: it does not say what it was made from, or is cut short");
    if (to == NULL) return refuse(error, "is cut short: what it was made from does not end");
    if (strstr(to, begin) != NULL) return refuse(error, "says twice what it was made from: not as tailvolt wrote it");
    tv_made_page_hash(start, (size_t)(from - start), sha256);
    from += strlen(begin);
    *out = tv_json_read(from, (size_t)(to - from), problem);
    return *out != NULL ? TAILVOLT_OK : unreadable(problem, error);
  }
  if (*start != '{') {
    const char *report = tv_text_report_problem(start);
    return refuse(error, report != NULL ? report : "is no report of tailvolt: neither HTML nor JSON");
  }
  json_t *root = tv_json_read(start, length - mark - blank, problem);
  if (root == NULL) return unreadable(problem, error);
  *out = json_incref(json_object_get(root, "made_from"));
  bool hashed = tv_made_hash(root, sha256);
  const char *command = *out == NULL ? made_by(root) : NULL;
  json_decref(root);
  if (command != NULL) {
    snprintf(problem, sizeof problem,
             "was written by `tailvolt %s`, whose JSON does not hold what it was made from: it cannot be run again", command);
    return refuse(error, problem);
  }
  if (*out == NULL) return refuse(error, "is no report of tailvolt, or of a version that did not yet write what it was made from");
  return hashed ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static bool is_hex(const char *text, size_t digits) {
  return text != NULL && strlen(text) == digits && strspn(text, "0123456789abcdef") == digits;
}

/* A member that is a list of texts; false where it is something else. Absent = none. */
static bool each_text(const json_t *object, const char *key, struct tv_made_from *made,
                      bool (*take)(struct tv_made_from *made, const char *text)) {
  const json_t *list = json_object_get(object, key);
  if (list == NULL) return true;
  if (!json_is_array(list) || json_array_size(list) > MOST_ENTRIES) return false;
  for (size_t k = 0; k < json_array_size(list); k++) {
    const char *text = json_string_value(json_array_get(list, k));
    if (text == NULL || !take(made, text)) return false;
  }
  return true;
}

static bool take_option(struct tv_made_from *made, const char *text) {
  char name[64];
  size_t length = strncmp(text, "--", 2) == 0 ? strcspn(text + 2, "=") : 0;
  if (length == 0 || length >= sizeof name) return false;
  memcpy(name, text + 2, length);
  name[length] = '\0';
  tv_made_option(made, name, text[2 + length] == '=' ? text + 3 + length : NULL);
  return true;
}

static bool take_key(struct tv_made_from *made, const char *text) {
  tv_made_key(made, text);
  return true;
}

/* Characters of the numbers 1 to 255 as those bytes; NULL where there are others, *failed where memory ran out. */
static char *bytes_of(const char *text, size_t length, size_t *count, bool *failed) {
  char *bytes = malloc(length + 1);
  *count = 0;
  *failed = bytes == NULL;
  for (size_t k = 0; bytes != NULL && k < length; k++) {
    unsigned char byte = (unsigned char)text[k];
    if (byte >= 0x80) {
      /* it is known to be UTF-8: two bytes up to 255 */
      if (byte > 0xc3) {
        free(bytes);
        return NULL;
      }
      byte = (unsigned char)((byte & 0x03) << 6 | ((unsigned char)text[++k] & 0x3f));
    }
    bytes[(*count)++] = (char)byte;
  }
  if (bytes != NULL) bytes[*count] = '\0';
  return bytes;
}

/* A file that is kept: its text has the length and the hash that stand beside it. */
static bool take_text(struct tv_made_from *made, const json_t *object, struct tv_made_use use, const char *name) {
  const json_t *plain = json_object_get(object, "text"), *wide = json_object_get(object, "latin1"), *one = plain != NULL ? plain : wide;
  size_t length = json_string_length(one);
  bool failed = false;
  char *decoded = NULL;
  if (!json_is_string(one) || (plain != NULL && wide != NULL)) return false;
  if (wide != NULL && (decoded = bytes_of(json_string_value(wide), length, &length, &failed)) == NULL) {
    made->failed = made->failed || failed;
    return failed;
  }
  int before = made->file_count;
  tv_made_text(made, use, name, NULL, decoded != NULL ? decoded : json_string_value(plain), length);
  free(decoded);
  if (made->failed) return true;
  if (made->file_count == before) return false; /* twice */
  const struct tv_made_file *file = &made->files[before];
  return file->text != NULL && strcmp(file->sha256, tv_json_text_of(object, "sha256")) == 0 &&
         json_integer_value(json_object_get(object, "bytes")) == (json_int_t)length;
}

static bool take_file(struct tv_made_from *made, const json_t *object) {
  const char *called = json_string_value(json_object_get(object, "use")), *name = json_string_value(json_object_get(object, "name"));
  const json_t *bytes = json_object_get(object, "bytes"), *hash = json_object_get(object, "sha256");
  struct tv_made_use use;
  if (called == NULL || name == NULL || name[0] == '\0' || !tv_made_use_read(called, &use)) return false;
  if (json_object_get(object, "text") != NULL || json_object_get(object, "latin1") != NULL) return take_text(made, object, use, name);
  bool known = json_is_integer(bytes) && json_integer_value(bytes) >= 0 && is_hex(json_string_value(hash), 64);
  if (!known && !(json_is_null(bytes) && json_is_null(hash))) return false;
  int before = made->file_count;
  made->paths_only = true;
  tv_made_text(made, use, name, NULL, "", 0);
  made->paths_only = false;
  if (made->failed) return true;
  if (made->file_count == before) return false;
  if (known) made->files[before].bytes = (unsigned long long)json_integer_value(bytes);
  if (known) memcpy(made->files[before].sha256, json_string_value(hash), TV_SHA256_HEX);
  return true;
}

static bool take_all(struct tv_made_from *made, const json_t *object) {
  const json_t *files = json_object_get(object, "files"), *hashes = json_object_get(object, "state_hashes");
  const char *version = json_string_value(json_object_get(object, "tailvolt")),
             *command = json_string_value(json_object_get(object, "command"));
  if (version == NULL || strlen(version) >= sizeof made->version || command == NULL || strlen(command) >= sizeof made->command)
    return false;
  tv_copy_text(made->version, sizeof made->version, version);
  tv_copy_text(made->command, sizeof made->command, command);
  if (!each_text(object, "options", made, take_option) || !each_text(object, "keys", made, take_key)) return false;
  if (!json_is_array(files) || json_array_size(files) > MOST_ENTRIES) return false;
  for (size_t k = 0; k < json_array_size(files); k++)
    if (!take_file(made, json_array_get(files, k))) return false;
  if (hashes == NULL) return true;
  if (!json_is_array(hashes) || json_array_size(hashes) > MOST_ENTRIES) return false;
  made->state_hashes = calloc(json_array_size(hashes) + 1, sizeof *made->state_hashes);
  if (made->state_hashes == NULL) {
    made->failed = true;
    return true;
  }
  for (size_t k = 0; k < json_array_size(hashes); k++) {
    const char *text = json_string_value(json_array_get(hashes, k));
    if (!is_hex(text, 16)) return false;
    tv_copy_text(made->state_hashes[made->run_count++], sizeof *made->state_hashes, text);
  }
  return true;
}

enum tailvolt_status tv_made_read(const char *text, size_t length, struct tv_made_from *made, char *error) {
  json_t *object = NULL;
  char sha256[TV_SHA256_HEX], rest[TV_SHA256_HEX];
  *made = (struct tv_made_from){0};
  error[0] = '\0';
  enum tailvolt_status status = find_object(text, length, &object, rest, error);
  if (status != TAILVOLT_OK) {
    json_decref(object);
    return status;
  }
  if (!json_is_object(object)) status = refuse(error, "does not say what it was made from: not as tailvolt wrote it");
  else if (!tv_made_hash(object, sha256)) status = TAILVOLT_NO_MEMORY;
  else if (strcmp(tv_json_text_of(object, "sha256"), sha256) != 0)
    status = refuse(error, "was changed after it was made: what it was made from does not have the SHA-256 that stands there");
  else if (!take_all(made, object) && !made->failed)
    status = refuse(error, "says in a form that is not known here what it was made from");
  else if (made->failed) status = TAILVOLT_NO_MEMORY;
  else made->report_changed = strcmp(tv_json_text_of(object, "report_sha256"), rest) != 0;
  json_decref(object);
  return status;
}
