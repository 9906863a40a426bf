/* tailvolt plot: feeds a picture's text to gnuplot. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "report/plot.h"
#include "tailvolt/report.h"

/* The text as an unnamed file, positioned at its start: gnuplot may stop reading at any time. */
static FILE *as_file(const char *text) {
  FILE *file = tmpfile();
  if (file == NULL) return NULL;
  if (fputs(text, file) < 0 || fflush(file) != 0) {
    fclose(file);
    return NULL;
  }
  rewind(file);
  return file;
}

enum { NOT_FOUND = 127 };

static void become_gnuplot(int script, int picture, int messages) {
  char *const arguments[] = {(char[]){"gnuplot"}, (char[]){"-d"}, (char[]){"-"}, NULL};
  if (dup2(script, STDIN_FILENO) < 0 || dup2(picture, STDOUT_FILENO) < 0 || dup2(messages, STDERR_FILENO) < 0)
    _exit(126);
  execvp("gnuplot", arguments);
  _exit(errno == ENOENT ? NOT_FOUND : 126);
}

static void show_messages(FILE *messages) {
  char line[512];
  rewind(messages);
  for (int k = 0; k < 4 && fgets(line, sizeof line, messages) != NULL; k++) {
    line[strcspn(line, "\n")] = '\0';
    if (line[0] != '\0') tv_error("gnuplot: %s", line);
  }
}

static int run_gnuplot(const char *text, FILE *picture) {
  FILE *script = as_file(text), *messages = tmpfile();
  int code = TV_EXIT_NOT_COMPUTED, state = 0;
  pid_t child = -1;
  fflush(picture);
  if (script != NULL && messages != NULL) child = fork();
  if (child == 0) become_gnuplot(fileno(script), fileno(picture), fileno(messages));
  if (child < 0 || waitpid(child, &state, 0) != child) {
    tv_error("gnuplot cannot be started: %s", errno == ENOMEM ? "out of memory" : strerror(errno));
  } else if (WIFEXITED(state) && WEXITSTATUS(state) == NOT_FOUND) {
    tv_error("plot needs the program gnuplot, which is not found; install it (package gnuplot-nox on Debian "
             "and Ubuntu), or write "
             "the script with --script FILE and draw it elsewhere");
  } else if (!WIFEXITED(state) || WEXITSTATUS(state) != 0) {
    show_messages(messages);
    tv_error("gnuplot could not draw the picture");
  } else {
    code = TV_EXIT_DONE;
  }
  if (script != NULL) fclose(script);
  if (messages != NULL) fclose(messages);
  return code;
}

/* "900x540" */
static bool read_size(const struct tv_invocation *invocation, struct tv_plot_request *request) {
  const char *text = tv_value(invocation, "size"), *at = text;
  int *const numbers[] = {&request->width, &request->height};
  if (text == NULL) return true;
  for (int k = 0; k < 2; k++) {
    int number = 0;
    for (; *at >= '0' && *at <= '9' && number < 100000; at++) number = 10 * number + (*at - '0');
    if (number < 200 || number > 8000 || (k == 0 && *at++ != 'x')) break;
    *numbers[k] = number;
    if (k == 1 && *at == '\0') return true;
  }
  tv_error("--size %s: must be WIDTHxHEIGHT of 200 to 8000 pixels, such as 900x540", text);
  return false;
}

static bool read_format(const struct tv_invocation *invocation, struct tv_plot_request *request) {
  const char *output = tv_value(invocation, "output"), *dot = output != NULL ? strrchr(output, '.') : NULL;
  request->format = "svg";
  if (output == NULL || strcmp(output, "-") == 0) return true;
  if (dot != NULL && (strcmp(dot, ".svg") == 0 || strcmp(dot, ".png") == 0 || strcmp(dot, ".pdf") == 0)) {
    request->format = dot + 1;
    return true;
  }
  tv_error("--output %s: the ending chooses the kind of picture: .svg, .png or .pdf", output);
  return false;
}

static int read_request(const struct tv_invocation *invocation, struct tv_plot_request *request) {
  *request = (struct tv_plot_request){.path_count = invocation->operand_count,
                                      .paths = invocation->operands,
                                      .picture = -1,
                                      .from_s = (double)NAN,
                                      .to_s = (double)NAN,
                                      .width = 900,
                                      .height = 540};
  request->amplifier = tv_value(invocation, "amplifier");
  request->quantity = tv_value(invocation, "quantity");
  request->along = tv_value(invocation, "along");
  if (!tv_choice_option(invocation, "picture", tv_picture_names, &request->picture) ||
      !tv_time_option(invocation, "from", 0.0, 1e9, &request->from_s) ||
      !tv_time_option(invocation, "to", 0.0, 1e9, &request->to_s) || !read_size(invocation, request) ||
      !read_format(invocation, request))
    return TV_EXIT_INPUT;
  for (int k = 0; k < invocation->operand_count; k++) {
    if (strcmp(invocation->operands[k], "-") != 0) continue;
    tv_error("plot reads its files more than once: give files, not standard input");
    return TV_EXIT_INPUT;
  }
  return TV_EXIT_DONE;
}

static int tv_command_plot(struct tv_invocation *invocation) {
  struct tv_plot_request request;
  struct tv_output output = {0};
  char error[TAILVOLT_TEXT_MAX] = "", *text = NULL;
  const char *script = tv_value(invocation, "script");
  int code = read_request(invocation, &request);
  if (code != TV_EXIT_DONE) return code;
  enum tailvolt_status status = tv_plot_make(&request, &text, error);
  if (status != TAILVOLT_OK) tv_run_failed(NULL, NULL, status, error);
  code = tv_exit_code(status);
  if (code == TV_EXIT_DONE)
    code = tv_output_open(invocation, script != NULL ? script : tv_value(invocation, "output"), &output);
  if (code == TV_EXIT_DONE && script != NULL)
    fputs(text, output.file);
  else if (code == TV_EXIT_DONE)
    code = run_gnuplot(text, output.file);
  int closed = tv_output_close(&output, code == TV_EXIT_DONE);
  if (code == TV_EXIT_DONE) code = closed;
  tailvolt_report_free(text);
  return code;
}

static const struct tv_option options[] = {
    {"picture", 'p', "NAME", false, TV_OWN,
     "voltage, currents, charge, beat, histogram (of a record), ledger, loop (of a result), curve, heat (of "
     "a "
     "variation), evening, playing (of parked), profile, envelope, alternator (of a system file), "
     "measured (of compare or match); of several "
     "files "
     "of a kind: overlay (records), compare (results), evenings (parked)"},
    {"amplifier", 'a', "NAME", false, TV_OWN,
     "the amplifier to draw; default the first, for a result the worst"},
    {"quantity", 0, "COLUMN", false, TV_OWN,
     "what a variation shows, such as mean_a or end_soc_pct, default min_v; of a comparison the column"},
    {"along", 0, "KEY", false, TV_OWN, "the varied key along the axis; default the one with the most values"},
    {"from", 0, "TIME", false, TV_OWN, "start of the part of a record to draw"},
    {"to", 0, "TIME", false, TV_OWN, "end of the part of a record to draw"},
    {"size", 0, "WxH", false, TV_OWN, "size in pixels; default 900x540"},
    {"script", 0, "FILE.gp", false, TV_OWN, "write script and data for gnuplot to FILE.gp and draw nothing"}};

static const struct tv_example examples[] = {
    {"tailvolt simulate examples/lessons/car.ini examples/lessons/idle.csv --record record.csv",
     "first a record"},
    {"tailvolt plot record.csv --output voltage.svg", "voltage at the amplifier over time"},
    {"tailvolt plot record.csv --picture beat --output beat.pdf", "half a second around the worst moment"},
    {"tailvolt plot profiles/town-night-rain.csv --output town.svg", "what a load profile asks for"}};

const struct tv_command tv_plot_command = {
    .name = "plot",
    .operands = "RESULT...",
    .summary = "draw a record, a sag ledger, a variation or playing time as SVG, PNG or PDF",
    .description =
        "Draws what the other commands wrote: a record (simulate --record), a result (simulate --format "
        "json), a variation (vary as CSV or JSON), the evening of parked (--format json), a load profile, "
        "the "
        "envelope of a recording, the alternator of a system file, beside the record of a run if one is "
        "given, or what "
        "compare and match set beside each other (as CSV). Several records, results or evenings are drawn together, "
        "named by their files. The ending of "
        "--output chooses SVG, PNG or PDF; without it SVG goes to standard output.\n\n"
        "A long record is thinned before it is drawn; the lowest and highest of the rows that share a "
        "pixel are kept. The pictures are made by the gnuplot scripts in plots/; --script writes script "
        "and data so that you can edit them by hand.",
    .least_operands = 1,
    .most_operands = -1,
    .groups = TV_OUTPUT,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_plot};
