/* mkstemp() and isatty() are POSIX functions */
#define _XOPEN_SOURCE 700

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "report/made_from.h"
#include "tailvolt/questions.h"
#include "text/buffer.h"

extern const struct tv_command tv_simulate_command;
extern const struct tv_command tv_parked_command;

enum { ANSWER_MAX = 1024, WIDTH = 80 };

struct job {
  char answer[TAILVOLT_QUESTIONS][ANSWER_MAX];
  const char *answers[TAILVOLT_QUESTIONS];
  int count; /* of lines read */
  char *text;
};

/* A paragraph of WIDTH columns, every line indented by `indent` blanks; the first follows `label`. */
static void paragraph(FILE *out, const char *label, const char *text, int indent) {
  int at = fprintf(out, "%-*s", indent, label);
  bool first = true;
  while (*text != '\0') {
    int length = (int)strcspn(text, " ");
    if (!first && at + 1 + length > WIDTH) {
      fprintf(out, "\n%*s", indent, "");
      at = indent;
      first = true;
    }
    fprintf(out, "%s%.*s", first ? "" : " ", length, text);
    at += length + (first ? 0 : 1);
    first = false;
    text += length;
    text += strspn(text, " ");
  }
  putc('\n', out);
}

/* What may be answered, one line per part. */
static void ask_for(FILE *out, const struct tailvolt_question *question) {
  for (int p = 0; p < question->part_count; p++) {
    const struct tailvolt_answer_part *part = &question->parts[p];
    char line[4 * TAILVOLT_TEXT_MAX];
    size_t used = 0;
    for (int k = 0; k < part->choice_count && used < sizeof line; k++)
      used += (size_t)snprintf(line + used, sizeof line - used, "%s%s = %s", k > 0 ? "; " : "", part->choices[k].word,
                               part->choices[k].says);
    if (part->choice_count == 0)
      used = (size_t)snprintf(line, sizeof line, "%s, in %s%s", part->name, part->units,
                              part->plain_unit != NULL ? " (a bare number will do)" : "");
    if (used < sizeof line && part->unknown[0] != '\0')
      snprintf(line + used, sizeof line - used, ". Don't know: %s%s%s", part->unknown, part->range[0] != '\0' ? ", usual: " : "",
               part->range);
    paragraph(out, "", line, 4);
  }
}

static void show(FILE *out, int index, bool whole) {
  const struct tailvolt_question *question = tailvolt_question(index);
  char label[16];
  snprintf(label, sizeof label, "%2d", index + 1);
  paragraph(out, label, question->words, 4);
  paragraph(out, "", question->look, 4);
  if (whole) ask_for(out, question);
  fprintf(out, "    for example: %s\n", question->example);
}

/* One line without its end; false at the end of the input. Too long a line is cut, and refused by its reader. */
static bool read_line(char *to, size_t size) {
  size_t length = 0;
  int c;
  while ((c = getc(stdin)) != EOF && c != '\n')
    if (length + 1 < size && c != '\0' && c != '\r') to[length++] = (char)c;
  to[length] = '\0';
  return c != EOF || length > 0;
}

/* At a terminal an unacceptable answer is asked for again; answers through a pipe are judged together. */
static void ask(struct job *job) {
  bool terminal = isatty(STDIN_FILENO) == 1;
  if (terminal)
    fputs("Ten questions. Return alone means \"don't know\"; the usual value is then assumed.\n\n", stderr);
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) {
    char error[TAILVOLT_TEXT_MAX] = "";
    bool more = true;
    if (terminal) show(stderr, k, true);
    do {
      if (terminal) fputs("  > ", stderr);
      more = read_line(job->answer[k], sizeof job->answer[k]);
      if (!terminal) break;
      if (!more) putc('\n', stderr);
      if (tailvolt_answer_check(k, job->answer[k], error) == TAILVOLT_OK) break;
      tv_error("%s", error);
    } while (more);
    if (!more) return;
    job->answers[k] = job->answer[k];
    job->count = k + 1;
  }
}

static int make_text(struct job *job) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  enum tailvolt_status status = tailvolt_answers_system(job->answers, job->count, &job->text, faults);
  if (faults->count > 0) tv_print_faults(faults);
  else if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
  free(faults);
  return tv_exit_code(status);
}

/* Runs another command on one file, passing the options that both take. */
static int run_on(const struct tv_invocation *invocation, const struct tv_command *command, const char *path,
                  const char *output) {
  static const char *const shared[] = {"quiet", "color", "units"};
  static const struct tv_option to_file = {"output", 'o', "FILE", false, TV_OUTPUT, ""};
  struct tv_given_option given[sizeof shared / sizeof shared[0] + 1];
  struct tv_made_from made = {0};
  struct tv_invocation other = {.command = command, .given = given, .operand_count = 1, .operands = &path,
                                .quiet = invocation->quiet, .made = &made};
  for (int k = 0; k < invocation->given_count; k++)
    for (size_t s = 0; s < sizeof shared / sizeof shared[0]; s++)
      if (strcmp(invocation->given[k].option->name, shared[s]) == 0 && (size_t)other.given_count < sizeof shared / sizeof shared[0])
        given[other.given_count++] = invocation->given[k];
  if (output != NULL) given[other.given_count++] = (struct tv_given_option){&to_file, output, output, false};
  int code = command->run(&other);
  tv_made_free(&made);
  return code;
}

static void drop_temporary(const char *path) {
  unlink(path);
  tv_temporary_unwatch(path);
}

/* Its own file, removed by drop_temporary(); its path in `path`, which must live as long. None is left where it cannot be made. */
static int temporary(char *path, size_t size, const char *text) {
  const char *folder = getenv("TMPDIR");
  snprintf(path, size, "%s/tailvolt-XXXXXX", folder != NULL && folder[0] != '\0' ? folder : P_tmpdir);
  tv_temporary_watch(path);
  int descriptor = mkstemp(path), error = errno;
  if (descriptor < 0) {
    tv_temporary_unwatch(path);
    return tv_cannot_write(path, error);
  }
  FILE *file = fdopen(descriptor, "w");
  bool sound = file != NULL && fputs(text, file) >= 0;
  error = errno;
  if (file == NULL) close(descriptor);
  else if (fclose(file) != 0 && sound) {
    error = errno;
    sound = false;
  }
  if (sound) return TV_EXIT_DONE;
  drop_temporary(path);
  return tv_cannot_write(path, error);
}

/* Runs a command and copies its first screen, up to the first empty line, each line after `before`. */
static int first_screen(const struct tv_invocation *invocation, const struct tv_command *command, const char *path,
                        const char *before) {
  char report[4096];
  int code = temporary(report, sizeof report, "");
  if (code != TV_EXIT_DONE) return code;
  code = run_on(invocation, command, path, report);
  FILE *file = code == TV_EXIT_DONE ? fopen(report, "r") : NULL;
  if (code == TV_EXIT_DONE && file == NULL) code = tv_cannot_write(report, errno);
  bool start = true;
  for (int c, last = '\n'; file != NULL && (c = getc(file)) != EOF; last = c) {
    if (c == '\n' && last == '\n') break;
    if (start) fputs(before, stdout);
    start = c == '\n';
    putchar(c);
  }
  if (file != NULL) fclose(file);
  drop_temporary(report);
  return code;
}

/* The file to standard output with its first screen as a comment, so the whole is still a system file. */
static int write_to_output(const struct tv_invocation *invocation, struct job *job) {
  char path[4096];
  int code = temporary(path, sizeof path, job->text);
  if (code != TV_EXIT_DONE) return code;
  fputs(job->text, stdout);
  fputs("\n# What a run of it says:\n#\n", stdout);
  code = first_screen(invocation, &tv_simulate_command, path, "# ");
  drop_temporary(path);
  return code;
}

static int write_to_file(const struct tv_invocation *invocation, struct job *job, const char *path) {
  struct tv_output output;
  struct tailvolt_aside aside;
  int code = tv_output_open(invocation, path, &output);
  if (code != TV_EXIT_DONE) return code;
  tv_output_write(&output, job->text);
  code = tv_output_close(&output, true);
  if (code == TV_EXIT_DONE) code = run_on(invocation, &tv_simulate_command, path, NULL);
  if (code != TV_EXIT_DONE) return code;
  tailvolt_answers_aside(job->answers, job->count, &aside);
  if (aside.parked_s > 0.0) {
    putchar('\n');
    code = first_screen(invocation, &tv_parked_command, path, "");
  }
  if (code != TV_EXIT_DONE) return code;
  putchar('\n');
  if (aside.look_first[0] != '\0') paragraph(stdout, "TODAY", aside.look_first, 8);
  printf("THEN    tailvolt check %s   what was taken for what you did not know\n", path);
  printf("        tailvolt measure %s   what to read at the car, and what it tells\n", path);
  return code;
}

static int list_questions(void) {
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) show(stdout, k, true);
  return TV_EXIT_DONE;
}

static int tv_command_new(struct tv_invocation *invocation) {
  if (tv_option_given(invocation, "questions")) return list_questions();
  const char *path = tv_value(invocation, "output");
  bool to_file = path != NULL && strcmp(path, "-") != 0;
  struct stat about;
  if (to_file && !tv_option_given(invocation, "force") && stat(path, &about) == 0 && S_ISREG(about.st_mode)) {
    tv_error("%s: already exists; give another name, or --force to overwrite it", path);
    return TV_EXIT_NOT_WRITTEN;
  }
  struct job *job = calloc(1, sizeof *job);
  if (job == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  ask(job);
  int code = make_text(job);
  if (code == TV_EXIT_DONE) code = to_file ? write_to_file(invocation, job, path) : write_to_output(invocation, job);
  tailvolt_system_text_free(job->text);
  free(job);
  return code;
}

static const struct tv_option options[] = {
    {"force", 0, NULL, false, TV_OWN, "overwrite an existing file"},
    {"questions", 0, NULL, false, TV_OWN, "list the questions, what they take, and where on the car to look; ask nothing"}};

static const struct tv_example examples[] = {
    {"tailvolt new -o job.ini", "asks, writes the file and runs it"},
    {"tailvolt new -o job.ini <answers.txt", "the same from a file with an answer a line"}};

const struct tv_command tv_new_command = {
    .name = "new",
    .operands = "",
    .summary = "ten questions about a car; write its system file and run it",
    .description =
        "Asks what charges the car, what its amplifiers draw, how it is wired and what it is used for, and where on the car "
        "to look for each. Return alone means \"don't know\": the usual value is taken, and the file says so. An answer "
        "names its parts in any order, each with its unit (70 Ah, 640 A EN, AGM, boot); a decimal comma is taken.\n\n"
        "The answers become a system file with comments, which is checked and run as `tailvolt simulate` would. Without -o it "
        "goes to standard output, with the first lines of the result as a comment.\n\n"
        "Answers may come by a pipe, one a line in the order of --questions; where the input ends, the rest is not known.",
    .least_operands = 0,
    .most_operands = 0,
    .groups = TV_OUTPUT | TV_UNITS,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_new};
