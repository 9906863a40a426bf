/* What fifteen commands do when memory runs out: `failures SHIM COMMAND [MOST [JOB]]`.
 *
 * Each command is run once whole, then again and again with one allocation that fails, and with that one and all later ones: the
 * first, and others spread over the run (MOST of them in all, 0 = every one). It must say "out of memory" and exit with 3, or give
 * the very answer of the whole run; never another answer, never a signal. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORDS = 16, SECONDS = 120 };

struct job {
  const char *name;
  const char *words[WORDS];
  const char *output; /* a file that it writes, or NULL */
};

/* In a folder of their own: car.ini, short.csv, log.csv, readings.csv, record.csv; made.json, made.html and vary.json, reports of a car
 * whose music is a style of its own, which goes into a temporary file. */
static const struct job jobs[] = {
    {"simulate", {"simulate", "car.ini", "short.csv", "--details", "--spread", "2"}, NULL},
    {"check", {"check", "car.ini", "short.csv"}, NULL},
    {"parked", {"parked", "car.ini", "--spread", "2", "--for", "1h"}, NULL},
    {"remedy", {"remedy", "car.ini", "short.csv", "--format", "json"}, NULL},
    {"vary", {"vary", "car.ini", "short.csv", "cable feed.size = 8 AWG, 4 AWG", "--threads", "1", "-o", "out.csv"}, "out.csv"},
    {"plot", {"plot", "record.csv", "-o", "out.svg"}, "out.svg"},
    {"plot-json", {"plot", "vary.json", "--script", "out.gp"}, "out.gp"},
    {"measure", {"measure", "car.ini", "--readings", "readings.csv", "--spread", "0", "--date", "2026-01-31"}, NULL},
    {"match", {"match", "car.ini", "log.csv", "--fit", "cable feed.length", "--format", "json"}, NULL},
    {"report", {"report", "car.ini", "short.csv", "--quick", "--date", "2026-01-31", "-o", "out.html"}, "out.html"},
    {"from-json", {"simulate", "--from", "made.json", "--spread", "0", "--details"}, NULL},
    {"from-html", {"simulate", "--from", "made.html", "--spread", "0", "--format", "json"}, NULL},
    {"from-vary", {"vary", "--from", "vary.json", "--threads", "1", "--format", "json"}, NULL},
    {"check-json", {"check", "made.json"}, NULL},
    {"check-html", {"check", "made.html"}, NULL}};

static const char *shim, *command;
static int broken, tried, refused, same;

static bool write_text(const char *path, const char *text) {
  FILE *file = fopen(path, "w");
  return file != NULL && (fputs(text, file) >= 0) + (fclose(file) == 0) == 2;
}

static char *read_text(const char *path) {
  FILE *file = fopen(path, "r");
  size_t size = 0, got = 0;
  char *text = malloc(1);
  if (text != NULL) text[0] = '\0';
  while (file != NULL && text != NULL) {
    char *more = realloc(text, size + 65536);
    if (more == NULL) break;
    text = more;
    got = fread(text + size, 1, 65535, file);
    size += got;
    text[size] = '\0';
    if (got == 0) break;
  }
  if (file != NULL) fclose(file);
  return text;
}

static void set_number(const char *name, long value) {
  char digits[32];
  snprintf(digits, sizeof digits, "%ld", value);
  if (value > 0) setenv(name, digits, 1);
  else unsetenv(name);
}

/* The wait status; standard output and error go to the files out and err. */
static int run(const struct job *job, long at, long from, bool counted) {
  pid_t child = fork();
  if (child == 0) {
    char *words[WORDS + 1] = {NULL};
    int k = 0;
    memcpy(&words[k++], &command, sizeof command);
    for (int j = 0; job->words[j] != NULL; j++) memcpy(&words[k++], &job->words[j], sizeof words[0]);
    int out = open("out", O_WRONLY | O_CREAT | O_TRUNC, 0600), err = open("err", O_WRONLY | O_CREAT | O_TRUNC, 0600);
    int in = open("/dev/null", O_RDONLY);
    if (out < 0 || err < 0 || in < 0 || dup2(in, 0) < 0 || dup2(out, 1) < 0 || dup2(err, 2) < 0) _exit(98);
    set_number("TAILVOLT_FAIL_AT", at);
    set_number("TAILVOLT_FAIL_FROM", from);
    if (counted) setenv("TAILVOLT_ALLOCATIONS", "count", 1);
    setenv("LD_PRELOAD", shim, 1);
    /* one processor, one thread: the Nth allocation is the same each time */
    cpu_set_t one;
    CPU_ZERO(&one);
    CPU_SET(sched_getcpu(), &one);
    sched_setaffinity(0, sizeof one, &one);
    setenv("OMP_NUM_THREADS", "1", 1);
    alarm(SECONDS);
    execv(command, words);
    _exit(97);
  }
  int status = -1;
  while (child > 0 && waitpid(child, &status, 0) < 0 && errno == EINTR) continue;
  return status;
}

static void complain(const struct job *job, const char *how, long n, const char *what) {
  broken++;
  char *err = read_text("err");
  printf("%s, allocation %ld %s: %s\n%.300s", job->name, n, how, what, err != NULL ? err : "");
  free(err);
}

static void fail_one(const struct job *job, long n, bool later_too, const char *out, const char *output) {
  char what[64];
  const char *how = later_too ? "and all later ones" : "alone";
  if (job->output != NULL) unlink(job->output);
  unlink("out.csv.rows");
  int status = run(job, later_too ? 0 : n, later_too ? n : 0, false);
  tried++;
  if (!WIFEXITED(status)) {
    snprintf(what, sizeof what, "signal %d", WTERMSIG(status));
    complain(job, how, n, what);
    return;
  }
  /* it is empty again, or cannot be removed */
  if (rmdir("left") != 0 || mkdir("left", 0700) != 0) complain(job, how, n, "temporary files are left behind");
  char *err = read_text("err"), *seen = read_text("out"), *written = job->output != NULL ? read_text(job->output) : NULL;
  bool said = err != NULL && strstr(err, "out of memory") != NULL;
  bool equal = seen != NULL && strcmp(seen, out) == 0 && (job->output == NULL || (written != NULL && strcmp(written, output) == 0));
  if (WEXITSTATUS(status) == 3 && said) refused++;
  else if (WEXITSTATUS(status) == 0 && equal) same++;
  else {
    snprintf(what, sizeof what, "exit %d, %s, %s", WEXITSTATUS(status), said ? "out of memory" : "no word of memory",
             equal ? "the same answer" : "another answer");
    complain(job, how, n, what);
  }
  free(err), free(seen), free(written);
}

static void try_job(const struct job *job, long most) {
  if (job->output != NULL) unlink(job->output);
  int status = run(job, 0, 0, true);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    complain(job, "(none fails)", 0, "does not run");
    return;
  }
  char *digits = read_text("count"), *out = read_text("out"), *output = job->output != NULL ? read_text(job->output) : NULL;
  long count = digits != NULL ? strtol(digits, NULL, 10) : 0;
  if (count < 20 || out == NULL) complain(job, "(none fails)", count, "too few allocations: is the shim loaded?");
  long steps = most > 0 && most < count ? most : count;
  for (long k = 0; k < steps && count >= 20; k++) {
    /* the first, then spread: half of them over the first hundred, where files are read, half over all */
    long early = count < 100 ? count : 100;
    long n = steps == count ? k + 1 : k % 2 == 0 ? 1 + k / 2 * early / (steps / 2 + 1) : 1 + k * (count - 1) / steps;
    if (most == 0 || k % 4 < 2) fail_one(job, n, false, out, output);
    if (most == 0 || k % 4 >= 2 || k == 0) fail_one(job, n, true, out, output);
  }
  printf("%-9s %ld allocations\n", job->name, count);
  fflush(stdout);
  free(digits), free(out), free(output);
}

static bool prepare(void) {
  const char *const car = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                          "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n[targets]\nvoltage = 11 V\n";
  const char *const profile = "time_s,engine_rpm\n0,800\n6,800\n";
  const char *const log = "time_s,engine_rpm,programme,supply_a:bass,voltage_v:amplifier plus\n0,0,silence,0,12.5\n1,0,,20,12.0\n"
                          "2,0,,40,11.5\n3,0,,60,11.0\n4,0,,20,12.0\n5,0,,0,12.4\n6,0,,0,12.4\n";
  static const struct job records[] = {
      {"record", {"simulate", "car.ini", "short.csv", "--spread", "0", "--record", "record.csv"}, NULL},
      {"vary.json", {"vary", "own.ini", "own.csv", "cable feed.size = 8 AWG, 4 AWG", "-o", "vary.json"}, NULL},
      {"made.json", {"simulate", "own.ini", "own.csv", "--spread", "0", "--format", "json", "-o", "made.json"}, NULL},
      {"made.html", {"report", "own.ini", "own.csv", "--spread", "0", "--quick", "--date", "2026-01-31", "-o", "made.html"}, NULL}};
  char own[1024];
  snprintf(own, sizeof own, "%s[programme own]\nstyle = style.ini\n", car);
  bool sound = write_text("car.ini", car) && write_text("short.csv", profile) && write_text("log.csv", log) &&
               write_text("readings.csv", "reading,value\nrest: battery post > ground,12.47 V\n") && write_text("own.ini", own) &&
               write_text("own.csv", "time_s,engine_rpm,programme\n0,800,own\n2,800,own\n") &&
               write_text("style.ini", "[style]\ncrest factor = 9 dB\ntempo = 100 /min\n") && mkdir("left", 0700) == 0;
  for (size_t k = 0; k < sizeof records / sizeof *records; k++) sound = sound && run(&records[k], 0, 0, false) == 0;
  return sound;
}

int main(int count, char **words) {
  char folder[] = "/tmp/tailvolt-memory-XXXXXX", line[PATH_MAX + 16];
  if (count < 3) return 2;
  shim = words[1];
  command = words[2];
  long most = count > 3 ? strtol(words[3], NULL, 10) : 8;
  const char *only = count > 4 ? words[4] : NULL;
  setenv("TMPDIR", "left", 1);
  if (mkdtemp(folder) == NULL || chdir(folder) != 0 || !prepare()) {
    printf("cannot prepare %s\n", folder);
    return 1;
  }
  for (size_t k = 0; k < sizeof jobs / sizeof *jobs; k++)
    if (only == NULL || strcmp(only, jobs[k].name) == 0) try_job(&jobs[k], most);
  printf("%d failed allocations: %d refused, %d without effect, %d wrong\n", tried, refused, same, broken);
  snprintf(line, sizeof line, "rm -r '%s'", folder);
  return system(line) == 0 && broken == 0 && refused > 0 ? 0 : 1;
}
