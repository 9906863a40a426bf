/* Recordings and envelope files that are damaged, empty, odd or very long: each is handled, or clearly refused. */
#include "input/recording_files.h"

#include "input/envelope_csv.h"
#include "input/programme_read.h"
#include "tailvolt/envelope.h"

#define WAV_16 (SF_FORMAT_WAV | SF_FORMAT_PCM_16)
#define WAV_FLOAT (SF_FORMAT_WAV | SF_FORMAT_FLOAT)

static const struct tone middle = {-6.0, 480};

static void expect(const char *path, const struct tailvolt_envelope_options *options, enum tailvolt_status status,
                   const char *message) {
  static struct tailvolt_faults faults;
  struct tailvolt_envelope *envelope = NULL;
  assert_int_equal(tailvolt_envelope_read(path, options, &envelope, &faults), status);
  assert_null(envelope);
  assert_int_equal(faults.count, 1);
  assert_string_equal(faults.fault[0].file, path);
  assert_string_equal(faults.fault[0].message, message);
}

static struct tailvolt_envelope *expect_read(const char *path) {
  static struct tailvolt_faults faults;
  struct tailvolt_envelope *envelope = NULL;
  if (tailvolt_envelope_read(path, NULL, &envelope, &faults) != TAILVOLT_OK)
    fail_msg("%s: %s", path, faults.fault[0].message);
  return envelope;
}

static void missing_empty_and_foreign_files(void **state) {
  (void)state;
  expect(in_folder("none.wav"), NULL, TAILVOLT_NOT_READABLE, "No such file or directory");
  expect(folder, NULL, TAILVOLT_NOT_READABLE, "is a folder, not a recording");
  const char *path = write_bytes("empty.wav", "", 0);
  expect(path, NULL, TAILVOLT_BAD_INPUT, "the file is empty (0 bytes)");
  unlink(path);
  path = write_bytes("text.wav", "time_s,share\n0,1\n", 17);
  expect(path, NULL, TAILVOLT_BAD_INPUT, "cannot be read as a recording: Format not recognised.");
  unlink(path);
}

static void no_sound_and_silence(void **state) {
  (void)state;
  const char *path = make_recording("none.wav", WAV_16, 44100, 2, 0, tone_at, &middle);
  expect(path, NULL, TAILVOLT_BAD_INPUT, "holds no sound");
  unlink(path);
  const struct tone nothing = {-400.0, 480};
  path = make_recording("silent.wav", WAV_16, 44100, 2, 4410, tone_at, &nothing);
  expect(path, NULL, TAILVOLT_BAD_INPUT, "is silent throughout");
  unlink(path);
}

static void header_without_channels(void **state) {
  (void)state;
  char bytes[2048];
  const char *path = make_recording("zero.wav", WAV_16, 44100, 1, 441, tone_at, &middle);
  FILE *file = fopen(path, "rb");
  size_t count = fread(bytes, 1, sizeof bytes, file);
  fclose(file);
  bytes[22] = bytes[23] = 0; /* channel count of the format chunk */
  write_bytes("zero.wav", bytes, count);
  expect(path, NULL, TAILVOLT_BAD_INPUT, "cannot be read as a recording: Channel count is zero.");
  unlink(path);
}

static double poisoned_at(const void *about, long n, int c) {
  return n == 33075 && c == 1 ? *(const double *)about : 0.25;
}

static void samples_that_are_no_numbers(void **state) {
  (void)state;
  const double poison[] = {(double)NAN, HUGE_VAL, -HUGE_VAL};
  for (int k = 0; k < 3; k++) {
    const char *path = make_recording("poison.wav", WAV_FLOAT, 44100, 2, 44100, poisoned_at, &poison[k]);
    expect(path, NULL, TAILVOLT_BAD_INPUT,
           "holds a sample that is not a number, or out of all bounds, 0.750 s from its start");
    unlink(path);
  }
}

/* What is there is used and the loss reported; a programme refuses, since a run cannot report it. */
static void files_cut_short(void **state) {
  (void)state;
  static const int formats[] = {WAV_16, SF_FORMAT_AIFF | SF_FORMAT_PCM_16, SF_FORMAT_FLAC | SF_FORMAT_PCM_16,
                                SF_FORMAT_OGG | SF_FORMAT_VORBIS};
  for (int k = 0; k < 4; k++) {
    const char *path = make_recording("cut", formats[k], 44100, 2, 441000, tone_at, &middle);
    struct tailvolt_envelope *whole = expect_read(path);
    assert_false(whole->truncated);
    assert_near(whole->duration_s, 10.0, 1e-9);
    assert_near(whole->declared_s, 10.0, 1e-9);
    tailvolt_envelope_free(whole);
    path = cut_file("cut", 0.6);
    struct tailvolt_envelope *part = expect_read(path);
    assert_true(part->truncated);
    assert_true(part->duration_s > 3.0);
    assert_true(part->duration_s < 7.5);
    if (k < 2) assert_near(part->declared_s, 10.0, 1e-3);
    assert_near(part->whole.crest_factor_db, 3.01, 0.2);
    tailvolt_envelope_free(part);
    struct tailvolt_programme spec;
    struct tv_programme *programme = NULL;
    char error[TAILVOLT_TEXT_MAX], wanted[TAILVOLT_TEXT_MAX];
    memset(&spec, 0, sizeof spec);
    copy_path(spec.recording, sizeof spec.recording, path);
    assert_int_equal(tv_programme_create(&spec, "system.ini", NULL, &programme, error), TAILVOLT_BAD_INPUT);
    snprintf(wanted, sizeof wanted, "%s: is cut short or damaged after", path);
    assert_memory_equal(error, wanted, strlen(wanted));
    unlink(path);
  }
}

/* The length that a writer puts in when it cannot go back to correct it does not mean damage. */
static void length_unknown_to_the_writer(void **state) {
  (void)state;
  const char *path = make_recording("pipe.wav", WAV_16, 44100, 1, 44100, tone_at, &middle);
  static char bytes[100000];
  FILE *file = fopen(path, "rb");
  size_t count = fread(bytes, 1, sizeof bytes, file);
  fclose(file);
  memset(bytes + 4, 0xFF, 4);
  memset(bytes + 40, 0xFF, 4); /* length of the data chunk */
  assert_memory_equal(bytes + 36, "data", 4);
  write_bytes("pipe.wav", bytes, count);
  struct tailvolt_envelope *envelope = expect_read(path);
  assert_false(envelope->truncated);
  assert_near(envelope->duration_s, 1.0, 1e-9);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

static double quiet_but_one_at(const void *about, long n, int c) {
  return c == 5 ? tone_at(about, n, c) : 0.0;
}

static void eight_channels_at_192_khz(void **state) {
  (void)state;
  const struct tone tone = {-1.0, 1920};
  const char *path = make_recording("wide.wav", WAV_FLOAT, 192000, 8, 384000, quiet_but_one_at, &tone);
  struct tailvolt_envelope *envelope = expect_read(path);
  assert_int_equal(envelope->channels, 8);
  assert_near(envelope->rate_hz, 192000.0, 0.0);
  assert_near(envelope->duration_s, 2.0, 1e-12);
  assert_near(envelope->whole.peak_dbfs, -1.0, 1e-5);
  assert_near(envelope->whole.crest_factor_db, 3.0103 + 10.0 * log10(8.0), 1e-4);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

static void an_hour(void **state) {
  (void)state;
  const struct tone tone = {-3.0, 80};
  const char *path = make_recording("hour.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_U8, 8000, 1, 8000 * 3600, tone_at, &tone);
  struct tailvolt_envelope *envelope = expect_read(path);
  assert_int_equal(envelope->window_count, 360000);
  assert_near(envelope->duration_s, 3600.0, 1e-9);
  assert_near(envelope->whole.crest_factor_db, 3.01, 0.03); /* eight bits */
  assert_near_rel(envelope->mean_share_frac, envelope->whole.mean_frac, 1e-10);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

static void options_out_of_range(void **state) {
  (void)state;
  const char *path = make_recording("tone.wav", WAV_16, 8000, 1, 8000, tone_at, &middle);
  struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
  options.window_s = 1e-4;
  expect(path, &options, TAILVOLT_BAD_INPUT, "window: must be 1 ms to 10 s");
  options.window_s = (double)NAN;
  expect(path, &options, TAILVOLT_BAD_INPUT, "window: must be 1 ms to 10 s");
  options = tailvolt_default_envelope_options();
  options.below_hz = 4000.0;
  expect(path, &options, TAILVOLT_BAD_INPUT, "crossover: must be below half of the sampling rate, 4000 Hz");
  options.below_hz = 80.0;
  options.above_hz = 80.0;
  expect(path, &options, TAILVOLT_BAD_INPUT,
         "crossover: nothing is left below one and above the other frequency");
  options.size--;
  static struct tailvolt_faults faults;
  struct tailvolt_envelope *envelope = NULL;
  assert_int_equal(tailvolt_envelope_read(path, &options, &envelope, &faults), TAILVOLT_INTERNAL);
  unlink(path);
}

static void envelope_files_that_are_wrong(void **state) {
  (void)state;
  static const struct {
    const char *text, *error;
  } wrong[] = {
      {"", "is empty: it needs the columns time_s and share"},
      {"# nothing\n\n", "is empty: it needs the columns time_s and share"},
      {"time_s\n0\n", "1: column share is missing"},
      {"share\n0\n", "1: column time_s is missing"},
      {"time_s;share\n0;1\n", "1: cells are separated by commas, not by semicolons"},
      {"\xFE\xFFt", "1: UTF-16 text; save it as UTF-8"},
      {"time_s,share,loud\n", "1:3: column 'loud': an envelope has the columns time_s and share"},
      {"time_s,share,share\n", "1:3: column 'share' appears twice"},
      {"time_s,share\n0,1\n",
       "needs two rows at least: a row holds until the next, the last one ends the envelope"},
      {"time_s,share\n0,1\n0,1\n", "3:1: time 0: must be later than in the row before"},
      {"time_s,share\n0,1\n1,-0.1\n", "3:2: share -0.1: must be 0 to 100"},
      {"time_s,share\n0,1\n1,1e9\n", "3:2: share 1e9: must be 0 to 100"},
      {"time_s,share\n0,nan\n", "2:2: 'nan' is not a number"},
      {"time_s,share\n0\n", "2: 1 cells where the header has 2"},
      {"time_s,share\n0,1,2\n", "2: 3 cells where the header has 2"},
      {"time_s,share\n0,1\n1e-300,1\n", "lasts 1e-300 s: must last 1 ms to 1e9 s"},
      {"time_s,share\n-1e308,1\n1e308,1\n", "lasts inf s: must last 1 ms to 1e9 s"},
      {"time_s,share\n0,\"1\n", "2: a quotation mark is not closed or is inside a cell"},
  };
  for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
    struct tv_table table;
    char error[TAILVOLT_TEXT_MAX];
    const char *path = write_bytes("wrong.csv", wrong[k].text, strlen(wrong[k].text));
    assert_int_equal(tv_envelope_csv_read(path, &table, error), TAILVOLT_BAD_INPUT);
    assert_string_equal(error, wrong[k].error);
    unlink(path);
  }
  struct tailvolt_programme spec;
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  memset(&spec, 0, sizeof spec);
  copy_path(spec.envelope, sizeof spec.envelope, "none.csv");
  assert_int_equal(tv_programme_create(&spec, "nowhere/system.ini", NULL, &programme, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "none.csv: No such file or directory");
}

/* Byte-order mark, CR LF, comments, columns in any order, a start that is not zero, unequal rows. */
static void envelope_file_read_back(void **state) {
  (void)state;
  static const char text[] = "\xEF\xBB\xBFshare,time_s\r\n# loud\r\n1,10\r\n0.25,10.5\r\n0,11.5";
  const char *path = write_bytes("right.csv", text, sizeof text - 1);
  struct tv_table table;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_envelope_csv_read(path, &table, error), TAILVOLT_OK);
  assert_int_equal(table.count, 2);
  assert_near(table.length_s, 1.5, 1e-12);
  assert_near(table.integral_s[2], 0.75, 1e-12);
  tv_table_free(&table);
  struct tailvolt_programme spec;
  struct tv_programme_cursor cursor;
  struct tv_programme *programme = NULL;
  memset(&spec, 0, sizeof spec);
  memset(&cursor, 0, sizeof cursor);
  copy_path(spec.envelope, sizeof spec.envelope, path);
  assert_int_equal(tv_programme_create(&spec, "x/system.ini", NULL, &programme, error), TAILVOLT_OK);
  assert_near(tv_programme_mean(programme, &cursor, 0.25, 0.75), 0.625, 1e-12);
  assert_near(tv_programme_mean(programme, &cursor, 1.4, 1.6), 0.625, 1e-12);
  assert_near(tv_programme_mean(programme, &cursor, -1.5, 13.5), 0.5, 1e-12);
  assert_near(tv_programme_mean(programme, &cursor, -1.5, 1498.5), 0.5, 1e-12);
  tv_programme_free(programme);
  unlink(path);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(missing_empty_and_foreign_files),
      cmocka_unit_test(no_sound_and_silence),
      cmocka_unit_test(header_without_channels),
      cmocka_unit_test(samples_that_are_no_numbers),
      cmocka_unit_test(files_cut_short),
      cmocka_unit_test(length_unknown_to_the_writer),
      cmocka_unit_test(eight_channels_at_192_khz),
      cmocka_unit_test(an_hour),
      cmocka_unit_test(options_out_of_range),
      cmocka_unit_test(envelope_files_that_are_wrong),
      cmocka_unit_test(envelope_file_read_back),
  };
  return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
