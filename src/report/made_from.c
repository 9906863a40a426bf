#include "report/made_from.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "report/json_read.h"
#include "report/json_write.h"
#include "report/page.h"
#include "tailvolt/version.h"
#include "text/text.h"

void tv_made_free(struct tv_made_from *made) {
  for (int k = 0; k < made->option_count; k++) free(made->options[k]);
  for (int k = 0; k < made->key_count; k++) free(made->keys[k]);
  for (int k = 0; k < made->file_count; k++) {
    free(made->files[k].name);
    free(made->files[k].path);
    free(made->files[k].text);
  }
  free(made->options);
  free(made->keys);
  free(made->files);
  free(made->state_hashes);
  *made = (struct tv_made_from){0};
}

/* Room for one more; false where memory ran out. */
static bool make_room(struct tv_made_from *made, void **list, int count, int *room, size_t size) {
  if (count < *room) return true;
  int wider = *room == 0 ? 8 : 2 * *room;
  void *more = realloc(*list, (size_t)wider * size);
  if (more == NULL) {
    made->failed = true;
    return false;
  }
  *list = more;
  *room = wider;
  return true;
}

static void add_line(struct tv_made_from *made, char ***list, int *count, int *room, char *line) {
  void *lines = *list;
  if (line == NULL) made->failed = true;
  if (line == NULL || !make_room(made, &lines, *count, room, sizeof **list)) {
    free(line);
    return;
  }
  *list = lines;
  (*list)[(*count)++] = line;
}

void tv_made_option(struct tv_made_from *made, const char *name, const char *value) {
  size_t room = strlen(name) + (value != NULL ? strlen(value) : 0) + 4;
  char *line = malloc(room);
  if (line != NULL) snprintf(line, room, "--%s%s%s", name, value != NULL ? "=" : "", value != NULL ? value : "");
  add_line(made, &made->options, &made->option_count, &made->option_room, line);
}

void tv_made_key(struct tv_made_from *made, const char *text) {
  add_line(made, &made->keys, &made->key_count, &made->key_room, strdup(text));
}

/* ---- what a file is for ---- */

static const char compared_before[] = "--compare";
static const char *const role_words[] = {"system", "profile", "--prices", "--catalogue"};

bool tv_made_key_use(const char *key, bool compared, struct tv_made_use *use) {
  static const char *const ends[] = {".recording", ".envelope", ".style"};
  const char *end = strrchr(key, '.');
  *use = (struct tv_made_use){.compared = compared};
  for (int k = 0; k < 3 && end != NULL && strlen(key) < sizeof use->key; k++) {
    if (strcmp(end, ends[k]) != 0) continue;
    use->role = (enum tv_made_role)(TV_MADE_RECORDING + k);
    tv_copy_text(use->key, sizeof use->key, key);
    return true;
  }
  return false;
}

void tv_made_use_write(const struct tv_made_use *use, char to[TV_MADE_USE_ROOM]) {
  bool system = use->role == TV_MADE_SYSTEM;
  snprintf(to, TV_MADE_USE_ROOM, "%s%s%s", use->compared ? compared_before : "", use->compared && !system ? " " : "",
           use->role >= TV_MADE_RECORDING ? use->key : use->compared && system ? "" : role_words[use->role]);
}

bool tv_made_use_read(const char *text, struct tv_made_use *use) {
  size_t before = strlen(compared_before);
  *use = (struct tv_made_use){.compared = strncmp(text, compared_before, before) == 0};
  if (use->compared && text[before] == '\0') return true; /* that system itself */
  if (use->compared) return text[before] == ' ' && tv_made_key_use(text + before + 1, true, use);
  for (size_t k = 0; k < sizeof role_words / sizeof *role_words; k++) {
    use->role = (enum tv_made_role)k;
    if (strcmp(text, role_words[k]) == 0) return true;
  }
  return tv_made_key_use(text, false, use);
}

static bool same_use(const struct tv_made_use *a, const struct tv_made_use *b) {
  return a->role == b->role && a->compared == b->compared && strcmp(a->key, b->key) == 0;
}

/* A new entry, named; NULL where memory ran out or it stands there already. */
static struct tv_made_file *add_file(struct tv_made_from *made, struct tv_made_use use, const char *name, const char *path) {
  void *files = made->files;
  for (int k = 0; k < made->file_count && use.role != TV_MADE_PROFILE; k++)
    if (same_use(&made->files[k].use, &use) && strcmp(made->files[k].name, name) == 0) return NULL;
  if (!make_room(made, &files, made->file_count, &made->file_room, sizeof *made->files)) return NULL;
  made->files = files;
  struct tv_made_file *file = &made->files[made->file_count++];
  *file = (struct tv_made_file){.use = use, .name = strdup(name), .path = path != NULL ? strdup(path) : NULL};
  if (file->name != NULL && (path == NULL || file->path != NULL)) return file;
  made->failed = true;
  free(file->name);
  free(file->path);
  made->file_count--;
  return NULL;
}

static void fill(struct tv_made_from *made, struct tv_made_file *file, const char *text, size_t length) {
  struct tv_sha256 hash;
  tv_sha256_begin(&hash);
  tv_sha256_add(&hash, text, length);
  tv_sha256_end(&hash, file->sha256);
  file->bytes = length;
  if (length > TV_MADE_KEPT || memchr(text, '\0', length) != NULL) return;
  file->text = malloc(length + 1);
  if (file->text == NULL) {
    made->failed = true;
    return;
  }
  memcpy(file->text, text, length);
  file->text[length] = '\0';
  file->length = length;
}

void tv_made_text(struct tv_made_from *made, struct tv_made_use use, const char *name, const char *path, const char *text, size_t length) {
  struct tv_made_file *file = add_file(made, use, name, path);
  if (file != NULL && !made->paths_only) fill(made, file, text, length);
}

static struct tv_made_seen seen_as(const struct stat *about) {
  static const long long in_s = 1000000000;
  return (struct tv_made_seen){.known = true,
                               .device = about->st_dev,
                               .node = about->st_ino,
                               .bytes = (unsigned long long)about->st_size,
                               .changed_ns = about->st_ctim.tv_sec * in_s + about->st_ctim.tv_nsec,
                               .written_ns = about->st_mtim.tv_sec * in_s + about->st_mtim.tv_nsec};
}

bool tv_made_is_still(const struct tv_made_file *file) {
  struct stat about;
  if (!file->seen.known) return true;
  if (stat(file->path, &about) != 0) return false;
  struct tv_made_seen now = seen_as(&about);
  return now.device == file->seen.device && now.node == file->seen.node && now.bytes == file->seen.bytes &&
         now.changed_ns == file->seen.changed_ns && now.written_ns == file->seen.written_ns;
}

void tv_made_path(struct tv_made_from *made, struct tv_made_use use, const char *name, const char *path) {
  struct tv_made_file *file = add_file(made, use, name, path);
  struct stat about;
  size_t length = 0;
  /* a pipe is not read a second time */
  if (file == NULL || made->paths_only || stat(path, &about) != 0 || !S_ISREG(about.st_mode)) return;
  file->seen = seen_as(&about);
  char *text = tv_read_file(path, TV_MADE_KEPT, &length);
  int error = text == NULL ? errno : 0;
  if (text != NULL) fill(made, file, text, length);
  if (error == EFBIG && !tv_hash_file(path, &file->bytes, file->sha256)) error = errno;
  if (error == ENOMEM) made->failed = true;
  free(text);
}

void tv_made_programmes(struct tv_made_from *made, const struct tailvolt_system *system, bool compared) {
  for (int k = 0;; k++) {
    struct tv_made_use use;
    char key[2 * TAILVOLT_NAME_MAX], *path = NULL;
    const char *name = tailvolt_system_input_key(system, k, key, sizeof key);
    if (tailvolt_system_input(system, k, &path) != TAILVOLT_OK) made->failed = true;
    if (path == NULL) return;
    if (tv_made_key_use(key, compared, &use)) tv_made_path(made, use, name, path);
    tailvolt_system_text_free(path);
  }
}

void tv_made_runs(struct tv_made_from *made, const struct tailvolt_result *const *runs, int count) {
  free(made->state_hashes);
  made->state_hashes = calloc((size_t)count + 1, sizeof *made->state_hashes);
  made->run_count = made->state_hashes != NULL ? count : 0;
  if (made->state_hashes == NULL) made->failed = true;
  for (int k = 0; k < made->run_count; k++)
    snprintf(made->state_hashes[k], sizeof made->state_hashes[k], "%016llx", runs[k]->state_hash);
}

char *tv_read_file(const char *path, size_t most, size_t *length) {
  FILE *file = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
  char *text = NULL;
  size_t room = 0, got = 1;
  int error = 0;
  *length = 0;
  if (file == NULL) return NULL;
  while (error == 0 && got > 0) {
    if (room - *length < 2) {
      size_t wider = room == 0 ? 16384 : 2 * room;
      char *more = realloc(text, wider);
      if (more == NULL) {
        error = ENOMEM;
        break;
      }
      text = more;
      room = wider;
    }
    got = fread(text + *length, 1, room - 1 - *length, file);
    *length += got;
    if (got == 0 && ferror(file)) error = errno != 0 ? errno : EIO;
    if (*length > most) error = EFBIG;
  }
  if (file != stdin) fclose(file);
  if (error != 0) {
    free(text);
    errno = error;
    return NULL;
  }
  text[*length] = '\0';
  return text;
}

bool tv_hash_file(const char *path, unsigned long long *bytes, char sha256[TV_SHA256_HEX]) {
  struct tv_sha256 hash;
  struct stat about;
  unsigned char block[16384];
  size_t got;
  sha256[0] = '\0';
  FILE *file = stat(path, &about) == 0 && S_ISREG(about.st_mode) ? fopen(path, "rb") : NULL;
  if (file == NULL) return false;
  tv_sha256_begin(&hash);
  while ((got = fread(block, 1, sizeof block, file)) > 0) tv_sha256_add(&hash, block, got);
  int error = ferror(file) ? (errno != 0 ? errno : EIO) : 0;
  fclose(file);
  *bytes = hash.bytes;
  if (error == 0) tv_sha256_end(&hash, sha256);
  errno = error;
  return error == 0;
}

/* Bytes that are no UTF-8 as the characters of those numbers. */
static json_t *latin1(const char *text, size_t length) {
  char *wide = malloc(2 * length + 1), *at = wide;
  if (wide == NULL) return NULL;
  for (size_t k = 0; k < length; k++) {
    unsigned char byte = (unsigned char)text[k];
    if (byte >= 0x80) *at++ = (char)(0xc0 | byte >> 6);
    *at++ = byte >= 0x80 ? (char)(0x80 | (byte & 0x3f)) : (char)byte;
  }
  json_t *string = json_stringn(wide, (size_t)(at - wide));
  free(wide);
  return string;
}

static json_t *file_object(const struct tv_made_file *file) {
  json_t *object = json_object();
  bool known = file->sha256[0] != '\0';
  char use[TV_MADE_USE_ROOM];
  tv_made_use_write(&file->use, use);
  tv_json_put_text(&object, "use", use);
  tv_json_put_text(&object, "name", file->name);
  tv_json_put(&object, "bytes", known ? json_integer((json_int_t)file->bytes) : json_null());
  tv_json_put(&object, "sha256", known ? json_string(file->sha256) : json_null());
  if (file->text == NULL) return object;
  if (tv_is_utf8(file->text)) tv_json_put(&object, "text", json_stringn(file->text, file->length));
  else tv_json_put(&object, "latin1", latin1(file->text, file->length));
  return object;
}

static int hash_piece(const char *bytes, size_t count, void *hash) {
  tv_sha256_add(hash, bytes, count);
  return 0;
}

bool tv_made_hash(const json_t *object, char sha256[TV_SHA256_HEX]) {
  /* the one level that differs is copied, the rest is shared */
  json_t *bare = json_copy((json_t *)object);
  struct tv_sha256 hash;
  bool sound = false;
  tv_sha256_begin(&hash);
  /* where memory runs out the copy is short */
  if (bare != NULL && json_object_size(bare) == json_object_size(object)) {
    json_object_del(bare, "sha256");
    json_object_del(bare, "report_sha256");
    json_object_del(bare, "made_from");
    sound = json_dump_callback(bare, hash_piece, &hash, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_SORT_KEYS) == 0;
  }
  json_decref(bare);
  tv_sha256_end(&hash, sha256);
  return sound;
}

void tv_made_page_hash(const char *page, size_t length, char sha256[TV_SHA256_HEX]) {
  struct tv_sha256 hash;
  tv_sha256_begin(&hash);
  for (size_t at = 0; at < length;) {
    const char *end = memchr(page + at, '\r', length - at);
    size_t plain = end != NULL ? (size_t)(end - page) - at : length - at;
    tv_sha256_add(&hash, page + at, plain);
    at += plain + (end != NULL);
  }
  tv_sha256_end(&hash, sha256);
}

static json_t *text_list(char *const *lines, int count) {
  json_t *list = json_array();
  for (int k = 0; k < count; k++) tv_json_append(&list, tv_json_text(lines[k]));
  return list;
}

json_t *tv_made_json(const struct tv_made_from *made) {
  json_t *root = made->failed ? NULL : json_object(), *files = json_array(), *hashes = json_array();
  char sha256[TV_SHA256_HEX];
  for (int k = 0; k < made->file_count; k++) tv_json_append(&files, file_object(&made->files[k]));
  for (int k = 0; k < made->run_count; k++) tv_json_append(&hashes, json_string(made->state_hashes[k]));
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put_text(&root, "command", made->command);
  tv_json_put(&root, "options", text_list(made->options, made->option_count));
  if (made->key_count > 0) tv_json_put(&root, "keys", text_list(made->keys, made->key_count));
  tv_json_put(&root, "files", files);
  if (made->run_count > 0) tv_json_put(&root, "state_hashes", hashes);
  else json_decref(hashes);
  if (root != NULL && tv_made_hash(root, sha256)) {
    tv_json_put_text(&root, "sha256", sha256);
  } else {
    json_decref(root);
    root = NULL;
  }
  return root;
}

enum tailvolt_status tv_made_into_json(const struct tv_made_from *made, char **text) {
  static const char end[] = "\n}\n";
  struct tv_buffer buffer = {0};
  char sha256[TV_SHA256_HEX] = "";
  size_t length = strlen(*text), tail = strlen(end);
  char problem[TAILVOLT_TEXT_MAX];
  json_t *object = tv_made_json(made), *report = object != NULL ? tv_json_read(*text, length, problem) : NULL;
  if (report != NULL && tv_made_hash(report, sha256)) {
    tv_json_put_text(&object, "report_sha256", sha256);
  } else {
    json_decref(object);
    object = NULL;
  }
  json_decref(report);
  if (length <= tail || strcmp(*text + length - tail, end) != 0) {
    json_decref(object);
    free(*text);
    *text = NULL;
    return TAILVOLT_INTERNAL;
  }
  tv_buffer_add_bytes(&buffer, *text, length - tail);
  tv_buffer_add(&buffer, ",\n  \"made_from\": ");
  tv_json_write_member(object, &buffer);
  tv_buffer_add(&buffer, end);
  json_decref(object);
  free(*text);
  return tv_buffer_finish(&buffer, text);
}

/* An option as it is typed. */
static void add_option(struct tv_buffer *to, const char *option) {
  const char *equals = strchr(option, '=');
  bool quoted = equals != NULL && strpbrk(equals, " \"'$`\\;&|<>()*?[]#~!") != NULL;
  tv_buffer_add(to, " ");
  if (!quoted) {
    tv_buffer_add(to, option);
    return;
  }
  tv_buffer_add_bytes(to, option, (size_t)(equals - option));
  tv_buffer_add(to, " \"");
  tv_buffer_add(to, equals + 1);
  tv_buffer_add(to, "\"");
}

/* What was asked for, as it is typed after the file names. */
static void add_asked(struct tv_buffer *to, const struct tv_made_from *made) {
  tv_buffer_add(to, made->command);
  for (int k = 0; k < made->key_count; k++) {
    tv_buffer_add(to, " \"");
    tv_buffer_add(to, made->keys[k]);
    tv_buffer_add(to, "\"");
  }
  for (int k = 0; k < made->option_count; k++) add_option(to, made->options[k]);
}

enum tailvolt_status tv_made_into_text(const struct tv_made_from *made, const struct tailvolt_report_style *style, size_t columns,
                                       bool labelled, char **text) {
  struct tv_page page = {.columns = columns};
  struct tv_buffer line = {0};
  char *words = NULL;
  json_t *object = tv_made_json(made);
  const char *sha256 = tv_json_text_of(object, "sha256");
  if (style != NULL) page.style = *style;
  if (object == NULL) line.failed = true;
  tv_buffer_add(&line, TV_MADE_BY_WHOM TAILVOLT_VERSION ", job ");
  tv_buffer_add_bytes(&line, sha256, strnlen(sha256, TV_MADE_SHORT));
  tv_buffer_add(&line, ": ");
  add_asked(&line, made);
  for (int k = 0; k < made->file_count; k++) {
    const struct tv_made_file *file = &made->files[k];
    const char *slash = strrchr(file->name, '/');
    tv_buffer_add(&line, k == 0 ? "; " : ", ");
    tv_buffer_add(&line, slash != NULL ? slash + 1 : file->name);
    tv_buffer_add(&line, file->sha256[0] != '\0' ? " " : " (hash not known)");
    tv_buffer_add_bytes(&line, file->sha256, strnlen(file->sha256, TV_MADE_SHORT));
  }
  json_decref(object);
  tv_buffer_add(&page.text, *text);
  if (!labelled) tv_page_newline(&page);
  if (tv_buffer_finish(&line, &words) != TAILVOLT_OK) page.text.failed = true;
  else tv_page_wrapped(&page, TV_MADE_BY, words);
  free(words);
  free(*text);
  return tv_buffer_finish(&page.text, text);
}

char *tv_made_understood(const struct tv_made_from *made, const char *report, const struct tailvolt_report_style *style) {
  struct tv_page page = {.style = *style};
  struct tv_buffer line = {0};
  char *words = NULL, *text = NULL;
  tv_page_line(&page, "%s: a report by tailvolt %s, unchanged since it was written", report, made->version);
  add_asked(&line, made);
  if (tv_buffer_finish(&line, &words) != TAILVOLT_OK) page.text.failed = true;
  else tv_page_wrapped(&page, "  asked for  ", words);
  free(words);
  for (int k = 0; k < made->file_count; k++) {
    const struct tv_made_file *file = &made->files[k];
    bool held = file->path == NULL && file->length <= TV_MADE_KEPT;
    char use[TV_MADE_USE_ROOM];
    tv_made_use_write(&file->use, use);
    tv_page_line(&page, "  %s: %s, %llu bytes, %s", use, file->name, file->bytes, held ? "held in the report" : "found, the same");
  }
  tv_page_line(&page, "  to run it again: tailvolt %s --from %s", made->command, report);
  return tv_buffer_finish(&page.text, &text) == TAILVOLT_OK ? text : NULL;
}
