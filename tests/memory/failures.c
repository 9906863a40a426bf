/* What the commands do when memory runs out: `failures SHIM COMMAND ASK [MOST [JOB]]`.
 *
 * Each command is run once whole, then again and again with one allocation that fails, and with that one and all later ones. Which: of
 * those that were the first to come through some call, in this job and those before it, MOST of them spread over the run;
 * with MOST = calls all of them, so that every call between main and an allocation fails once; with 0 every allocation. The command
 * must say "out of memory" and exit with 3, or give the very answer of the whole run; never another answer, never a signal. ASK puts the
 * page's questions (ask.c). */
#define _GNU_SOURCE
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORDS = 16, SECONDS = 120, CALLS = 1 << 16, EVERY = 0, EACH_CALL = -1 };

struct job {
  const char *name;
  const char *words[WORDS];
  const char *output; /* a file that it writes, or NULL */
  const char *input;  /* a file that it gets as standard input; NULL = an empty one */
  bool is_long;       /* left out where a few allocations of each are tried */
};

/* In a folder of their own, made by prepare(). Those that take little time first: what goes through calls of theirs is not tried again
 * in the others. own.ini is a car whose music is a style of its own, which goes into a temporary file
 * where a report of it is run again. */
#define QUICKLY "--time-step", "4ms"
#define WAYS "cable feed.size = 8 AWG, 4 AWG"

static const struct job jobs[] = {
    {"check", {"check", "car.ini", "short.csv"}, NULL, NULL, false},
    {"simulate", {"simulate", "car.ini", "short.csv", "--details", "--spread", "2"}, NULL, NULL, false},
    {"report", {"report", "car.ini", "short.csv", "--quick", "--date", "2026-01-31", "-o", "out.html"}, "out.html", NULL, false},
    {"plot", {"plot", "record.csv", "-o", "out.svg"}, "out.svg", NULL, false},
    {"plot-json", {"plot", "vary.json", "--script", "out.gp"}, "out.gp", NULL, false},
    {"from-json", {"simulate", "--from", "made.json", "--spread", "0", "--details"}, NULL, NULL, false},
    {"from-html", {"simulate", "--from", "made.html", "--spread", "0", "--format", "json"}, NULL, NULL, false},
    {"from-vary", {"vary", "--from", "vary.json", "--threads", "1", "--format", "json"}, NULL, NULL, false},
    {"check-json", {"check", "made.json"}, NULL, NULL, false},
    {"check-html", {"check", "made.html"}, NULL, NULL, false},
    {"match", {"match", "car.ini", "log.csv", "--fit", "cable feed.length", "--format", "json"}, NULL, NULL, false},
    {"match-text",
     {"match", "car.ini", "log.csv", "--fit", "cable feed.length", "--write", "out.ini", "--date", "2026-01-31"},
     "out.ini",
     NULL,
     false},
    {"vary", {"vary", "car.ini", "short.csv", WAYS, "--threads", "1", "-o", "out.csv"}, "out.csv", NULL, false},
    {"vary-sure", {"vary", "car.ini", "short.csv", WAYS, "--spread", "2", "--threads", "1"}, NULL, NULL, false},
    {"rich", {"simulate", "rich.ini", "long.csv", "--spread", "0", "--format", "json", "--record", "out.csv"}, "out.csv", NULL, false},
    {"rich-check", {"check", "rich.ini", "long.csv", "--format", "json"}, NULL, NULL, false},
    {"live", {"live", "rich.ini", "short.csv", "--page", "page.html", "-o", "out.html"}, "out.html", NULL, false},
    {"drive", {"drive", "trip.csv", "--stop-start", "2s", "-o", "out.csv"}, "out.csv", NULL, false},
    {"cycle", {"drive", "--cycle", "ece15"}, NULL, NULL, false},
    {"envelope",
     {"envelope", "tone.wav", "--below", "80 Hz", "--level", "-6dB", "--amplifier", "car.ini", "-o", "out.csv"},
     "out.csv",
     NULL,
     false},
    {"envelope-json", {"envelope", "tone.wav", "--stereo", "--format", "json"}, NULL, NULL, false},
    {"questions", {"new", "--questions"}, NULL, NULL, false},
    {"compare", {"compare", "car.ini", "log.csv", "--profile", "short.csv"}, NULL, NULL, false},
    {"compare-json", {"compare", "car.ini", "log.csv", "--format", "json"}, NULL, NULL, false},
    {"picture-currents", {"plot", "record.csv", "-p", "currents", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-beat", {"plot", "record.csv", "-p", "beat", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-histogram", {"plot", "record.csv", "-p", "histogram", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-overlay", {"plot", "record.csv", "other.csv", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-ledger", {"plot", "made.json", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-loop", {"plot", "made.json", "-p", "loop", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-results", {"plot", "made.json", "other.json", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-curve", {"plot", "vary.csv", "-p", "curve", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-heat", {"plot", "vary.csv", "-p", "heat", "--quantity", "mean_a", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-evening", {"plot", "parked.json", "-p", "evening", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-playing", {"plot", "parked.json", "-p", "playing", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-evenings", {"plot", "parked.json", "parked.json", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-car", {"plot", "rich.ini", "record.csv", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-profile", {"plot", "long.csv", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-envelope", {"plot", "envelope.csv", "--script", "out.gp"}, "out.gp", NULL, false},
    {"picture-measured", {"plot", "compared.csv", "--script", "out.gp"}, "out.gp", NULL, false},
    {"page-parts", {"ask", "rich.ini", "short.csv", "load", "decoded"}, NULL, NULL, false},
    {"page-asks", {"ask", "car.ini", "short.csv", "questions", "answers"}, NULL, NULL, false},
    {"page-run", {"ask", "car.ini", "short.csv", "load", "run", "csv", "system_file", "advise"}, NULL, NULL, false},
    {"page-takes", {"ask", "car.ini", "short.csv", "load", "report", "pictures"}, NULL, NULL, false},
    {"page-looks", {"ask", "car.ini", "short.csv", "load", "preview", "glance", "play", "vary"}, NULL, NULL, false},
    {"remedy", {"remedy", "car.ini", "short.csv", "--format", "json", "--spread", "2", QUICKLY}, NULL, NULL, false},
    {"remedy-priced",
     {"remedy", "car.ini", "short.csv", "--spread", "2", "--prices", "prices.csv", "--write", "out.ini", QUICKLY},
     "out.ini",
     NULL,
     false},
    {"remedy-little",
     {"remedy", "car.ini", "short.csv", "--spread", "2", "--catalogue", "little.csv", "--sure", "1%", QUICKLY},
     NULL,
     NULL,
     false},
    {"report-whole",
     {"report", "car.ini", "short.csv", "--spread", "2", "--prices", "prices.csv", "--date", "-", QUICKLY},
     NULL,
     NULL,
     false},
    {"from-remedy", {"remedy", "--from", "remedy.json", "--spread", "0"}, NULL, NULL, false},
    {"measure", {"measure", "car.ini", "--readings", "readings.csv", "--spread", "0", "--date", "2026-01-31"}, NULL, NULL, false},
    {"measure-odd", {"measure", "car.ini", "--readings", "loop.csv", "--spread", "0"}, NULL, NULL, false},
    {"measure-json", {"measure", "car.ini", "--readings", "readings.csv", "--spread", "0", "--format", "json"}, NULL, NULL, false},
    {"rich-parked", {"parked", "rich.ini", "--spread", "0", "--longest", "20min", "--format", "json", QUICKLY}, NULL, NULL, false},
    {"full", {"parked", "car.ini", "--spread", "0", "--longest", "1min", "--full", "--format", "csv"}, NULL, NULL, false},
    {"parked", {"parked", "car.ini", "--spread", "2", "--for", "1h", QUICKLY}, NULL, NULL, false},
    {"page-quick", {"ask", "car.ini", "short.csv", "load", "run", "quick"}, NULL, NULL, true},
    {"page-sure", {"ask", "car.ini", "short.csv", "load", "run", "sure"}, NULL, NULL, true},
    {"page-remedy", {"ask", "car.ini", "short.csv", "load", "remedy"}, NULL, NULL, true},
    {"page-parked", {"ask", "car.ini", "short.csv", "load", "parked"}, NULL, NULL, true},
    {"page-day", {"ask", "car.ini", "-", "load", "vary"}, NULL, NULL, true},
    {"vary-parked", {"vary", "car.ini", "short.csv", WAYS, "--parked", "--threads", "1", "--format", "json", QUICKLY}, NULL, NULL, true},
    {"report-both",
     {"report", "car.ini", "short.csv", "--quick", "--compare", "own.ini", "--set", "targets.parked = 1 h", "--date", "-", QUICKLY},
     NULL,
     NULL,
     true},
    {"remedy-parked", {"remedy", "car.ini", "short.csv", "--spread", "2", "--parked", "1h", QUICKLY}, NULL, NULL, true},
    {"remedy-sure", {"remedy", "car.ini", "short.csv", "--spread", "8", "--sure", "50%", "--format", "json", QUICKLY}, NULL, NULL, true},
    {"measure-sure", {"measure", "car.ini", "--readings", "readings.csv", "--spread", "2", "--format", "csv"}, NULL, NULL, true},
    {"measure-typed",
     {"measure", "car.ini", "--spread", "0", "--most", "1", "--write", "out.ini", "--date", "2026-01-31"},
     "out.ini",
     "typed",
     true},
    {"new-unknown", {"new"}, NULL, NULL, true},
    {"new", {"new", "-o", "out.ini"}, "out.ini", "answers", true}};

static const char *shim, *command, *asker;
static int broken, tried, refused, same;
static uint64_t known[CALLS]; /* calls that an allocation was tried of; 0 = free */

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
    bool of_page = strcmp(job->words[0], "ask") == 0;
    const char *program = of_page ? asker : command;
    int k = 0;
    memcpy(&words[k++], &program, sizeof program);
    for (int j = of_page ? 1 : 0; job->words[j] != NULL; j++) memcpy(&words[k++], &job->words[j], sizeof words[0]);
    int out = open("out", O_WRONLY | O_CREAT | O_TRUNC, 0600), err = open("err", O_WRONLY | O_CREAT | O_TRUNC, 0600);
    int in = open(job->input != NULL ? job->input : "/dev/null", O_RDONLY);
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
    execv(program, words);
    _exit(97);
  }
  int status = -1;
  while (child > 0 && waitpid(child, &status, 0) < 0 && errno == EINTR) continue;
  return status;
}

/* Files in this folder; not what a stopped vary leaves for going on with it. */
static int file_count(void) {
  DIR *folder = opendir(".");
  int count = 0;
  for (struct dirent *entry; folder != NULL && (entry = readdir(folder)) != NULL;) count += strcmp(entry->d_name, "out.csv.rows") != 0;
  if (folder != NULL) closedir(folder);
  return count;
}

static void complain(const struct job *job, const char *how, long n, const char *what) {
  broken++;
  char *err = read_text("err");
  printf("%s, allocation %ld %s: %s\n%.300s", job->name, n, how, what, err != NULL ? err : "");
  free(err);
}

static void fail_one(const struct job *job, long n, bool later_too, int *files, const char *out, const char *output) {
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
  int more = file_count();
  if (more > *files) {
    complain(job, how, n, "a file is left behind beside the output");
    *files = more;
  }
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

static bool is_new(uint64_t call) {
  for (size_t k = 0; k < CALLS; k++) {
    uint64_t *place = &known[(call + k) % CALLS];
    if (*place == call) return false;
    if (*place != 0) continue;
    *place = call;
    return true;
  }
  return false;
}

/* The count of all allocations; `text`, what the shim wrote, becomes the *count numbers of those that came through a new call. */
static long read_numbers(char *text, long *numbers, long *count) {
  long last = 0;
  *count = 0;
  for (char *line = text, *end; line != NULL && *line != '\0'; line = end != NULL ? end + 1 : NULL) {
    bool fresh = false;
    end = strchr(line, '\n');
    if (end != NULL) *end = '\0';
    last = strtol(line, &line, 10);
    while (*line == ' ') fresh = is_new(strtoull(line, &line, 10)) || fresh;
    if (fresh) numbers[(*count)++] = last;
  }
  return last;
}

static void try_job(const struct job *job, long most) {
  if (job->output != NULL) unlink(job->output);
  int status = run(job, 0, 0, true);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    complain(job, "(none fails)", 0, "does not run");
    return;
  }
  char *text = read_text("count"), *out = read_text("out"), *output = job->output != NULL ? read_text(job->output) : NULL;
  long *numbers = text != NULL ? calloc(strlen(text) + 1, sizeof *numbers) : NULL, listed = 0;
  long count = numbers != NULL ? read_numbers(text, numbers, &listed) : 0;
  int files = file_count();
  if (count == 0 || out == NULL) complain(job, "(none fails)", count, "too few allocations: is the shim loaded?");
  long of = most == EVERY ? count : listed, steps = most > 0 && most < of ? most : of;
  for (long k = 0; k < steps && out != NULL; k++) {
    long at = k * of / steps, n = most == EVERY ? at + 1 : numbers[at];
    if (most <= 0 || k % 4 < 2) fail_one(job, n, false, &files, out, output);
    if (most == EVERY || (most > 0 && k % 4 >= 2) || k % 4 == 0) fail_one(job, n, true, &files, out, output);
  }
  printf("%-17s %6ld allocations, %ld first through a call\n", job->name, count, listed);
  fflush(stdout);
  free(text), free(numbers), free(out), free(output);
}

/* Two seconds of a square wave of 40 Hz in 8 bits at 8 kHz, two channels. */
static bool write_tone(const char *path) {
  static const unsigned char head[] = "RIFF\044\175\0\0WAVEfmt \020\0\0\0\1\0\2\0\100\037\0\0\200\076\0\0\2\0\010\0data\0\175\0";
  FILE *file = fopen(path, "wb");
  bool sound = file != NULL && fwrite(head, 1, sizeof head, file) == sizeof head;
  for (int k = 0; sound && k < 32000; k++) sound = fputc(128 + (k / 200 % 2 != 0 ? -90 : 90), file) != EOF;
  return file != NULL && (fclose(file) == 0) + sound == 2;
}

static bool prepare(void) {
  const char *const car = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                          "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n[targets]\nvoltage = 12.6 V\n";
  const char *const rich =
      "[vehicle]\nwiring = own\nbase load = 28 A\n[alternator]\npositive = post\nnegative = body\nrated current = 110 A\n"
      "[battery starter]\npositive = post\nnegative = body\ncapacity = 70 Ah\ncold cranking = 640 A EN\n"
      "[battery second]\npositive = plus\nnegative = body\nkind = AGM\ncapacity = 60 Ah\n"
      "[isolator split]\nfrom = post\nto = plus\nkind = relay\ncloses above = 13.3 V\nopens below = 12.8 V\nrating = 140 A\n"
      "[fuse main]\nfrom = plus\nto = fused\nrating = 80 A\nkind = bolt-down\n"
      "[cable feed]\nfrom = fused\nto = amplifier plus\nsize = 8 AWG\nlength = 5.5 m\n"
      "[joint stud]\nfrom = amplifier minus\nto = body\nmeasured drop = 0.02 V at 40 A\n"
      "[capacitor stiffener]\npositive = amplifier plus\nnegative = amplifier minus\ncapacitance = 1 F\nesr = 2 mohm\n"
      "[meter there]\npositive = amplifier plus\nnegative = amplifier minus\n"
      "[load lights]\npositive = post\nnegative = body\npower = 120 W\nbehaves = resistor\n"
      "[amplifier bass]\npositive = amplifier plus\nnegative = amplifier minus\nchannels = 4 x 75 W at 4 ohm\nprogramme = tone\n"
      "[amplifier tops]\npositive = amplifier plus\nnegative = amplifier minus\nrated power = 100 W\nprogramme = pulses\n"
      "[programme tone]\nrecording = tone.wav\n[programme pulses]\nenvelope = envelope.csv\n";
  const char *const profile = "time_s,engine_rpm\n0,800\n2,800\n";
  const char *const log = "time_s,engine_rpm,programme,supply_a:bass,voltage_v:amplifier plus\n0,0,silence,0,12.5\n1,0,,20,12.0\n"
                          "2,0,,40,11.5\n3,0,,60,11.0\n4,0,,20,12.0\n5,0,,0,12.4\n6,0,,0,12.4\n";
  const struct {
    const char *path, *text;
  } files[] = {
      {"car.ini", car},
      {"rich.ini", rich},
      {"short.csv", profile},
      {"long.csv", "time_s,engine_rpm,load:lights\n0,0,1\n1,800,1\n2,800,0.5\n4,2000,1\n6,2000,1\n"},
      {"log.csv", log},
      {"readings.csv", "reading,value\nrest: battery post > ground,12.47 V\n"},
      {"loop.csv", "reading,value\ntone off: clamp feed,22.1 A\ntone off: battery post > ground,12.30 V\n"
                   "tone off: amplifier plus > amplifier minus,11.85 V\ntone off: battery post > amplifier plus,0.730 V\n"
                   "tone off: amplifier minus > ground,0.116 V\n"},
      {"typed", "13.2\n"},
      {"answers", "plain\nbass 300 W, 2 x 20 A; tops 4 x 30 W, 15 A\n110\n70 Ah, 640 A EN, AGM, boot\n8 AWG, 5.5 m, clad\n"
                  "seat bolt, 0.8 m\n"},
      {"own.csv", "time_s,engine_rpm,programme\n0,800,own\n2,800,own\n"},
      {"style.ini", "[style]\ncrest factor = 9 dB\ntempo = 100 /min\n"},
      {"trip.csv", "time,mph\n0,0\n10,0\n11,6.2137119\n20,6.2137119\n21,0\n30,0\n"},
      {"envelope.csv", "time_s,share\n0,0.5\n0.5,0.1\n1,0.9\n1.5,0.1\n"},
      {"prices.csv", "part,size,price,price_per_m,hours\ncurrency,EUR,,,\nhour,,60,,\ncable,4 AWG,,6.5,\nwork,feed,,,2\n"
                     "capacitor,1 F,45,,0.7\nalternator,180 A,320,,2.5\n"},
      {"little.csv", "part,size,cost\ncapacitor,0.5 F,1\nlevel,3 dB,\nlevel,15 dB,\n"},
      {"page.html", "<!DOCTYPE html><p>page</p>\n<script type=\"application/json\" id=\"job\">null</script>\n<p>end</p>\n"}};
  static const struct job records[] = {
      {"record", {"simulate", "car.ini", "short.csv", "--spread", "0", "--record", "record.csv"}, NULL, NULL, false},
      {"other",
       {"simulate", "own.ini", "own.csv", "--spread", "0", "--record", "other.csv", "-f", "json", "-o", "other.json"},
       NULL,
       NULL,
       false},
      {"vary.csv", {"vary", "car.ini", "short.csv", WAYS, "cable feed.length = 2 m, 5 m", "-o", "vary.csv"}, NULL, NULL, false},
      {"compared", {"compare", "car.ini", "log.csv", "-o", "compared.csv"}, NULL, NULL, false},
      {"parked.json", {"parked", "car.ini", "--spread", "2", "--for", "1h", "-f", "json", "-o", "parked.json"}, NULL, NULL, false},
      {"remedy.json", {"remedy", "own.ini", "own.csv", "--spread", "0", "-f", "json", "-o", "remedy.json"}, NULL, NULL, false},
      {"vary.json", {"vary", "own.ini", "own.csv", "cable feed.size = 8 AWG, 4 AWG", "-o", "vary.json"}, NULL, NULL, false},
      {"made.json", {"simulate", "own.ini", "own.csv", "--spread", "0", "--format", "json", "-o", "made.json"}, NULL, NULL, false},
      {"made.html", {"report", "own.ini", "own.csv", "--spread", "0", "--quick", "--date", "-", "-o", "made.html"}, NULL, NULL, false}};
  char own[1024];
  snprintf(own, sizeof own, "%s[programme own]\nstyle = style.ini\n", car);
  bool sound = write_text("own.ini", own) && write_tone("tone.wav") && mkdir("left", 0700) == 0;
  for (size_t k = 0; k < sizeof files / sizeof *files; k++) sound = sound && write_text(files[k].path, files[k].text);
  for (size_t k = 0; k < sizeof records / sizeof *records && sound; k++) {
    sound = run(&records[k], 0, 0, false) == 0;
    if (!sound) complain(&records[k], "(none fails)", 0, "does not run");
  }
  return sound;
}

int main(int count, char **words) {
  char folder[] = "/tmp/tailvolt-memory-XXXXXX", line[PATH_MAX + 16];
  if (count < 4) return 2;
  shim = words[1];
  command = words[2];
  asker = words[3];
  long most = count <= 4 ? 8 : strcmp(words[4], "calls") == 0 ? EACH_CALL : strtol(words[4], NULL, 10);
  const char *only = count > 5 ? words[5] : NULL;
  setenv("TMPDIR", "left", 1);
  if (mkdtemp(folder) == NULL || chdir(folder) != 0 || !prepare()) {
    printf("cannot prepare %s\n", folder);
    return 1;
  }
  for (size_t k = 0; k < sizeof jobs / sizeof *jobs; k++)
    if (only == NULL ? most <= 0 || !jobs[k].is_long : strcmp(only, jobs[k].name) == 0) try_job(&jobs[k], most);
  printf("%d failed allocations: %d refused, %d without effect, %d wrong\n", tried, refused, same, broken);
  snprintf(line, sizeof line, "rm -r '%s'", folder);
  return system(line) == 0 && broken == 0 && refused > 0 ? 0 : 1;
}
