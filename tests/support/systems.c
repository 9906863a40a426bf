#include "support/systems.h"

#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct tailvolt_system *system_of(const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, "car.ini", NULL, 0, &system, &faults) != TAILVOLT_OK)
    fail_msg("line %d: %s\n%s", faults.fault[0].line, faults.fault[0].message, text);
  return system;
}

void refused(const char *text, const char *message) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, "car.ini", NULL, 0, &system, &faults) == TAILVOLT_OK) fail_msg("accepted:\n%s", text);
  for (int k = 0; k < faults.count; k++)
    if (strcmp(faults.fault[k].message, message) == 0) return;
  fail_msg("saw \"%s\"\nwanted \"%s\"", faults.fault[0].message, message);
}

int point_of(const struct tailvolt_system *s, const char *name) {
  for (int k = 0; k < s->point_count; k++)
    if (strcmp(s->point_names[k], name) == 0) return k;
  fail_msg("no point '%s'", name);
  return TAILVOLT_NOWHERE;
}

const struct tailvolt_conductor *conductor_of(const struct tailvolt_system *s, const char *name) {
  for (int k = 0; k < s->conductor_count; k++)
    if (strcmp(s->conductors[k].name, name) == 0) return &s->conductors[k];
  fail_msg("no conductor '%s'", name);
  return NULL;
}

struct tv_alternator machine_of(const double (*points)[2], int count) {
  struct tailvolt_alternator spec;
  memset(&spec, 0, sizeof spec);
  spec.present = true;
  spec.output_count = count;
  for (int k = 0; k < count; k++) {
    spec.output_rpm[k] = points[k][0];
    spec.output_a[k] = points[k][1];
  }
  spec.rated_a = points[count - 1][1];
  spec.rated_v = 13.5;
  spec.fixed_output_a = (double)NAN;
  struct tv_alternator alternator;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_alternator_init(&spec, &alternator, error), TAILVOLT_OK);
  return alternator;
}

FILE *temporary_file(char *path, size_t room) {
  const char *folder = getenv("TMPDIR");
  snprintf(path, room, "%s/tailvolt-XXXXXX", folder != NULL ? folder : "/tmp");
  int file = mkstemp(path);
  assert_true(file >= 0);
  FILE *out = fdopen(file, "w");
  assert_non_null(out);
  return out;
}
