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

/* Where the name of an output leads, behind every link. */
struct target {
  char *path;     /* the file itself, in a folder that exists; NULL = a descriptor */
  int descriptor; /* of this process: standard output, what /dev/fd names; -1 = none */
  bool there;
  struct stat about;
};

/* The descriptor that a name in a folder stands for: /dev/stdout and /dev/fd lead there, on Linux by links. -1 = none. */
static int descriptor_in(const char *folder, const char *name) {
  char own[48];
  int number = 0;
  size_t length = strlen(folder), before = (size_t)snprintf(own, sizeof own, "/proc/%ld/", (long)getpid());
  bool held = strncmp(folder, own, before) == 0 && strcmp(folder + length - 3, "/fd") == 0;
  if ((!held && strcmp(folder, "/dev/fd") != 0) || name[0] == '\0' || strlen(name) > 6) return -1;
  for (; *name >= '0' && *name <= '9'; name++) number = 10 * number + (*name - '0');
  return *name == '\0' ? number : -1;
}

/* `name` in `folder`; NULL when out of memory. */
static char *in_folder_of(const char *folder, const char *name) {
  size_t room = strlen(folder) + strlen(name) + 2;
  char *path = malloc(room);
  if (path != NULL) snprintf(path, room, "%s%s%s", folder, folder[strlen(folder) - 1] == '/' ? "" : "/", name);
  return path;
}

/* One name on the way: 0 = it is the target's, or an errno; *next where it is a link (freed by the caller). */
static int follow(const char *path, struct target *target, char **next) {
  char link[4096];
  const char *slash = strrchr(path, '/'), *name = slash != NULL ? slash + 1 : path;
  bool folder = name[0] == '\0' || strcmp(name, ".") == 0 || strcmp(name, "..") == 0;
  char *before = folder ? strdup(path) : slash == NULL ? strdup(".") : strndup(path, slash == path ? 1 : (size_t)(slash - path));
  char *whole = before != NULL ? realpath(before, NULL) : NULL;
  int error = whole == NULL ? errno : 0;
  free(before);
  if (error != 0 || folder) {
    target->path = whole;
    return error;
  }
  target->descriptor = descriptor_in(whole, name);
  char *here = target->descriptor < 0 ? in_folder_of(whole, name) : NULL;
  ssize_t length = here != NULL ? readlink(here, link, sizeof link - 1) : -1;
  if (target->descriptor < 0 && here == NULL) error = ENOMEM;
  if (length > 0) {
    link[length] = '\0';
    *next = link[0] == '/' ? strdup(link) : in_folder_of(whole, link);
    if (*next == NULL) error = ENOMEM;
    free(here);
    here = NULL;
  }
  target->path = here;
  free(whole);
  return error;
}

/* 0, or an errno. NULL and "-" are standard output. Ends with free(target->path). */
static int find_target(const char *path, struct target *target) {
  enum { LINKS_MOST = 40 };
  *target = (struct target){.descriptor = path == NULL || strcmp(path, "-") == 0 ? STDOUT_FILENO : -1};
  char *at = NULL;
  int error = 0;
  for (int links = 0; target->descriptor < 0 && target->path == NULL && error == 0; links++) {
    char *next = NULL;
    error = links < LINKS_MOST ? follow(at != NULL ? at : path, target, &next) : ELOOP;
    free(at);
    at = next;
  }
  free(at);
  if (error != 0) return error;
  if (target->descriptor < 0) target->there = stat(target->path, &target->about) == 0;
  else if (fstat(target->descriptor, &target->about) == 0) target->there = true;
  else return errno;
  return 0;
}

/* Written in place: what was written to it before stays, and there is nothing to be renamed. */
static bool is_direct(const struct target *target) {
  return target->descriptor >= 0 || (target->there && !S_ISREG(target->about.st_mode) && !S_ISDIR(target->about.st_mode));
}

bool tv_output_is_direct(const char *path) {
  struct target target;
  bool direct = find_target(path, &target) == 0 && is_direct(&target);
  free(target.path);
  return direct;
}

static bool is_same(const struct stat *a, const struct stat *b) { return a->st_dev == b->st_dev && a->st_ino == b->st_ino; }

/* A file that two outputs would write; two may go to one device. */
static bool are_one(const struct target *a, const struct target *b) {
  if (a->descriptor >= 0 && a->descriptor == b->descriptor) return true;
  if (a->there && b->there) return is_same(&a->about, &b->about) && !S_ISCHR(a->about.st_mode);
  return !a->there && !b->there && a->path != NULL && b->path != NULL && strcmp(a->path, b->path) == 0;
}

static bool is_file(const char *path, const struct stat *target) {
  struct stat about;
  return path != NULL && stat(path, &about) == 0 && is_same(&about, target);
}

/* Operands, options that name an input file, what --from found on disk, and what was read so far. */
static bool is_input(const struct tv_invocation *invocation, const struct stat *target) {
  static const char *const read[] = {"prices", "catalogue", "compare", "profile", "readings", "page"};
  struct stat about;
  if (fstat(STDIN_FILENO, &about) == 0 && S_ISREG(about.st_mode) && is_same(&about, target)) return true;
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

bool tv_outputs_are_one(const struct tv_invocation *invocation) {
  static const char *const others[] = {"write", "record"};
  const char *output = tv_value(invocation, "output");
  bool one = false;
  for (size_t k = 0; k < sizeof others / sizeof others[0] && !one; k++) {
    const char *other = tv_value(invocation, others[k]);
    struct target a = {0}, b = {0};
    one = other != NULL && find_target(other, &a) == 0 && find_target(output, &b) == 0 && are_one(&a, &b);
    if (one) tv_error("--%s %s: is where the report goes: it needs a file of its own", others[k], other);
    free(a.path);
    free(b.path);
  }
  return one;
}

/* A new file beside the target, with its permissions; mkstemp() would not honour the user's umask. */
static int open_temporary(struct tv_output *output, const struct target *target) {
  enum { NAME_MOST = 200 }; /* of 255 that a file system takes */
  const char *slash = strrchr(output->target, '/');
  size_t folder = slash != NULL ? (size_t)(slash - output->target) + 1 : 0, length = strlen(output->target + folder);
  size_t room = strlen(output->target) + 32;
  output->temporary = malloc(room);
  if (output->temporary == NULL) return -1; /* errno says so */
  for (int attempt = 0; attempt < 100; attempt++) {
    snprintf(output->temporary, room, "%.*s.%ld-%d.part", (int)(folder + (length < NAME_MOST ? length : NAME_MOST)), output->target,
             (long)getpid(), attempt);
    int descriptor = open(output->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (descriptor >= 0) tv_temporary_watch(output->temporary);
    /* one who may not set them may still write */
    if (descriptor >= 0 && target->there && fchmod(descriptor, target->about.st_mode & 0777) != 0) errno = 0;
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

/* Why this is not to be written; 0 = it may be. A file that is write-protected would let itself be replaced. */
static int refusal(const struct target *target) {
  if (!target->there || target->descriptor >= 0) return 0;
  if (S_ISDIR(target->about.st_mode)) return EISDIR;
  if (!S_ISREG(target->about.st_mode)) return 0;
  if ((target->about.st_mode & (S_IWUSR | S_IWGRP | S_IWOTH)) == 0) return EACCES;
  return access(target->path, W_OK) == 0 ? 0 : errno;
}

int tv_output_open(const struct tv_invocation *invocation, const char *path, struct tv_output *output) {
  struct target target;
  *output = (struct tv_output){0};
  if (path != NULL && strcmp(path, "-") != 0 && tv_output_is_input(invocation, path)) return TV_EXIT_INPUT;
  int error = find_target(path, &target);
  if (error == 0) error = refusal(&target);
  if (error == 0 && target.descriptor == STDOUT_FILENO) {
    output->file = stdout;
    return TV_EXIT_DONE;
  }
  if (error == 0) output->target = target.descriptor < 0 ? target.path : strdup(path);
  else free(target.path);
  if (error == 0 && output->target == NULL) error = ENOMEM;
  if (error != 0) return tv_cannot_write(path, error);
  int descriptor = target.descriptor >= 0 ? dup(target.descriptor)
                   : is_direct(&target)   ? open(output->target, O_WRONLY | O_CLOEXEC)
                                          : open_temporary(output, &target);
  error = errno;
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
