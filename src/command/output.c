/* realpath() is an X/Open function */
#define _XOPEN_SOURCE 700

#include "command/output.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command/again.h"
#include "command/messages.h"
#include "command/options.h"
#include "report/made_from.h"

/* Temporaries of this process, as a signal handler may read them: a signal that no run answers ends the process, and leaves none. */
enum { TEMPORARIES_MOST = 256 };
static const char *volatile temporaries[TEMPORARIES_MOST];

static void drop_temporaries(int signal) {
  for (int k = 0; k < TEMPORARIES_MOST; k++)
    if (temporaries[k] != NULL && unlink(temporaries[k]) == 0) temporaries[k] = NULL;
  for (int k = 0; k < TEMPORARIES_MOST; k++) /* folders, empty by now */
    if (temporaries[k] != NULL) rmdir(temporaries[k]);
  raise(signal); /* by now with its usual effect */
}

void tv_temporary_watch(const char *path) {
  static const int ends[] = {SIGINT, SIGTERM, SIGHUP, SIGPIPE};
  int k = 0;
  while (k < TEMPORARIES_MOST && temporaries[k] != NULL) k++;
  if (k == TEMPORARIES_MOST) return;
  temporaries[k] = path;
  for (size_t n = 0; n < sizeof ends / sizeof ends[0]; n++) {
    struct sigaction usual, ours = {.sa_handler = drop_temporaries, .sa_flags = (int)SA_RESETHAND};
    sigemptyset(&ours.sa_mask);
    /* one that is ignored (nohup) stays ignored */
    if (sigaction(ends[n], NULL, &usual) == 0 && usual.sa_handler == SIG_DFL) sigaction(ends[n], &ours, NULL);
  }
}

void tv_temporary_unwatch(const char *path) {
  for (int k = 0; k < TEMPORARIES_MOST; k++)
    if (temporaries[k] == path) temporaries[k] = NULL;
}

int tv_cannot_write(const char *path, int error) {
  if (error == ENOMEM) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  tv_error("%s: cannot write: %s", path, strerror(error));
  return TV_EXIT_NOT_WRITTEN;
}

static bool is_file(const char *path, const struct stat *target) {
  struct stat about;
  return path != NULL && stat(path, &about) == 0 && about.st_dev == target->st_dev && about.st_ino == target->st_ino;
}

/* Operands, options that name an input file, what --from found on disk, and what was read so far. */
static bool is_input(const struct tv_invocation *invocation, const struct stat *target) {
  static const char *const read[] = {"prices", "catalogue", "compare", "profile", "readings"};
  for (int k = 0; k < invocation->operand_count; k++)
    if (is_file(invocation->operands[k], target)) return true;
  if (is_file(tv_report_given(invocation), target)) return true;
  for (size_t k = 0; k < sizeof read / sizeof read[0]; k++)
    if (is_file(tv_value(invocation, read[k]), target)) return true;
  for (int k = 0; invocation->again != NULL && k < invocation->again->from.file_count; k++)
    if (is_file(invocation->again->from.files[k].path, target)) return true;
  for (int k = 0; invocation->made != NULL && k < invocation->made->file_count; k++)
    if (is_file(invocation->made->files[k].path, target)) return true;
  return false;
}

bool tv_output_is_input(const struct tv_invocation *invocation, const char *path) {
  struct stat target;
  if (path == NULL || stat(path, &target) != 0 || !is_input(invocation, &target)) return false;
  tv_error("%s: is an input of this command: not overwritten", path);
  return true;
}

bool tv_outputs_are_inputs(const struct tv_invocation *invocation) {
  static const char *const written[] = {"output", "write", "record", "script"};
  for (size_t k = 0; k < sizeof written / sizeof written[0]; k++)
    if (tv_output_is_input(invocation, tv_value(invocation, written[k]))) return true;
  return false;
}

/* A new file beside the target; mkstemp() would not honour the user's umask. */
static int open_temporary(struct tv_output *output) {
  size_t room = strlen(output->target) + 32;
  output->temporary = malloc(room);
  if (output->temporary == NULL) return -1; /* errno says so */
  for (int attempt = 0; attempt < 100; attempt++) {
    snprintf(output->temporary, room, "%s.%ld-%d.part", output->target, (long)getpid(), attempt);
    int descriptor = open(output->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (descriptor >= 0) tv_temporary_watch(output->temporary);
    if (descriptor >= 0 || errno != EEXIST) return descriptor;
  }
  return -1;
}

static void forget(struct tv_output *output) {
  if (output->temporary != NULL) tv_temporary_unwatch(output->temporary);
  free(output->target);
  free(output->temporary);
  *output = (struct tv_output){0};
}

/* Where a dangling link leads, else the path itself; NULL when out of memory. */
static char *behind_link(const char *path) {
  char target[4096];
  ssize_t length = readlink(path, target, sizeof target - 1);
  if (length <= 0) return strdup(path);
  target[length] = '\0';
  const char *slash = strrchr(path, '/');
  size_t folder = target[0] == '/' || slash == NULL ? 0 : (size_t)(slash - path) + 1;
  char *whole = malloc(folder + (size_t)length + 1);
  if (whole == NULL) return NULL;
  memcpy(whole, path, folder);
  memcpy(whole + folder, target, (size_t)length + 1);
  return whole;
}

int tv_output_open(const struct tv_invocation *invocation, const char *path, struct tv_output *output) {
  struct stat target;
  *output = (struct tv_output){0};
  if (path == NULL || strcmp(path, "-") == 0) {
    output->file = stdout;
    return TV_EXIT_DONE;
  }
  bool there = stat(path, &target) == 0;
  if (tv_output_is_input(invocation, path)) return TV_EXIT_INPUT;
  if (there && S_ISDIR(target.st_mode)) return tv_cannot_write(path, EISDIR);
  /* a link stays a link: its target is replaced; a pipe or device (/dev/stdout) is written to directly */
  output->target = !there ? behind_link(path) : S_ISREG(target.st_mode) ? realpath(path, NULL) : strdup(path);
  if (output->target == NULL) return tv_cannot_write(path, errno);
  int descriptor = there && !S_ISREG(target.st_mode) ? open(path, O_WRONLY | O_CLOEXEC)
                                                      : open_temporary(output);
  int error = errno;
  if (descriptor >= 0 && (output->file = fdopen(descriptor, "w")) == NULL) error = errno;
  if (output->file == NULL) {
    if (descriptor >= 0) close(descriptor);
    if (descriptor >= 0 && output->temporary != NULL) unlink(output->temporary);
    forget(output);
    return tv_cannot_write(path, error);
  }
  return TV_EXIT_DONE;
}

void tv_output_write(struct tv_output *output, const char *text) {
  errno = 0;
  if (fputs(text, output->file) >= 0 && fflush(output->file) == 0) return;
  if (output->error == 0) output->error = errno != 0 ? errno : EIO;
}

int tv_output_close(struct tv_output *output, bool keep) {
  int code = TV_EXIT_DONE;
  if (output->file == NULL || output->target == NULL) {
    if (output->error != 0) code = tv_cannot_write("standard output", output->error);
    *output = (struct tv_output){0}; /* main() handles standard output */
    return code;
  }
  errno = 0;
  bool sound = fflush(output->file) == 0 && ferror(output->file) == 0 && output->error == 0;
  int error = errno;
  if (fclose(output->file) != 0 && sound) {
    sound = false;
    error = errno;
  }
  if (sound && keep && output->temporary != NULL && rename(output->temporary, output->target) != 0) {
    sound = false;
    error = errno;
  }
  if ((!sound || !keep) && output->temporary != NULL) unlink(output->temporary);
  if (output->error != 0) error = output->error;
  if (keep && !sound) code = tv_cannot_write(output->target, error != 0 ? error : EIO);
  forget(output);
  return code;
}

int tv_output_text(const struct tv_invocation *invocation, const char *text) {
  struct tv_output output;
  int code = tv_output_open(invocation, tv_value(invocation, "output"), &output);
  if (code != TV_EXIT_DONE) return code;
  tv_output_write(&output, text);
  return tv_output_close(&output, true);
}
