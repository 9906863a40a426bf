/* What a load profile's rows come to: defaults, kept values, one amplifier against all, held rows against streamed
 * ones. */
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input/profile_rows.h"
#include "input/profile_store.h"
#include "support/assert_near.h"
#include "tailvolt/profile.h"
#include "support/systems.h"

static struct tailvolt_load loads[] = {{.name = "lights"}, {.name = "rear window"}};
static struct tailvolt_amplifier amplifiers[] = {{.name = "bass", .programme = -1}, {.name = "front", .programme = 1}};
static struct tailvolt_programme programmes[] = {{.name = "club"}, {.name = "spoken"}, {.name = "a, b"}};

static struct tailvolt_system full_system(void) {
  struct tailvolt_system system = {.load_count = 2, .loads = loads, .amplifier_count = 2, .amplifiers = amplifiers,
                                   .programme_count = 3, .programmes = programmes};
  system.engine.idle_rpm = 800;
  system.vehicle.ambient_c = 21;
  return system;
}

struct walk {
  struct tailvolt_profile *profile;
  struct tailvolt_profile_cursor *cursor;
};

static struct walk start_text(const struct tailvolt_system *system, const char *text) {
  struct walk walk;
  static struct tailvolt_faults faults;
  if (tailvolt_profile_parse(text, "p", system, &walk.profile, &faults) != TAILVOLT_OK)
    fail_msg("refused: %s", faults.fault[0].message);
  assert_int_equal(tailvolt_profile_open(walk.profile, &walk.cursor), TAILVOLT_OK);
  return walk;
}

static const struct tailvolt_row *next(struct walk *walk) {
  const struct tailvolt_row *row;
  assert_int_equal(tailvolt_profile_next(walk->cursor, &row), TAILVOLT_OK);
  return row;
}

static void end(struct walk *walk) {
  assert_null(next(walk));
  assert_null(next(walk));
  tailvolt_profile_close(walk->cursor);
  tailvolt_profile_free(walk->profile);
}

/* ---- rules ---- */

static void absent_columns_take_their_defaults(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system, "time_s,engine_rpm\n-1.5,0\n2,800\n3,0\n");
  const struct tailvolt_row *row = next(&walk);
  assert_near(row->time_s, -1.5, 0);
  assert_near(row->engine_rpm, 0, 0);
  assert_near(row->ambient_c, 21, 0);
  assert_true(isnan(row->set_point_v));
  assert_near(row->base_load_a, 0, 0);
  assert_near(row->load_on[0], 0, 0);
  /* three programmes: none is the only one; the second amplifier has its own */
  assert_int_equal(row->amplifier[0].programme, TAILVOLT_SILENCE);
  assert_int_equal(row->amplifier[1].programme, 1);
  assert_near(row->amplifier[0].level_db, 0, 0);
  assert_true(row->amplifier[0].powered && row->amplifier[1].powered);
  assert_true(isnan(row->amplifier[0].output_w) && isnan(row->amplifier[0].supply_w) &&
              isnan(row->amplifier[0].supply_a));
  row = next(&walk);
  assert_near(row->load_on[0], 1, 0);
  assert_near(row->load_on[1], 1, 0);
  row = next(&walk);
  assert_near(row->load_on[1], 0, 0);
  assert_near(tailvolt_profile_start_s(walk.profile), -1.5, 0);
  assert_near(tailvolt_profile_end_s(walk.profile), 3, 0);
  assert_int_equal(tailvolt_profile_row_count(walk.profile), 3);
  assert_string_equal(tailvolt_profile_name(walk.profile), "p");
  assert_false(tailvolt_profile_prescribes(walk.profile, 0));
  end(&walk);
}

static void no_engine_column_means_engine_off(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system, "time_s\n0\n1\n");
  assert_near(next(&walk)->engine_rpm, 0, 0);
  assert_near(next(&walk)->load_on[0], 0, 0);
  end(&walk);
}

static void the_only_programme_plays(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  system.programme_count = 1;
  struct tailvolt_amplifier bass = {.name = "bass", .programme = -1};
  system.amplifier_count = 1;
  system.amplifiers = &bass;
  struct walk walk = start_text(&system, "time_s,programme\n0,\n1,silence\n2,\n3,club\n");
  assert_int_equal(next(&walk)->amplifier[0].programme, 0);
  assert_int_equal(next(&walk)->amplifier[0].programme, TAILVOLT_SILENCE);
  assert_int_equal(next(&walk)->amplifier[0].programme, TAILVOLT_SILENCE);
  assert_int_equal(next(&walk)->amplifier[0].programme, 0);
  end(&walk);
}

/* An amplifier's own music takes the place of the profile's, but where the profile is silent so is it. */
static void own_music_and_one_amplifiers_column(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system,
                                "time_s,programme,level_db,level_db:front\n"
                                "0,club,-3,-9\n1,silence,-4,\n2,\"a, b\",,-2\n");
  const struct tailvolt_row *row = next(&walk);
  assert_int_equal(row->amplifier[0].programme, 0);
  assert_int_equal(row->amplifier[1].programme, 1);
  assert_near(row->amplifier[0].level_db, -3, 0);
  assert_near(row->amplifier[1].level_db, -9, 0);
  row = next(&walk);
  assert_int_equal(row->amplifier[0].programme, TAILVOLT_SILENCE);
  assert_int_equal(row->amplifier[1].programme, TAILVOLT_SILENCE);
  assert_near(row->amplifier[0].level_db, -4, 0);
  assert_near(row->amplifier[1].level_db, -9, 0);
  row = next(&walk);
  assert_int_equal(row->amplifier[0].programme, 2);
  assert_near(row->amplifier[0].level_db, -4, 0);
  assert_near(row->amplifier[1].level_db, -2, 0);
  end(&walk);
  /* its own column is obeyed to the letter */
  walk = start_text(&system, "time_s,programme,programme:front\n0,spoken,club\n1,,silence\n");
  row = next(&walk);
  assert_int_equal(row->amplifier[0].programme, 1);
  assert_int_equal(row->amplifier[1].programme, 0);
  assert_int_equal(next(&walk)->amplifier[1].programme, TAILVOLT_SILENCE);
  end(&walk);
  /* empty in the first row counts as absent, its own music included */
  walk = start_text(&system, "time_s,programme,programme:front\n0,silence,\n1,club,\n2,club,club\n");
  assert_int_equal(next(&walk)->amplifier[1].programme, TAILVOLT_SILENCE);
  assert_int_equal(next(&walk)->amplifier[1].programme, TAILVOLT_SILENCE); /* the value above */
  assert_int_equal(next(&walk)->amplifier[1].programme, 0);
  end(&walk);
  walk = start_text(&system, "time_s,programme,programme:front\n0,club,\n1,club,\n");
  assert_int_equal(next(&walk)->amplifier[1].programme, 1);
  next(&walk);
  end(&walk);
}

static void empty_cells_keep_the_value_above(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system,
                                "time_s,engine_rpm,ambient_c,set_point_v,base_load_a,load:lights,power:bass\n"
                                "0,900,,,,,\n1,,5,14.1,3,0.25,0\n2,,,,,,\n3,0,,,,,1\n");
  const struct tailvolt_row *row = next(&walk);
  assert_near(row->ambient_c, 21, 0);
  assert_true(isnan(row->set_point_v));
  assert_near(row->base_load_a, 0, 0);
  assert_near(row->load_on[0], 1, 0); /* the engine runs */
  assert_true(row->amplifier[0].powered);
  const struct tailvolt_row *before = row;
  row = next(&walk);
  /* two neighbouring rows are held at once */
  assert_near(before->ambient_c, 21, 0);
  assert_true(before != row);
  row = next(&walk);
  assert_near(row->engine_rpm, 900, 0);
  assert_near(row->ambient_c, 5, 0);
  assert_near(row->set_point_v, 14.1, 0);
  assert_near(row->base_load_a, 3, 0);
  assert_near(row->load_on[0], 0.25, 0);
  assert_false(row->amplifier[0].powered);
  row = next(&walk);
  assert_near(row->load_on[0], 0.25, 0); /* a column's value applies with the engine off too */
  assert_near(row->load_on[1], 0, 0);
  assert_true(row->amplifier[0].powered);
  end(&walk);
}

static void prescribed_draws_start_from_nothing(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system, "time_s,supply_a:bass,output_w:front\n0,,\n1,12.5,40\n2,,\n");
  const struct tailvolt_row *row = next(&walk);
  assert_near(row->amplifier[0].supply_a, 0, 0);
  assert_near(row->amplifier[1].output_w, 0, 0);
  assert_true(isnan(row->amplifier[0].supply_w));
  next(&walk);
  row = next(&walk);
  assert_near(row->amplifier[0].supply_a, 12.5, 0);
  assert_near(row->amplifier[1].output_w, 40, 0);
  assert_true(tailvolt_profile_prescribes(walk.profile, 0));
  assert_false(tailvolt_profile_prescribes(walk.profile, 1)); /* output is no draw */
  assert_false(tailvolt_profile_prescribes(walk.profile, 2));
  assert_false(tailvolt_profile_prescribes(walk.profile, -1));
  end(&walk);
}

static void marks_line_ends_comments_and_notes(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system,
                                "\xEF\xBB\xBF\r\n# a 5\" speaker, too\r\n time_s , notes,engine_rpm\t\r\n\r\n"
                                "0,\"said: \"\"go\"\", then\",900\r\n   \r\n"
                                "  # half way\r\n 1 ,nan , 950 \r\n\"2\",,\"0\"");
  assert_near(next(&walk)->engine_rpm, 900, 0);
  assert_near(next(&walk)->engine_rpm, 950, 0);
  const struct tailvolt_row *row = next(&walk);
  assert_near(row->time_s, 2, 0);
  assert_near(row->engine_rpm, 0, 0);
  end(&walk);
}

static void half_of_idle_is_the_least(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct walk walk = start_text(&system, "time_s,engine_rpm\n0,400\n1,0\n");
  assert_near(next(&walk)->engine_rpm, 400, 0);
  next(&walk);
  end(&walk);
}

static void the_system_may_go_first(void **state) {
  (void)state;
  struct tailvolt_system *system = malloc(sizeof *system);
  *system = full_system();
  struct walk walk = start_text(system, "time_s,programme\n0,spoken\n1,club\n");
  memset(system, 0xA5, sizeof *system);
  free(system);
  assert_int_equal(next(&walk)->amplifier[0].programme, 1);
  assert_int_equal(next(&walk)->amplifier[0].programme, 0);
  end(&walk);
}

/* ---- two ways, one answer ---- */

static unsigned random_below(unsigned *seed, unsigned limit) {
  *seed = *seed * 1664525u + 1013904223u;
  return (*seed >> 8) % limit;
}

/* A line that is valid about half of the time. */
static void random_line(unsigned *seed, int row, char *line, size_t room) {
  static const char *const pieces[] = {"800", "0",     "900.25", "", " ",  "1e3",     "club",   "silence", "a, b", "x",
                                       "\t5", "4 ",    "-3",     "0.5", "+2", "nan",   "spoken", "1e400",   "--1", "1,5",
                                       ".5",  "5.",    "\"7\"",  "a\"b", "2\r", "12345678901234567890", "0.1e-3"};
  int cells = random_below(seed, 8) == 0 ? (int)random_below(seed, 12) : 8;
  line[0] = '\0';
  for (int k = 0; k < cells; k++) {
    char cell[64];
    if (k == 1 && random_below(seed, 10) > 0)
      snprintf(cell, sizeof cell, "%d", row);
    else if (k == 0 || random_below(seed, 9) == 0)
      snprintf(cell, sizeof cell, "%s", pieces[random_below(seed, sizeof pieces / sizeof pieces[0])]);
    else
      snprintf(cell, sizeof cell, "%s%s", random_below(seed, 5) == 0 ? " " : "",
               k == 5 ? "club" : random_below(seed, 2) ? "1" : "");
    size_t used = strlen(line);
    snprintf(line + used, room - used, "%s%s", k > 0 ? "," : "", cell);
  }
}

static void fast_and_checked_reading_agree(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  struct tv_profile_parts parts;
  assert_true(tv_profile_parts_copy(&parts, &system));
  struct tv_cells header;
  assert_true(tv_cells_init(&header));
  const char *names = "note,time_s,note,engine_rpm,load:lights,programme,power:bass,note z";
  assert_int_equal(tv_cells_split(&header, names, strlen(names)), TV_SPLIT_DONE);
  static struct tailvolt_faults faults;
  struct tv_profile_columns columns;
  assert_int_equal(tv_profile_columns_read(&columns, &header, NULL, &parts, "p", 1, &faults), TAILVOLT_OK);
  assert_int_equal(faults.count, 0);
  struct tv_rows fast, checked;
  assert_true(tv_rows_init(&fast, &columns, &parts, "p", &faults));
  assert_true(tv_rows_init(&checked, &columns, &parts, "p", &faults));
  unsigned seed = 7;
  int taken = 0, refused = 0;
  for (int row = 0; row < 200000; row++) {
    char line[512];
    random_line(&seed, row, line, sizeof line);
    faults.count = faults.dropped = 0;
    checked.last_time_s = fast.last_time_s = row - 0.5;
    memcpy(checked.value, fast.value, (size_t)columns.count * sizeof(double));
    double before[8];
    memcpy(before, fast.value, (size_t)columns.count * sizeof(double));
    bool took = tv_rows_take_fast(&fast, line, strlen(line));
    assert_true(tv_rows_take_checked(&checked, line, strlen(line), row));
    bool right = faults.count == 0;
    if (took && !right) fail_msg("taken though %s: %s", faults.fault[0].message, line);
    if (!took && right && strchr(line, '"') == NULL) fail_msg("left though right: %s", line);
    if (took && memcmp(fast.value, checked.value, (size_t)columns.count * sizeof(double)) != 0)
      fail_msg("read otherwise: %s", line);
    /* a faulty row's values are not used */
    if (!took) memcpy(fast.value, before, (size_t)columns.count * sizeof(double));
    taken += took;
    refused += !right;
  }
  assert_true(taken > 20000 && refused > 20000);
  tv_rows_free(&fast);
  tv_rows_free(&checked);
  tv_profile_columns_free(&columns);
  tv_cells_free(&header);
  tv_profile_parts_free(&parts);
}

static void rows_equal(const struct tailvolt_row *a, const struct tailvolt_row *b) {
  assert_memory_equal(&a->time_s, &b->time_s, sizeof(double));
  assert_memory_equal(&a->engine_rpm, &b->engine_rpm, sizeof(double));
  assert_memory_equal(&a->ambient_c, &b->ambient_c, sizeof(double));
  assert_true(isnan(a->set_point_v) == isnan(b->set_point_v));
  if (!isnan(a->set_point_v)) assert_near(a->set_point_v, b->set_point_v, 0);
  assert_memory_equal(&a->base_load_a, &b->base_load_a, sizeof(double));
  assert_memory_equal(a->load_on, b->load_on, 2 * sizeof(double));
  for (int k = 0; k < 2; k++) {
    const struct tailvolt_amplifier_row *p = &a->amplifier[k], *q = &b->amplifier[k];
    assert_int_equal(p->programme, q->programme);
    assert_int_equal(p->powered, q->powered);
    assert_near(p->level_db, q->level_db, 0);
    assert_true(isnan(p->output_w) == isnan(q->output_w) && isnan(p->supply_w) == isnan(q->supply_w) &&
                isnan(p->supply_a) == isnan(q->supply_a));
    if (!isnan(p->supply_a)) assert_near(p->supply_a, q->supply_a, 0);
    if (!isnan(p->output_w)) assert_near(p->output_w, q->output_w, 0);
  }
}

static void write_varied(FILE *out, int rows) {
  unsigned seed = 3;
  fputs("# varied\ntime_s,foreign,engine_rpm,set_point_v,load:lights,programme,power:front,supply_a:bass,note\n", out);
  for (int r = 0; r < rows; r++) {
    fprintf(out, "%d.%03d,nan,", r / 10, r % 10 * 100);
    if (random_below(&seed, 3) == 0)
      fprintf(out, "%d", random_below(&seed, 4) == 0 ? 0 : 400 + (int)random_below(&seed, 5000));
    fputs(",", out);
    if (random_below(&seed, 9) == 0) fprintf(out, "14.%u", random_below(&seed, 10));
    fputs(",", out);
    if (random_below(&seed, 5) == 0) fprintf(out, "0.%u", random_below(&seed, 1000));
    fputs(",", out);
    if (random_below(&seed, 5) == 0) fputs(random_below(&seed, 2) ? "spoken" : "\"a, b\"", out);
    fputs(",", out);
    if (random_below(&seed, 7) == 0) fprintf(out, "%u", random_below(&seed, 2));
    fprintf(out, ",%u.%u,\n", random_below(&seed, 90), random_below(&seed, 100));
    if (random_below(&seed, 50) == 0) fputs("\n# pause\n", out);
  }
  fclose(out);
}

static void streamed_rows_equal_held_ones(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  const char *wanted = "engine_rpm,set_point_v, load:lights,programme,power:front,supply_a:bass";
  char path[512];
  write_varied(temporary_file(path, sizeof path), 30000);
  struct tailvolt_profile *held, *streamed;
  if (tv_profile_read_limited(path, wanted, &system, (size_t)1 << 30, &held, &faults) != TAILVOLT_OK)
    fail_msg("%d: %s", faults.fault[0].line, faults.fault[0].message);
  assert_int_equal(tv_profile_read_limited(path, wanted, &system, 1000, &streamed, &faults), TAILVOLT_OK);
  assert_non_null(held->values);
  assert_null(streamed->values);
  assert_int_equal(tailvolt_profile_row_count(streamed), 30000);
  assert_near(tailvolt_profile_end_s(streamed), 2999.9, 0);
  assert_true(tailvolt_profile_prescribes(streamed, 0));
  /* two cursors on one streamed profile, the second one 1000 rows behind */
  struct walk a = {held, NULL}, b = {streamed, NULL}, c = {streamed, NULL}, d = {held, NULL};
  assert_int_equal(tailvolt_profile_open(held, &a.cursor), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(streamed, &b.cursor), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(streamed, &c.cursor), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(held, &d.cursor), TAILVOLT_OK);
  remove(path); /* the open file stays */
  const struct tailvolt_row *above = NULL, *above_held = NULL;
  for (int r = 0; r < 31000; r++) {
    if (r < 30000) {
      const struct tailvolt_row *held_row = next(&a), *streamed_row = next(&b);
      rows_equal(held_row, streamed_row);
      if (above != NULL) rows_equal(above_held, above);
      above = streamed_row;
      above_held = held_row;
    }
    if (r >= 1000) rows_equal(next(&d), next(&c));
  }
  assert_null(next(&a));
  assert_null(next(&b));
  assert_null(next(&c));
  tailvolt_profile_close(a.cursor);
  tailvolt_profile_close(b.cursor);
  tailvolt_profile_close(c.cursor);
  tailvolt_profile_close(d.cursor);
  tailvolt_profile_free(held);
  tailvolt_profile_free(streamed);
}

/* Requested columns among thousands of others, wherever they are; the others may hold anything. */
static void foreign_columns_are_skipped(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  unsigned seed = 11;
  for (int round = 0; round < 60; round++) {
    int count = 1 + (int)random_below(&seed, round < 40 ? 400 : 4000);
    int time_at = (int)random_below(&seed, (unsigned)count), draw_at = count - 1 - time_at;
    if (time_at == draw_at) continue;
    char path[512];
    FILE *out = temporary_file(path, sizeof path);
    for (int k = 0; k < count; k++)
      fprintf(out, "%s%s", k > 0 ? "," : "", k == time_at ? "time_s" : k == draw_at ? "supply_a:bass" : "engine_rpm");
    for (int r = 0; r < 4; r++)
      for (int k = 0; k < count; k++) {
        static const char *const foreign[] = {"", "nan", "x", "-1", " 12345678901 ", "open", "1e999", "7"};
        char cell[32];
        snprintf(cell, sizeof cell, "%d", k == time_at ? r : 3 * r);
        fprintf(out, "%s%s", k > 0 ? "," : "\n", k == time_at || k == draw_at ? cell : foreign[random_below(&seed, 8)]);
      }
    fclose(out);
    struct walk walk;
    if (tailvolt_profile_read(path, "supply_a:bass", &system, &walk.profile, &faults) != TAILVOLT_OK)
      fail_msg("%d columns, %d and %d: %s", count, time_at, draw_at, faults.fault[0].message);
    assert_int_equal(tailvolt_profile_open(walk.profile, &walk.cursor), TAILVOLT_OK);
    for (int r = 0; r < 4; r++) {
      const struct tailvolt_row *row = next(&walk);
      assert_near(row->time_s, r, 0);
      assert_near(row->amplifier[0].supply_a, 3 * r, 0);
      assert_near(row->engine_rpm, 0, 0);
    }
    end(&walk);
    remove(path);
  }
}

static void a_file_that_changed_is_noticed(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  char path[512];
  FILE *out = temporary_file(path, sizeof path);
  fputs("time_s,engine_rpm\n0,0\n1,0\n2,0\n", out);
  fclose(out);
  struct tailvolt_profile *profile;
  assert_int_equal(tv_profile_read_limited(path, NULL, &system, 1, &profile, &faults), TAILVOLT_OK);
  struct tailvolt_profile_cursor *before, *after;
  assert_int_equal(tailvolt_profile_open(profile, &before), TAILVOLT_OK);
  out = fopen(path, "w");
  fputs("time_s,engine_rpm\n0,0\n1,x\n2,0\n3,4\n", out);
  fclose(out);
  assert_int_equal(tailvolt_profile_open(profile, &after), TAILVOLT_NOT_READABLE);
  assert_null(after);
  const struct tailvolt_row *row;
  assert_int_equal(tailvolt_profile_next(before, &row), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_next(before, &row), TAILVOLT_NOT_READABLE);
  assert_null(row);
  tailvolt_profile_close(before);
  tailvolt_profile_free(profile);
  remove(path);
}

/* Input that cannot be read twice is spooled. */
static void a_pipe_is_read_like_a_file(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  int ends[2], kept = dup(STDIN_FILENO);
  for (int streamed = 0; streamed < 2; streamed++) {
    assert_int_equal(pipe(ends), 0);
    const char text[] = "time_s,engine_rpm\n0,0\n1,900\n2,0\n";
    assert_int_equal(write(ends[1], text, sizeof text - 1), sizeof text - 1);
    close(ends[1]);
    assert_true(dup2(ends[0], STDIN_FILENO) >= 0);
    close(ends[0]);
    struct walk walk;
    assert_int_equal(tv_profile_read_limited("-", NULL, &system, streamed ? 1 : 1000, &walk.profile, &faults),
                     TAILVOLT_OK);
    assert_string_equal(tailvolt_profile_name(walk.profile), "standard input");
    assert_int_equal(tailvolt_profile_open(walk.profile, &walk.cursor), TAILVOLT_OK);
    next(&walk);
    assert_near(next(&walk)->engine_rpm, 900, 0);
    next(&walk);
    end(&walk);
  }
  if (kept >= 0) {
    dup2(kept, STDIN_FILENO);
    close(kept);
  }
}

/* ---- rows of a host program ---- */

static void rows_of_a_host_come_back(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  double on[3][2] = {{0, 1}, {0.5, 1}, {1, 1}};
  struct tailvolt_amplifier_row rows_of[3][2];
  struct tailvolt_row rows[3];
  for (int r = 0; r < 3; r++) {
    for (int k = 0; k < 2; k++)
      rows_of[r][k] = (struct tailvolt_amplifier_row){.programme = k + r - 1, .level_db = -r, .powered = r != 1,
                                                      .output_w = (double)NAN, .supply_w = (double)NAN,
                                                      .supply_a = k == 0 ? 3.5 * r : (double)NAN};
    rows[r] = (struct tailvolt_row){.time_s = r, .engine_rpm = 800.0 * r, .ambient_c = 10, .set_point_v = (double)NAN,
                                    .base_load_a = 2, .load_on = on[r], .amplifier = rows_of[r]};
  }
  struct walk walk;
  assert_int_equal(tailvolt_profile_from_rows(rows, 3, "host", &system, &walk.profile), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(walk.profile, &walk.cursor), TAILVOLT_OK);
  for (int r = 0; r < 3; r++) rows_equal(next(&walk), &rows[r]);
  assert_true(tailvolt_profile_prescribes(walk.profile, 0));
  assert_false(tailvolt_profile_prescribes(walk.profile, 1));
  end(&walk);

  struct tailvolt_profile *profile;
  assert_int_equal(tailvolt_profile_from_rows(rows, 1, "host", &system, &profile), TAILVOLT_BAD_INPUT);
  double *const spoilt[] = {&rows[1].time_s, &rows[1].engine_rpm, &rows[1].ambient_c, &rows[1].base_load_a, &on[1][0],
                            &rows_of[1][1].level_db, &rows_of[1][0].supply_w};
  const double values[] = {0, 399, (double)NAN, -1, 1.5, (double)INFINITY, 100};
  for (size_t k = 0; k < sizeof spoilt / sizeof spoilt[0]; k++) {
    double kept = *spoilt[k];
    *spoilt[k] = values[k];
    if (tailvolt_profile_from_rows(rows, 3, "host", &system, &profile) != TAILVOLT_BAD_INPUT)
      fail_msg("spoilt value %zu was accepted", k);
    assert_null(profile);
    *spoilt[k] = kept;
  }
  rows_of[2][1].programme = 3;
  assert_int_equal(tailvolt_profile_from_rows(rows, 3, "host", &system, &profile), TAILVOLT_BAD_INPUT);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(absent_columns_take_their_defaults),
      cmocka_unit_test(no_engine_column_means_engine_off),
      cmocka_unit_test(the_only_programme_plays),
      cmocka_unit_test(own_music_and_one_amplifiers_column),
      cmocka_unit_test(empty_cells_keep_the_value_above),
      cmocka_unit_test(prescribed_draws_start_from_nothing),
      cmocka_unit_test(marks_line_ends_comments_and_notes),
      cmocka_unit_test(half_of_idle_is_the_least),
      cmocka_unit_test(the_system_may_go_first),
      cmocka_unit_test(fast_and_checked_reading_agree),
      cmocka_unit_test(streamed_rows_equal_held_ones),
      cmocka_unit_test(foreign_columns_are_skipped),
      cmocka_unit_test(a_file_that_changed_is_noticed),
      cmocka_unit_test(a_pipe_is_read_like_a_file),
      cmocka_unit_test(rows_of_a_host_come_back),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
