/* The option parser: every way to write an option, and every way to get it wrong. */
#include "support/assert_near.h"

#include <string.h>

/* the command's files are not in the library */
#include "command/messages.c"
#include "command/options.c"

static const struct tv_option own[] = {{"strict", 0, NULL, false, TV_OWN, "strict"},
                                       {"width", 'w', "N", false, TV_OWN, "width"},
                                       {"tag", 't', "TEXT", true, TV_OWN, "tag"}};
static const struct tv_command command = {.name = "try", .operands = "FILE [FILE]", .least_operands = 1, .most_operands = 2,
                                          .groups = TV_OUTPUT, .options = own, .option_count = 3};

/* `line` is split at blanks. */
static int parse(const char *line, struct tv_invocation *invocation) {
  static char copy[512];
  static char *words[32];
  int count = 0;
  snprintf(copy, sizeof copy, "%s", line);
  for (char *at = copy; *at != '\0';) {
    at += strspn(at, " ");
    if (*at == '\0') break;
    words[count++] = at;
    at += strcspn(at, " ");
    if (*at != '\0') *at++ = '\0';
  }
  return tv_parse_options(&command, count, words, invocation);
}

static void accepted(void **state) {
  (void)state;
  static const char *const lines[] = {
      "a b --width 3 -q -t one --tag=two -o out", "-w3 -qt one a -ttwo b --output=out",
      "--tag one -qw 3 --tag two -oout -- a b",   "a --width=3 --quiet -tone -t two b -o out"};
  for (size_t k = 0; k < sizeof lines / sizeof lines[0]; k++) {
    struct tv_invocation invocation;
    assert_int_equal(parse(lines[k], &invocation), TV_EXIT_DONE);
    assert_int_equal(invocation.operand_count, 2);
    assert_string_equal(invocation.operands[0], "a");
    assert_string_equal(invocation.operands[1], "b");
    assert_true(invocation.quiet);
    assert_false(tv_option_given(&invocation, "strict"));
    assert_string_equal(tv_value(&invocation, "output"), "out");
    assert_string_equal(tv_value_at(&invocation, "tag", 0), "one");
    assert_string_equal(tv_value_at(&invocation, "tag", 1), "two");
    assert_null(tv_value_at(&invocation, "tag", 2));
    unsigned long width = 0;
    assert_true(tv_count_option(&invocation, "width", 1, 9, &width));
    assert_int_equal(width, 3);
    tv_free_options(&invocation);
  }
}

static void operands(void **state) {
  (void)state;
  struct tv_invocation invocation;
  assert_int_equal(parse("- -- --strict", &invocation), TV_EXIT_DONE); /* a lone dash, and a name that starts with two */
  assert_int_equal(invocation.operand_count, 2);
  assert_string_equal(invocation.operands[0], "-");
  assert_string_equal(invocation.operands[1], "--strict");
  tv_free_options(&invocation);
  assert_int_equal(parse("--help", &invocation), TV_EXIT_DONE); /* help needs no operand */
  tv_free_options(&invocation);
}

static void refused(void **state) {
  (void)state;
  static const char *const lines[] = {
      "", "a b c", "a --widht 3", "a --seed 3", "a -x", "a -qx", "a --width", "a -w", "a --width 1 --width 1", "a -q -q",
      "a -qq", "a --strict=1", "a --quiet=", "a --", "--"};
  for (size_t k = 0; k < sizeof lines / sizeof lines[0]; k++) {
    struct tv_invocation invocation;
    int wanted = strcmp(lines[k], "a --") == 0 ? TV_EXIT_DONE : TV_EXIT_INPUT;
    if (parse(lines[k], &invocation) != wanted) fail_msg("`%s` is not treated as it should be", lines[k]);
    tv_free_options(&invocation);
  }
}

static bool time_of(const char *text, double *value_s) {
  struct tv_given_option given = {.option = &own[1], .value = text};
  struct tv_invocation invocation = {.command = &command, .given_count = 1, .given = &given};
  return tv_time_option(&invocation, "width", 1e-6, 86400.0, value_s);
}

static void times(void **state) {
  (void)state;
  static const struct { const char *text; double value_s; } good[] = {
      {"1ms", 0.001}, {"10 ms", 0.01}, {"0.1ms", 0.0001}, {"2s", 2.0}, {"1.5 min", 90.0}, {"2h", 7200.0}};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    double value_s = -1.0;
    assert_true(time_of(good[k].text, &value_s));
    assert_near(value_s, good[k].value_s, 0.0);
  }
  static const char *const bad[] = {"1", "ms", "", "1us", "1m", "1,5s", "-1s", "0s", "25h", "1s2", "nan s", "inf h", "0x1s"};
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    double value_s = -1.0;
    if (time_of(bad[k], &value_s)) fail_msg("`%s` is taken as a time", bad[k]);
    assert_near(value_s, -1.0, 0.0);
  }
}

static void counts(void **state) {
  (void)state;
  static const char *const bad[] = {"", "-1", "+1", " 1", "1.0", "1e3", "0x10", "10", "0", "99999999999999999999999"};
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    struct tv_given_option given = {.option = &own[1], .value = bad[k]};
    struct tv_invocation invocation = {.command = &command, .given_count = 1, .given = &given};
    unsigned long value = 5;
    if (tv_count_option(&invocation, "width", 1, 9, &value)) fail_msg("`%s` is taken as a count", bad[k]);
    assert_int_equal(value, 5);
  }
}

static void exit_codes(void **state) {
  (void)state;
  assert_int_equal(tv_exit_code(TAILVOLT_OK), 0);
  assert_int_equal(tv_exit_code(TAILVOLT_BAD_INPUT), 2);
  assert_int_equal(tv_exit_code(TAILVOLT_NOT_READABLE), 2);
  assert_int_equal(tv_exit_code(TAILVOLT_NO_MEMORY), 3);
  assert_int_equal(tv_exit_code(TAILVOLT_INTERNAL), 3);
  assert_int_equal(tv_exit_code(TAILVOLT_SINGULAR), 3);
  assert_int_equal(tv_exit_code(TAILVOLT_DIVERGED), 3);
  assert_int_equal(tv_exit_code(TAILVOLT_NOT_WRITTEN), 4);
  assert_int_equal(tv_exit_code(TAILVOLT_STOPPED), 130);
}

static void values_with_units(void **state) {
  (void)state;
  struct tv_invocation invocation;
  double value = 0.0;
  assert_int_equal(parse("a --tag 18ft", &invocation), TV_EXIT_DONE);
  assert_true(tv_quantity_option(&invocation, "tag", TAILVOLT_LENGTH, 0.1, 20.0, &value));
  assert_near(value, 5.4864, 1e-12);
  /* refused: out of its range, no unit, a unit of something else; the value stays as it was */
  assert_false(tv_quantity_option(&invocation, "tag", TAILVOLT_LENGTH, 6.0, 20.0, &value));
  assert_false(tv_quantity_option(&invocation, "tag", TAILVOLT_VOLTAGE, 0.0, 20.0, &value));
  tv_free_options(&invocation);
  assert_int_equal(parse("a --tag 18", &invocation), TV_EXIT_DONE);
  assert_false(tv_quantity_option(&invocation, "tag", TAILVOLT_LENGTH, 0.1, 20.0, &value));
  assert_near(value, 5.4864, 1e-12);
  assert_true(tv_quantity_option(&invocation, "width", TAILVOLT_LENGTH, 0.1, 20.0, &value)); /* not given */
  assert_near(value, 5.4864, 1e-12);
  tv_free_options(&invocation);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(values_with_units),
                                     cmocka_unit_test(accepted), cmocka_unit_test(operands), cmocka_unit_test(refused),
                                     cmocka_unit_test(times),    cmocka_unit_test(counts),   cmocka_unit_test(exit_codes)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
