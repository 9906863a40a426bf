/* Calls that are given NULL for faults: the same status as with room for them, in want of memory too. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/own_allocator.h"
#include "tailvolt/tailvolt.h"

#if OWN_ALLOCATOR
void *__libc_calloc(size_t count, size_t size);
static bool refusing; /* room for faults */
static int refused;

void *calloc(size_t count, size_t size) {
  if (!refusing || count * size != sizeof(struct tailvolt_faults)) return __libc_calloc(count, size);
  refused++;
  return NULL;
}
#endif

static const char car[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                          "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
static char folder[] = "no_faults_XXXXXX";
static struct tailvolt_system *the_car;

static const char *file(const char *name) {
  static char path[sizeof folder + 40];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return path;
}

static void write_file(const char *name, const char *text) {
  FILE *to = fopen(file(name), "w");
  assert_non_null(to);
  assert_true(fputs(text, to) >= 0);
  assert_int_equal(fclose(to), 0);
}

/* Each call with something good, something bad; `out` tells whether it left anything. */
typedef enum tailvolt_status call(bool good, struct tailvolt_faults *faults, bool *out);

static enum tailvolt_status system_read(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_system *system = the_car;
  enum tailvolt_status status = tailvolt_system_read(file(good ? "good.ini" : "bad.ini"), NULL, 0, &system, faults);
  *out = system != NULL;
  tailvolt_system_free(system);
  return status;
}

static enum tailvolt_status system_parse(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_system *system = the_car;
  enum tailvolt_status status = tailvolt_system_parse(good ? car : "[battery]\n", "car", NULL, 0, &system, faults);
  *out = system != NULL;
  tailvolt_system_free(system);
  return status;
}

static enum tailvolt_status system_change(bool good, struct tailvolt_faults *faults, bool *out) {
  const struct tailvolt_setting setting = {good ? "cable feed.length = 5.5 m" : "cable feed.length = 5.5"};
  *out = good;
  return tailvolt_system_change(the_car, &setting, 1, faults);
}

#define PROFILE_GOOD "time_s,engine_rpm\n0,800\n10,800\n"
#define PROFILE_BAD "time_s,engine_rpm\n0,800\n0,800\n"

static enum tailvolt_status profile_read(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_profile *profile = NULL;
  enum tailvolt_status status = tailvolt_profile_read(file(good ? "good.csv" : "bad.csv"), NULL, the_car, &profile, faults);
  *out = profile != NULL;
  tailvolt_profile_free(profile);
  return status;
}

static enum tailvolt_status profile_parse(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_profile *profile = NULL;
  enum tailvolt_status status = tailvolt_profile_parse(good ? PROFILE_GOOD : PROFILE_BAD, "p", the_car, &profile, faults);
  *out = profile != NULL;
  tailvolt_profile_free(profile);
  return status;
}

#define LOG_GOOD "time_s,engine_rpm,voltage_v:ground\n0,800,0\n10,800,0\n"
#define LOG_BAD "time_s,engine_rpm,voltage_v:moon\n0,800,0\n10,800,0\n"

static enum tailvolt_status log_read(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_log *log = NULL;
  enum tailvolt_status status = tailvolt_log_read(file(good ? "good.log" : "bad.log"), NULL, the_car, &log, faults);
  *out = log != NULL;
  tailvolt_log_free(log);
  return status;
}

static enum tailvolt_status log_parse(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_log *log = NULL;
  enum tailvolt_status status = tailvolt_log_parse(good ? LOG_GOOD : LOG_BAD, "log", the_car, &log, faults);
  *out = log != NULL;
  tailvolt_log_free(log);
  return status;
}

#define TRACE_GOOD "time_s,speed_kmh\n0,0\n10,50\n"
#define TRACE_BAD "time_s,speed_kmh\n0,0\n0,50\n"

static enum tailvolt_status trace_read(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_trace *speeds = NULL;
  enum tailvolt_status status = tailvolt_trace_read(file(good ? "good.trace" : "bad.trace"), &speeds, faults);
  *out = speeds != NULL;
  tailvolt_trace_free(speeds);
  return status;
}

static enum tailvolt_status trace_parse(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_trace *speeds = NULL;
  enum tailvolt_status status = tailvolt_trace_parse(good ? TRACE_GOOD : TRACE_BAD, "trace", &speeds, faults);
  *out = speeds != NULL;
  tailvolt_trace_free(speeds);
  return status;
}

static enum tailvolt_status envelope_read(bool good, struct tailvolt_faults *faults, bool *out) {
  /* 0.1 s of a square wave: 8 kHz, 16 bits, one channel */
  enum { FRAMES = 800 };
  static const unsigned char head[44] = {'R', 'I', 'F', 'F', 0x64, 0x06, 0, 0, 'W', 'A', 'V', 'E', 'f', 'm', 't', ' ', 16, 0, 0, 0, 1, 0,
                                         1,   0,   0x40, 0x1f, 0, 0, 0x80, 0x3e, 0, 0, 2, 0, 16, 0, 'd', 'a', 't', 'a', 0x40, 0x06, 0, 0};
  FILE *to = fopen(file("good.wav"), "wb");
  assert_non_null(to);
  assert_int_equal(fwrite(head, 1, sizeof head, to), sizeof head);
  for (int k = 0; k < FRAMES; k++) assert_true(fputc(0, to) == 0 && fputc(k % 80 < 40 ? 0x40 : 0xc0, to) >= 0);
  assert_int_equal(fclose(to), 0);
  struct tailvolt_envelope *envelope = NULL;
  enum tailvolt_status status = tailvolt_envelope_read(file(good ? "good.wav" : "bad.ini"), NULL, &envelope, faults);
  *out = envelope != NULL;
  tailvolt_envelope_free(envelope);
  return status;
}

#define READINGS_GOOD "reading,value\nrest: battery post > ground,12.61 V\n"
#define READINGS_BAD "reading,value\nrest: battery post > ground,12.61 A\n"

static enum tailvolt_status readings_read(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_reading_taken *taken = NULL;
  int count = 0;
  enum tailvolt_status status = tailvolt_readings_read(file(good ? "good.readings" : "bad.readings"), the_car, &taken, &count, faults);
  *out = taken != NULL && count == 1;
  free(taken);
  return status;
}

static enum tailvolt_status readings_parse(bool good, struct tailvolt_faults *faults, bool *out) {
  struct tailvolt_reading_taken *taken = NULL;
  int count = 0;
  enum tailvolt_status status = tailvolt_readings_parse(good ? READINGS_GOOD : READINGS_BAD, "r", the_car, &taken, &count, faults);
  *out = taken != NULL && count == 1;
  free(taken);
  return status;
}

static enum tailvolt_status answers(bool good, struct tailvolt_faults *faults, bool *out) {
  const char *const answer = good ? "belt" : "a rope";
  char *text = NULL;
  enum tailvolt_status status = tailvolt_answers_system(&answer, 1, &text, faults);
  *out = text != NULL;
  tailvolt_system_text_free(text);
  return status;
}

static enum tailvolt_status variation(bool good, struct tailvolt_faults *faults, bool *out) {
  const char *const text = good ? "cable feed.length = 1 m, 2 m" : "cable feed.length";
  struct tailvolt_variation *made = NULL;
  enum tailvolt_status status = tailvolt_variation_parse(&text, 1, &made, faults);
  *out = made != NULL;
  tailvolt_variation_free(made);
  return status;
}

static struct tailvolt_variation *lengths;

static enum tailvolt_status vary_check(bool good, struct tailvolt_faults *faults, bool *out) {
  char system[sizeof folder + 40], profile[sizeof folder + 40];
  struct tailvolt_vary_options options = tailvolt_default_vary_options();
  snprintf(system, sizeof system, "%s", file("good.ini"));
  snprintf(profile, sizeof profile, "%s", file(good ? "good.csv" : "bad.csv"));
  *out = good;
  return tailvolt_vary_check(system, NULL, 0, profile, lengths, &options, faults);
}

static enum tailvolt_status check(bool good, struct tailvolt_faults *faults, bool *out) {
  const struct tailvolt_setting setting = {good ? "music.tempo = 120 /min" : "music.recording = none.wav"};
  struct tailvolt_system *system = NULL;
  static struct tailvolt_faults none; /* so that it takes no room of its own */
  assert_int_equal(tailvolt_system_parse(car, "car", &setting, 1, &system, &none), TAILVOLT_OK);
  enum tailvolt_status status = tailvolt_check(system, faults);
  *out = good;
  tailvolt_system_free(system);
  return status;
}

static const struct {
  const char *name;
  call *call;
} calls[] = {{"system_read", system_read},     {"system_parse", system_parse},   {"system_change", system_change},
             {"profile_read", profile_read},   {"profile_parse", profile_parse}, {"log_read", log_read},
             {"log_parse", log_parse},         {"trace_read", trace_read},       {"trace_parse", trace_parse},
             {"envelope_read", envelope_read}, {"readings_read", readings_read}, {"readings_parse", readings_parse},
             {"answers_system", answers},      {"variation_parse", variation},   {"vary_check", vary_check},
             {"check", check}};

enum { CALLS = sizeof calls / sizeof *calls };

static void status_is_the_same(void **state) {
  (void)state;
  static struct tailvolt_faults faults;
  for (int k = 0; k < CALLS; k++) {
    for (int good = 0; good < 2; good++) {
      bool left, told_left;
      faults.count = faults.dropped = 0;
      enum tailvolt_status told = calls[k].call(good != 0, &faults, &told_left), status = calls[k].call(good != 0, NULL, &left);
      if (good ? told != TAILVOLT_OK : told == TAILVOLT_OK || faults.count == 0) fail_msg("%s: %d with faults", calls[k].name, told);
      if (status != told || left != told_left || left != (good != 0)) fail_msg("%s: %d in place of %d", calls[k].name, status, told);
    }
  }
}

/* What was in them before is gone, but for tailvolt_check(), which adds. */
static void old_faults_are_cleared(void **state) {
  (void)state;
  static struct tailvolt_faults faults;
  for (int k = 0; k < CALLS; k++) {
    bool left;
    faults.count = 3, faults.dropped = 2;
    enum tailvolt_status status = calls[k].call(true, &faults, &left);
    int kept = calls[k].call == check ? 3 : 0;
    if (status != TAILVOLT_OK || faults.count != kept) fail_msg("%s: status %d, %d faults", calls[k].name, status, faults.count);
  }
}

static void memory_may_lack_for_them(void **state) {
  (void)state;
#if !OWN_ALLOCATOR
  skip();
#else
  for (int k = 0; k < CALLS; k++) {
    bool left;
    refusing = true;
    refused = 0;
    enum tailvolt_status status = calls[k].call(true, NULL, &left);
    refusing = false;
    if (status != TAILVOLT_NO_MEMORY || refused != 1) fail_msg("%s: %d, refused %d times", calls[k].name, status, refused);
  }
#endif
}

static void report_without_faults(void **state) {
  (void)state;
  char *text = NULL;
  assert_int_equal(tailvolt_report_faults_json(NULL, NULL, &text), TAILVOLT_OK);
  assert_non_null(strstr(text, "\"faults\": []"));
  assert_non_null(strstr(text, "\"dropped\": 0"));
  tailvolt_report_free(text);
}

static int set_up(void **state) {
  (void)state;
  if (mkdtemp(folder) == NULL) return 1;
  const char *const text = "cable feed.length = 1 m, 2 m";
  static const struct { const char *name, *text; } files[] = {
      {"good.ini", car}, {"bad.ini", "[battery]\n"}, {"good.csv", PROFILE_GOOD}, {"bad.csv", PROFILE_BAD}, {"good.log", LOG_GOOD},
      {"bad.log", LOG_BAD}, {"good.trace", TRACE_GOOD}, {"bad.trace", TRACE_BAD}, {"good.readings", READINGS_GOOD},
      {"bad.readings", READINGS_BAD}};
  for (size_t k = 0; k < sizeof files / sizeof *files; k++) write_file(files[k].name, files[k].text);
  return tailvolt_system_parse(car, "car", NULL, 0, &the_car, NULL) != TAILVOLT_OK ||
         tailvolt_variation_parse(&text, 1, &lengths, NULL) != TAILVOLT_OK;
}

static int tear_down(void **state) {
  (void)state;
  static const char *const names[] = {"good.ini", "bad.ini", "good.csv", "bad.csv", "good.log", "bad.log", "good.trace",
                                      "bad.trace", "good.readings", "bad.readings", "good.wav"};
  for (size_t k = 0; k < sizeof names / sizeof *names; k++) remove(file(names[k]));
  remove(folder);
  tailvolt_system_free(the_car);
  tailvolt_variation_free(lengths);
  return 0;
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(status_is_the_same), cmocka_unit_test(old_faults_are_cleared),
                                     cmocka_unit_test(memory_may_lack_for_them), cmocka_unit_test(report_without_faults)};
  return cmocka_run_group_tests(tests, set_up, tear_down);
}
