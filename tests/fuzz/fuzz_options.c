/* Any line as the words after a command's name, and every reader of values on what it gave. */
#include <stdint.h>
#include <string.h>

/* the command's files are not in the library */
#include "command/messages.c"
#include "command/options.c"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const struct tv_option own[] = {{"strict", 0, NULL, false, TV_OWN, "a switch"},
                                       {"for", 'f', "TIME", false, TV_OWN, "a time"},
                                       {"length", 0, "LENGTH", false, TV_OWN, "a quantity"},
                                       {"level", 'l', "DB", false, TV_OWN, "a number"},
                                       {"spread", 0, "N", false, TV_OWN, "a whole number"},
                                       {"picture", 0, "NAME", false, TV_OWN, "one of some words"},
                                       {"tag", 't', "TEXT", true, TV_OWN, "several"}};
static const struct tv_command command = {.name = "try", .operands = "FILE [FILE]", .least_operands = 1, .most_operands = 2,
                                          .groups = TV_OUTPUT | TV_FORMAT, .options = own, .option_count = 7};
static const char *const pictures[] = {"voltage", "currents", NULL};

static void within(double value, double least, double most) {
  if (!(value >= least && value <= most)) abort();
}

static void read_values(const struct tv_invocation *invocation) {
  double number = 1;
  unsigned long count = 1;
  int choice = 0;
  if (tv_time_option(invocation, "for", 0.1, 3600, &number)) within(number, 0.1, 3600);
  number = 1;
  if (tv_quantity_option(invocation, "length", TAILVOLT_LENGTH, 0.5, 100, &number)) within(number, 0.5, 100);
  number = 1;
  if (tv_number_option(invocation, "level", -60, 3, &number)) within(number, -60, 3);
  if (tv_count_option(invocation, "spread", 0, 1000, &count)) within((double)count, 0, 1000);
  if (tv_choice_option(invocation, "picture", pictures, &choice)) within(choice, 0, 1);
  for (int k = 0; tv_value_at(invocation, "tag", k) != NULL; k++)
    if (k >= invocation->given_count) abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char line[512], *words[64], *at = line;
  int count = 0;
  if (size >= sizeof line) return 0;
  memcpy(line, data, size);
  line[size] = '\0';
  while (count < 64 && (at += strspn(at, "\n"))[0] != '\0') {
    words[count++] = at;
    at += strcspn(at, "\n");
    if (*at != '\0') *at++ = '\0';
  }
  struct tv_invocation invocation = {.command = &command};
  int code = tv_parse_options(&command, count, words, &invocation);
  if (code == TV_EXIT_DONE) {
    bool help = tv_option_given(&invocation, "help"); /* needs no file */
    if (!help && (invocation.operand_count < 1 || invocation.operand_count > 2)) abort();
    if (invocation.given_count > (int)size || invocation.operand_count > count) abort();
    read_values(&invocation);
  } else if (code != TV_EXIT_INPUT) {
    abort();
  }
  tv_free_options(&invocation);
  return 0;
}
