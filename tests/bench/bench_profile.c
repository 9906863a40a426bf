/* How fast a long profile is read, checked and walked through, and how much memory that takes. Usage: bench_profile
 * [ROWS [FOREIGN_COLUMNS]] (10 million rows by default); the file is in a temporary folder. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "tailvolt/profile.h"

static double now_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static long peak_kib(void) {
  struct rusage usage;
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_maxrss;
}

/* A draw logged at 1 kHz: time, current, an occasional engine speed. */
static int write_log(const char *path, long rows, int foreign) {
  FILE *file = fopen(path, "w");
  if (file == NULL) return 1;
  fputs("time_s,supply_a:bass,engine_rpm", file);
  for (int k = 0; k < foreign; k++) fprintf(file, ",channel_%d", k);
  fputc('\n', file);
  unsigned state = 1;
  for (long r = 0; r < rows; r++) {
    state = state * 1664525u + 1013904223u;
    fprintf(file, "%ld.%03ld,%u.%u,%u", r / 1000, r % 1000, (state >> 16) % 90, (state >> 8) % 10,
            800 + (state >> 20) % 3000);
    for (int k = 0; k < foreign; k++) fprintf(file, ",%u", (state >> 12) % 1000 + (unsigned)k);
    fputc('\n', file);
  }
  return fclose(file) != 0;
}

static int walk(const struct tailvolt_profile *profile, long *rows) {
  struct tailvolt_profile_cursor *cursor;
  if (tailvolt_profile_open(profile, &cursor) != TAILVOLT_OK) return 1;
  const struct tailvolt_row *row;
  double sum = 0;
  *rows = 0;
  int status;
  while ((status = (int)tailvolt_profile_next(cursor, &row)) == TAILVOLT_OK && row != NULL) {
    sum += row->amplifier[0].supply_a;
    ++*rows;
  }
  tailvolt_profile_close(cursor);
  if (sum < 0) puts("");
  return status;
}

static int measure(const char *path, const char *columns, const struct tailvolt_system *system, const char *what) {
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  double begin = now_s();
  if (tailvolt_profile_read(path, columns, system, &profile, &faults) != TAILVOLT_OK) {
    printf("not read: %s\n", faults.count > 0 ? faults.fault[0].message : "?");
    return 1;
  }
  double seconds = now_s() - begin;
  long rows = tailvolt_profile_row_count(profile), walked;
  printf("%s: %ld rows read and checked in %.3f s: %.2f million rows/s", what, rows, seconds,
         1e-6 * (double)rows / seconds);
  begin = now_s();
  if (walk(profile, &walked) != 0 || walked != rows) return 1;
  seconds = now_s() - begin;
  printf("; walked at %.1f ns a row; peak memory %ld KiB\n", 1e9 * seconds / (double)rows, peak_kib());
  tailvolt_profile_free(profile);
  return 0;
}

int main(int argc, char **argv) {
  long rows = argc > 1 ? strtol(argv[1], NULL, 10) : 10000000;
  int foreign = argc > 2 ? (int)strtol(argv[2], NULL, 10) : 0;
  const char *temporary = getenv("TMPDIR");
  char folder[512], path[600];
  snprintf(folder, sizeof folder, "%s/tailvolt-bench-XXXXXX", temporary != NULL ? temporary : "/tmp");
  if (mkdtemp(folder) == NULL) return 1;
  snprintf(path, sizeof path, "%s/log.csv", folder);
  struct tailvolt_amplifier bass = {.name = "bass", .programme = -1};
  struct tailvolt_system system = {.amplifier_count = 1, .amplifiers = &bass};
  system.engine.idle_rpm = 800;
  system.vehicle.ambient_c = 25;
  int failed = write_log(path, 150000, 0) || measure(path, NULL, &system, "in memory");
  failed = failed || write_log(path, rows, foreign) ||
           measure(path, foreign > 0 ? "supply_a:bass,engine_rpm" : NULL, &system, "streamed");
  unlink(path);
  rmdir(folder);
  if (failed) puts("bench failed");
  return failed;
}
