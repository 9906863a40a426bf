/* tailvolt live: the page for a browser with a job in it. The page itself is built separately (.ci/build
 * page). */
#define _POSIX_C_SOURCE 200809L

#include <errno.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "report/json_write.h"
#include "tailvolt/remedy.h"
#include "tailvolt/simulate.h"
#include "text/buffer.h"
#include "text/text.h"

/* Where a job goes in the page. */
static const char place[] = "id=\"job\">null</script>";
static const char place_begins[] = "id=\"job\">";

struct job {
  char *page;                   /* all of it */
  char *text, *profile;         /* of the files; profile NULL = none */
  struct tailvolt_setting *settings;
  int setting_count;
  struct tailvolt_system *system;
};

static int no_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

/* The name that the page shows: the folder is nobody's business there. */
static const char *last_name(const char *path) {
  const char *slash = strrchr(path, '/');
  return strcmp(path, "-") == 0 ? "system.ini" : slash != NULL ? slash + 1 : path;
}

/* A file whole, a zero behind it, of *length bytes (may be NULL); NULL with errno set. */
static char *read_whole(const char *path, size_t *length) {
  struct tv_buffer buffer = {0};
  char block[65536], *out = NULL;
  FILE *file = fopen(path, "rb");
  if (file == NULL) return NULL;
  size_t got;
  tv_buffer_add(&buffer, "");
  while ((got = fread(block, 1, sizeof block, file)) > 0) tv_buffer_add_bytes(&buffer, block, got);
  bool bad = ferror(file) != 0;
  fclose(file);
  if (length != NULL) *length = buffer.length;
  if (tv_buffer_finish(&buffer, &out) != TAILVOLT_OK) {
    errno = ENOMEM;
    return NULL;
  }
  if (!bad) return out;
  tailvolt_report_free(out);
  errno = EIO;
  return NULL;
}

/* Beside the command (as built), in the share folder beside it (as installed), or where it was to be installed. */
static char *find_page(void) {
  static const char *const beside[] = {"tailvolt.html", "../share/tailvolt/tailvolt.html"};
  char path[4096 + 64];
  ssize_t length = readlink("/proc/self/exe", path, 4096);
  for (size_t k = 0; length > 0 && k < sizeof beside / sizeof beside[0]; k++) {
    path[length] = '\0';
    char *slash = strrchr(path, '/');
    if (slash == NULL) break;
    snprintf(slash + 1, sizeof path - (size_t)(slash + 1 - path), "%s", beside[k]);
    char *page = read_whole(path, NULL);
    if (page != NULL || errno == ENOMEM) return page;
    length = readlink("/proc/self/exe", path, 4096);
  }
  return read_whole(TAILVOLT_DATA_DIR "/tailvolt.html", NULL);
}

static int load_page(const struct tv_invocation *invocation, struct job *job) {
  const char *path = tv_value(invocation, "page");
  job->page = path != NULL ? read_whole(path, NULL) : find_page();
  if (job->page == NULL && errno == ENOMEM) return no_memory();
  if (job->page == NULL && path != NULL) {
    tv_error("%s: %s", path, strerror(errno));
    return TV_EXIT_INPUT;
  }
  if (job->page == NULL) {
    tv_error("the page is not here: `.ci/build page` in the source folder makes build/tailvolt.html; give it with --page FILE");
    return TV_EXIT_NOT_COMPUTED;
  }
  if (strstr(job->page, place) != NULL) return TV_EXIT_DONE;
  tv_error("%s: is not a page of this program, or already holds a job", path != NULL ? path : "tailvolt.html");
  return TV_EXIT_INPUT;
}

static int faulty(const char *path, enum tailvolt_status status, const struct tailvolt_faults *faults) {
  if (status == TAILVOLT_OK) return TV_EXIT_DONE;
  if (faults->count > 0) tv_print_faults(faults);
  else tv_error("%s: %s", path, tailvolt_status_text(status));
  return tv_exit_code(status);
}

static int load_system(const struct tv_invocation *invocation, struct job *job, struct tailvolt_faults *faults) {
  const char *path = invocation->operands[0];
  int code = tv_load_system_text(invocation, path, &job->text, &job->settings, &job->setting_count, &job->system);
  return code == TV_EXIT_DONE ? faulty(path, tailvolt_check(job->system, faults), faults) : code;
}

static int load_profile(const struct tv_invocation *invocation, struct job *job, struct tailvolt_faults *faults) {
  if (invocation->operand_count < 2) return TV_EXIT_DONE;
  const char *path = invocation->operands[1];
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tailvolt_system_text(path, &job->profile, error);
  if (status != TAILVOLT_OK) {
    tv_error("%s: %s", path, error);
    return tv_exit_code(status);
  }
  struct tailvolt_profile *profile = NULL;
  status = tailvolt_profile_parse(job->profile, path, job->system, &profile, faults);
  tailvolt_profile_free(profile);
  return faulty(path, status, faults);
}

/* Envelopes and styles go along, named as the page will look for them; a recording must be given to the page. */
static int add_files(const struct tv_invocation *invocation, const struct job *job, json_t **files) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *there = NULL;
  int code = faults != NULL ? TV_EXIT_DONE : no_memory();
  if (code == TV_EXIT_DONE &&
      tailvolt_system_parse(job->text, last_name(invocation->operands[0]), job->settings, job->setting_count, &there, faults) !=
          TAILVOLT_OK)
    code = no_memory();
  for (int k = 0; code == TV_EXIT_DONE; k++) {
    char *from = NULL, *name = NULL;
    if (tailvolt_system_input(job->system, k, &from) != TAILVOLT_OK || tailvolt_system_input(there, k, &name) != TAILVOLT_OK)
      code = no_memory();
    bool more = code == TV_EXIT_DONE && from != NULL && name != NULL;
    size_t length = 0;
    char *content = more ? read_whole(from, &length) : NULL;
    if (more && content == NULL && errno == ENOMEM) code = no_memory();
    if (content != NULL && strlen(content) == length && tv_is_utf8(content)) {
      json_t *text = json_string(content);
      tv_json_append(files, text != NULL ? json_pack("[so]", name, text) : NULL);
    } else if (content != NULL) {
      tv_warning(invocation->quiet, "%s is not taken along: give it to the page, under \"Your own song\"", from);
    }
    tailvolt_report_free(content);
    tailvolt_system_text_free(from);
    tailvolt_system_text_free(name);
    if (!more) break;
  }
  tailvolt_system_free(there);
  free(faults);
  return code;
}

/* As JSON between the page's tags: nothing in it may end them. */
static void add_data(struct tv_buffer *to, const json_t *data) {
  char *text = tv_json_compact(data, JSON_ENSURE_ASCII);
  if (text == NULL) to->failed = true;
  for (const char *at = text; at != NULL && *at != '\0';) {
    size_t plain = strcspn(at, "<");
    tv_buffer_add_bytes(to, at, plain);
    at += plain;
    if (*at == '<') {
      tv_buffer_add(to, "\\u003c");
      at++;
    }
  }
  free(text);
}

static int write_page(const struct tv_invocation *invocation, struct job *job) {
  const struct tailvolt_remedy_set nothing = {0};
  struct tv_buffer page = {0};
  char *text = NULL, *whole = NULL;
  json_t *data = json_object(), *files = json_array();
  int code = add_files(invocation, job, &files);
  if (code == TV_EXIT_DONE &&
      tailvolt_remedy_write(job->text, job->settings, job->setting_count, &nothing, &text) != TAILVOLT_OK)
    code = no_memory();
  if (code == TV_EXIT_DONE) {
    tv_json_put_text(&data, "text", text);
    tv_json_put_text(&data, "name", last_name(invocation->operands[0]));
    tv_json_put(&data, "profile", job->profile != NULL ? tv_json_text(job->profile) : json_null());
    tv_json_put_text(&data, "profileName", job->profile != NULL ? last_name(invocation->operands[1]) : "");
    tv_json_put(&data, "files", json_incref(files));
    char *at = strstr(job->page, place);
    tv_buffer_add_bytes(&page, job->page, (size_t)(at - job->page) + strlen(place_begins));
    if (data == NULL) page.failed = true;
    else add_data(&page, data);
    tv_buffer_add(&page, at + strlen(place_begins) + strlen("null"));
    code = tv_buffer_finish(&page, &whole) == TAILVOLT_OK ? tv_output_text(invocation, whole) : no_memory();
  }
  tailvolt_report_free(whole);
  tailvolt_report_free(text);
  json_decref(files);
  json_decref(data);
  return code;
}

static int tv_command_live(struct tv_invocation *invocation) {
  struct job job = {0};
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return no_memory();
  int code = load_system(invocation, &job, faults);
  if (code == TV_EXIT_DONE) code = load_profile(invocation, &job, faults);
  if (code == TV_EXIT_DONE) code = load_page(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_page(invocation, &job);
  tailvolt_system_free(job.system);
  tailvolt_system_text_free(job.text);
  tailvolt_system_text_free(job.profile);
  tailvolt_report_free(job.page);
  free(job.settings);
  free(faults);
  return code;
}

static const struct tv_option options[] = {
    {"page", 0, "FILE.html", false, TV_OWN, "the page to put the job into; default: the one beside the command, or installed with it"}};

static const struct tv_example examples[] = {
    {"tailvolt live examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv -o van-live.html",
     "the van, to be opened in a browser, changed and listened to"},
    {"tailvolt live examples/reference/ten-line.ini --set \"cable feed.size = 4 AWG\" -o job.html",
     "without a profile: idle in the rain, and on the road"}};

const struct tv_command tv_live_command = {
    .name = "live",
    .operands = "SYSTEM [PROFILE]",
    .summary = "the page for a browser with this job in it, where every value can be moved",
    .description =
        "Writes one HTML file that holds the whole program and this job: to send to a customer, or to open in class. In a "
        "browser, on a phone too, every value can be moved while the answer stands beside it; it plays your own song, "
        "compares, searches for a remedy, and lets you take files and reports away. It needs no server and no network, and what is "
        "typed into it stays in it.\n\n"
        "Settings by --set are written into the system file that goes along; envelopes and styles that it names go along "
        "too. The page itself is built by `.ci/build page`, which needs clang's WebAssembly tools.",
    .least_operands = 1,
    .most_operands = 2,
    .groups = TV_OUTPUT | TV_SYSTEM,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_live};
