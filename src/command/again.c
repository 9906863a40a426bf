#define _XOPEN_SOURCE 700

#include "command/again.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command/messages.h"
#include "command/output.h"
#include "command/options.h"
#include "tailvolt/version.h"
#include "text/text.h"
#include "text/unfit.h"

enum { REPORT_MOST = 256 << 20, PATH_ROOM = TV_AGAIN_PATH };

static int no_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

/* Files that the library reads by name: they are put into a folder. */
static bool is_read_by_name(const struct tv_invocation *invocation, const struct tv_made_file *file) {
  bool all = (invocation->command->groups & TV_KEYS) != 0;
  return file->use.role >= TV_MADE_PRICES || (all && !file->use.compared);
}

static bool is_of_a_key(const struct tv_made_file *file) { return file->use.role >= TV_MADE_RECORDING; }

/* `name` as a file beside `other`; false where it is too long. */
static bool beside(char path[PATH_ROOM], const char *other, const char *name) {
  const char *slash = strrchr(other, '/');
  int folder = name[0] != '/' && slash != NULL ? (int)(slash - other) + 1 : 0;
  return snprintf(path, PATH_ROOM, "%.*s%s", folder, other, name) < PATH_ROOM;
}

static const char *last_name(const char *name) {
  const char *slash = strrchr(name, '/');
  return slash != NULL ? slash + 1 : name;
}

/* The file that names it: programmes are named by a system, the rest by the command. */
static const char *named_by(const struct tv_made_from *from, const struct tv_made_file *file) {
  for (int k = 0; is_of_a_key(file) && k < from->file_count; k++)
    if (from->files[k].use.role == TV_MADE_SYSTEM && from->files[k].use.compared == file->use.compared) return from->files[k].name;
  return "";
}

/* Whether this is the file; *seen where there is one at all. Clears errno unless memory ran out. */
static bool is_it(const char *path, const struct tv_made_file *file, bool *seen) {
  char sha256[TV_SHA256_HEX] = "";
  unsigned long long bytes = 0;
  struct stat about;
  errno = 0;
  if (stat(path, &about) == 0 && S_ISREG(about.st_mode)) {
    *seen = true;
    /* the length first: it costs nothing */
    if ((unsigned long long)about.st_size == file->bytes) (void)tv_hash_file(path, &bytes, sha256);
  }
  if (errno != ENOMEM) errno = 0;
  return bytes == file->bytes && strcmp(sha256, file->sha256) == 0;
}

bool tv_again_place(const struct tv_again *again, int file, int place, char path[TV_AGAIN_PATH]) {
  const struct tv_made_file *of = &again->from.files[file];
  const char *from[] = {again->report, again->report, named_by(&again->from, of)}, *names[] = {of->name, last_name(of->name), of->name};
  if (place >= 3) return false;
  if (!beside(path, from[place], names[place])) path[0] = '\0';
  return true;
}

/* A file that is only named: beside the report, then where its name leads. */
static int find_file(struct tv_again *again, struct tv_made_file *file) {
  char path[PATH_ROOM];
  bool seen = false, found = false;
  const char *report = again->report, *name = file->name;
  if (file->sha256[0] == '\0') {
    tv_error("%s: does not say what %s held: it was a pipe, or decoded by a browser", report, name);
    return TV_EXIT_INPUT;
  }
  for (int k = 0; !found && tv_again_place(again, (int)(file - again->from.files), k, path); k++) {
    found = path[0] != '\0' && is_it(path, file, &seen);
    if (errno == ENOMEM) return no_memory();
  }
  if (!found) {
    tv_error(seen ? "%s: %s is another file than the one it was made from (its length or SHA-256 differs)"
                  : "%s: %s is needed and not there: put it beside the report", report, name);
    return TV_EXIT_INPUT;
  }
  if (file->use.role >= TV_MADE_PRICES) {
    file->path = strdup(path);
    return file->path != NULL ? TV_EXIT_DONE : no_memory();
  }
  file->text = tv_read_file(path, SIZE_MAX, &file->length);
  if (file->text == NULL && errno == ENOMEM) return no_memory();
  if (file->text == NULL) tv_error("%s: %s", path, strerror(errno));
  return file->text != NULL ? TV_EXIT_DONE : TV_EXIT_INPUT;
}

int tv_again_read(const char *report, bool quiet, struct tv_again *again) {
  char error[TAILVOLT_TEXT_MAX] = "";
  size_t length = 0;
  *again = (struct tv_again){.report = report};
  const char *unfit = tv_unfit(report, false);
  if (unfit != NULL) {
    tv_error("%s: %s", report, unfit);
    return TV_EXIT_INPUT;
  }
  char *text = tv_read_file(report, REPORT_MOST, &length);
  if (text == NULL && errno == ENOMEM) return no_memory();
  if (text == NULL) {
    tv_error("%s: cannot be read: %s", report, errno == EFBIG ? "longer than any report" : strerror(errno));
    return TV_EXIT_INPUT;
  }
  enum tailvolt_status status = tv_made_read(text, length, &again->from, error);
  free(text);
  if (status == TAILVOLT_NO_MEMORY) return no_memory();
  if (status != TAILVOLT_OK) {
    tv_error("%s: %s", report, error);
    return TV_EXIT_INPUT;
  }
  int systems = 0;
  for (int k = 0; k < again->from.file_count; k++)
    systems += again->from.files[k].use.role == TV_MADE_SYSTEM && !again->from.files[k].use.compared;
  if (systems != 1) {
    tv_error("%s: holds %s system file", report, systems == 0 ? "no" : "more than one");
    return TV_EXIT_INPUT;
  }
  if (strcmp(again->from.version, TAILVOLT_VERSION) != 0)
    tv_warning(quiet, "%s: was made by tailvolt %s, this is %s: the figures may differ", report, again->from.version, TAILVOLT_VERSION);
  if (again->from.report_changed)
    tv_warning(quiet, "%s: was changed after it was made, all but what it was made from: it may say anything", report);
  int code = TV_EXIT_DONE;
  for (int k = 0; k < again->from.file_count; k++)
    if (again->from.files[k].text == NULL) {
      int each = find_file(again, &again->from.files[k]);
      if (each > code) code = each;
    }
  return code;
}

/* ---- files that are read by name ---- */

static int make_folder(struct tv_again *again) {
  const char *wanted = getenv("TMPDIR");
  if (again->folder != NULL) return TV_EXIT_DONE;
  if (wanted == NULL || wanted[0] == '\0') wanted = "/tmp";
  /* a file in it is named by another in it */
  char *among = realpath(wanted, NULL);
  if (among == NULL) return tv_cannot_write(wanted, errno);
  size_t room = strlen(among) + sizeof "/tailvolt-XXXXXX";
  if ((again->folder = malloc(room)) != NULL) snprintf(again->folder, room, "%s/tailvolt-XXXXXX", among);
  free(among);
  if (again->folder == NULL) return no_memory();
  tv_temporary_watch(again->folder);
  if (mkdtemp(again->folder) != NULL) return TV_EXIT_DONE;
  int code = tv_cannot_write(again->folder, errno);
  tv_temporary_unwatch(again->folder);
  free(again->folder);
  again->folder = NULL;
  return code;
}

/* Its path in the folder: a name that any setting takes. */
static bool place_of(const struct tv_again *again, int index, char path[PATH_ROOM]) {
  /* a style is known as a file by its ending */
  bool style = again->from.files[index].use.role == TV_MADE_STYLE;
  return snprintf(path, PATH_ROOM, "%s/%d%s", again->folder, index, style ? ".ini" : "") < PATH_ROOM;
}

static int put_file(struct tv_again *again, int index) {
  struct tv_made_file *file = &again->from.files[index];
  char path[PATH_ROOM];
  int code = make_folder(again);
  if (code != TV_EXIT_DONE) return code;
  if (!place_of(again, index, path)) return no_memory();
  char *before = file->path, *there = file->text == NULL ? realpath(before, NULL) : NULL;
  int error = file->text == NULL && there == NULL ? errno : 0;
  if ((file->path = strdup(path)) == NULL) {
    free(there);
    free(before);
    return no_memory();
  }
  tv_temporary_watch(file->path);
  if (file->text != NULL) {
    FILE *to = fopen(path, "wbx");
    bool sound = to != NULL && fwrite(file->text, 1, file->length, to) == file->length;
    if (to != NULL) sound = fclose(to) == 0 && sound;
    if (!sound) error = errno;
  } else if (error == 0 && symlink(there, path) != 0) {
    error = errno;
  }
  free(there);
  free(before);
  if (error != 0) return tv_cannot_write(path, error);
  if (!is_of_a_key(file)) return TV_EXIT_DONE;
  size_t room = strlen(file->use.key) + strlen(path) + 8;
  if ((again->settings[index] = malloc(room)) == NULL) return no_memory();
  snprintf(again->settings[index], room, "%s = %s", file->use.key, path);
  return TV_EXIT_DONE;
}

/* ---- options ---- */

/* An option of the report that the command line does not give otherwise. */
static bool is_replaced(const struct tv_invocation *invocation, int own, const struct tv_option *option) {
  for (int k = 0; k < own && !option->repeatable; k++)
    if (invocation->given[k].option == option) return true;
  return false;
}

/* A variation and other commands have options of the same name that mean something else. */
static bool is_another(const struct tv_invocation *invocation, const struct tv_again *again, const struct tv_option *option) {
  bool keys = again->from.key_count > 0 || (invocation->command->groups & TV_KEYS) != 0;
  return keys && option->group == TV_OWN && strcmp(again->from.command, invocation->command->name) != 0;
}

/* Options whose value is a file. */
static const struct file_option {
  const char *name;
  enum tv_made_role role;
  bool compared;
} file_options[] = {{"prices", TV_MADE_PRICES, false}, {"catalogue", TV_MADE_CATALOGUE, false}, {"compare", TV_MADE_SYSTEM, true}};

/* The file of the report that is such an option's value; NULL where the report has none. */
static struct tv_made_file *file_of_option(struct tv_again *again, const struct file_option *option, const char *value) {
  for (int k = 0; k < again->from.file_count; k++) {
    struct tv_made_file *file = &again->from.files[k];
    if (file->use.role == option->role && file->use.compared == option->compared && strcmp(file->name, value) == 0) return file;
  }
  return NULL;
}

static int take_option(struct tv_invocation *invocation, struct tv_again *again, const char *line, int own, int *count) {
  const char *name = line + 2, *equals = strchr(name, '='), *value = equals != NULL ? equals + 1 : NULL;
  size_t length = strcspn(name, "=");
  const struct tv_option *option = tv_option_named(invocation->command, name, length);
  if (tv_option_is_apart(name, length)) {
    tv_error("%s: holds the option --%.*s, which no report does", again->report, (int)length, name);
    return TV_EXIT_INPUT;
  }
  /* another command's */
  if (option == NULL || is_another(invocation, again, option) || is_replaced(invocation, own, option)) return TV_EXIT_DONE;
  if ((option->argument != NULL) != (value != NULL)) {
    tv_error("%s: holds the option --%s %s a value", again->report, option->name, value != NULL ? "with" : "without");
    return TV_EXIT_INPUT;
  }
  struct tv_given_option given = {option, value, value, true};
  for (size_t k = 0; k < sizeof file_options / sizeof *file_options; k++) {
    if (strcmp(option->name, file_options[k].name) != 0) continue;
    const struct tv_made_file *file = file_of_option(again, &file_options[k], value);
    if (file == NULL) {
      tv_error("%s: does not say what --%s %s was", again->report, option->name, value);
      return TV_EXIT_INPUT;
    }
    given.said = file->name;
    given.value = file->path != NULL ? file->path : file->name;
  }
  again->given[(*count)++] = given;
  return TV_EXIT_DONE;
}

/* The report's options first: where both give one, the last counts. */
static int take_options(struct tv_invocation *invocation, struct tv_again *again) {
  int own = invocation->given_count, count = 0, code = TV_EXIT_DONE;
  again->given = calloc((size_t)(own + again->from.option_count) + 1, sizeof *again->given);
  if (again->given == NULL) return no_memory();
  for (int k = 0; k < again->from.option_count && code == TV_EXIT_DONE; k++)
    code = take_option(invocation, again, again->from.options[k], own, &count);
  for (int k = 0; k < own; k++) again->given[count++] = invocation->given[k];
  free(invocation->given);
  invocation->given = again->given;
  invocation->given_count = count;
  again->given = NULL;
  return code;
}

/* For keys given on the command line: a file that the keys of the report vary is not one that its system names. */
static int refuse_varied_files(const struct tv_again *again, const char *key) {
  size_t length = strcspn(key, "=");
  while (length > 0 && key[length - 1] == ' ') length--;
  for (int k = 0; k < again->from.file_count; k++) {
    const struct tv_made_file *file = &again->from.files[k];
    if (strlen(file->use.key) != length || strncmp(file->use.key, key, length) != 0 || strstr(key, file->name) == NULL) continue;
    tv_error("%s: varies %s, which is a file of its own: to vary other keys, give vary the files themselves", again->report, file->name);
    return TV_EXIT_INPUT;
  }
  return TV_EXIT_DONE;
}

/* Behind one system and one profile, the keys: the command line's, else the report's. */
static int take_keys(struct tv_invocation *invocation, struct tv_again *again, int *count) {
  int own = invocation->operand_count, profiles = *count - 1, code = TV_EXIT_DONE;
  if (profiles != 1) {
    tv_error("%s: was made from %s, and %s takes one", again->report, profiles == 0 ? "no profile" : "more than one profile",
             invocation->command->name);
    return TV_EXIT_INPUT;
  }
  if (own == 0 && again->from.key_count == 0) {
    tv_error("%s: varies nothing: say what to vary, \"KEY = A, B, C\"", again->report);
    return TV_EXIT_INPUT;
  }
  for (int k = 0; k < (own > 0 ? own : again->from.key_count) && code == TV_EXIT_DONE; k++) {
    again->operands[(*count)++] = own > 0 ? invocation->operands[k] : again->from.keys[k];
  }
  for (int k = 0; k < again->from.key_count && own > 0 && code == TV_EXIT_DONE; k++)
    code = refuse_varied_files(again, again->from.keys[k]);
  return code;
}

static int take_operands(struct tv_invocation *invocation, struct tv_again *again) {
  static const enum tv_made_role roles[] = {TV_MADE_SYSTEM, TV_MADE_PROFILE};
  int count = 0, code = TV_EXIT_DONE;
  size_t most = (size_t)again->from.file_count + (size_t)again->from.key_count + (size_t)invocation->operand_count;
  again->operands = calloc(most + 1, sizeof *again->operands);
  if (again->operands == NULL) return no_memory();
  for (int u = 0; u < 2; u++)
    for (int k = 0; k < again->from.file_count; k++)
      if (again->from.files[k].use.role == roles[u] && !again->from.files[k].use.compared)
        again->operands[count++] = again->from.files[k].name;
  if ((invocation->command->groups & TV_KEYS) != 0) code = take_keys(invocation, again, &count);
  if (code != TV_EXIT_DONE) return code;
  free(invocation->operands);
  invocation->operands = again->operands;
  invocation->operand_count = count;
  again->operands = NULL;
  return tv_check_operands(invocation);
}

int tv_again_begin(struct tv_invocation *invocation, struct tv_again *again) {
  const char *report = tv_report_given(invocation);
  *again = (struct tv_again){.report = report};
  if (report == NULL) return TV_EXIT_DONE;
  if (invocation->operand_count > 0 && (invocation->command->groups & TV_KEYS) == 0) {
    tv_error("--from %s brings its own files: leave out %s", report, invocation->operands[0]);
    return tv_usage_hint(invocation->command->name);
  }
  int code = tv_again_read(report, invocation->quiet, again);
  if (code != TV_EXIT_DONE) return code;
  again->settings = calloc((size_t)again->from.file_count + 1, sizeof *again->settings);
  if (again->settings == NULL) return no_memory();
  for (int k = 0; k < again->from.file_count && code == TV_EXIT_DONE; k++)
    if (is_read_by_name(invocation, &again->from.files[k])) code = put_file(again, k);
  if (code == TV_EXIT_DONE) code = take_options(invocation, again);
  if (code == TV_EXIT_DONE) code = take_operands(invocation, again);
  if (code != TV_EXIT_DONE) return code;
  if (tv_option_given(invocation, "write") && again->folder != NULL) {
    tv_error("--write cannot follow --from where the system names files of its own");
    return tv_usage_hint(invocation->command->name);
  }
  invocation->again = again;
  return TV_EXIT_DONE;
}

void tv_again_end(struct tv_again *again) {
  char path[PATH_ROOM];
  for (int k = 0; k < again->from.file_count; k++) {
    if (again->folder != NULL && place_of(again, k, path)) unlink(path);
    tv_temporary_unwatch(again->from.files[k].path);
    if (again->settings != NULL) free(again->settings[k]);
  }
  if (again->folder != NULL) rmdir(again->folder);
  tv_temporary_unwatch(again->folder);
  free(again->folder);
  free(again->settings);
  free(again->operands);
  free(again->given);
  tv_made_free(&again->from);
}

const struct tv_made_file *tv_again_named(const struct tv_invocation *invocation, const char *name) {
  const struct tv_again *again = invocation->again;
  for (int k = 0; again != NULL && k < again->from.file_count; k++)
    if (again->from.files[k].name == name) return &again->from.files[k];
  return NULL;
}

const struct tv_made_file *tv_again_value(const struct tv_invocation *invocation, const char *key, const char *value) {
  const struct tv_again *again = invocation->again;
  for (int k = 0; again != NULL && k < again->from.file_count; k++) {
    const struct tv_made_file *file = &again->from.files[k];
    if (!file->use.compared && strcmp(file->use.key, key) == 0 && strcmp(file->name, value) == 0) return file;
  }
  return NULL;
}

const char *tv_again_path(const struct tv_invocation *invocation, const char *operand) {
  const struct tv_made_file *file = tv_again_named(invocation, operand);
  return file != NULL && file->path != NULL ? file->path : operand;
}

const struct tv_made_file *tv_again_at(const struct tv_invocation *invocation, const char *path) {
  const struct tv_again *again = invocation->again;
  for (int k = 0; again != NULL && k < again->from.file_count; k++)
    if (again->from.files[k].path != NULL && strcmp(again->from.files[k].path, path) == 0) return &again->from.files[k];
  return NULL;
}
