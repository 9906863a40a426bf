#include "report/compare.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/csv.h"
#include "report/json_write.h"
#include "text/number.h"
#include "tailvolt/version.h"

struct tv_number tv_reading(double value, bool current) {
  struct tv_number number = tv_fixed(value, current ? 2 : 3);
  size_t length = strlen(number.text);
  snprintf(number.text + length, sizeof number.text - length, current ? " A" : " V");
  return number;
}

/* "drives/idle.csv" is recognised by its end. */
static const char *short_name(const char *path) {
  const char *slash = strrchr(path, '/');
  return slash != NULL && slash[1] != '\0' ? slash + 1 : path;
}

static const struct tailvolt_compared *same_column(const struct tailvolt_comparison *before, int log, int column) {
  return before != NULL ? &before->logs[log].columns[column] : NULL;
}

static void table_line(struct tv_buffer *buffer, const struct tailvolt_compared *column, const struct tailvolt_compared *before) {
  char line[256];
  if (strlen(column->name) > 26) {
    tv_buffer_add(buffer, "  ");
    tv_buffer_add(buffer, column->name);
    tv_buffer_add(buffer, "\n");
  }
  if (column->count == 0) {
    snprintf(line, sizeof line, "  %-26s       0  no reading in the time compared\n", strlen(column->name) > 26 ? "" : column->name);
    tv_buffer_add(buffer, line);
    return;
  }
  snprintf(line, sizeof line, "  %-26s %7ld %10s %10s", strlen(column->name) > 26 ? "" : column->name, column->count,
           tv_reading(column->bias, column->current).text, tv_reading(column->rms, column->current).text);
  tv_buffer_add(buffer, line);
  if (before != NULL)
    snprintf(line, sizeof line, " %10s\n", tv_reading(before->rms, column->current).text);
  else
    snprintf(line, sizeof line, " %10s %9s\n", tv_reading(column->worst, column->current).text, tv_clock(column->worst_s).text);
  tv_buffer_add(buffer, line);
}

void tv_compare_table(struct tv_buffer *buffer, const struct tailvolt_comparison *comparison,
                      const struct tailvolt_comparison *before) {
  char line[256];
  for (int l = 0; l < comparison->log_count; l++) {
    const struct tailvolt_compared_log *log = &comparison->logs[l];
    snprintf(line, sizeof line, "%-28.28s %7s %10s %10s", short_name(log->name), "readings", "bias", "rms");
    tv_buffer_add(buffer, line);
    snprintf(line, sizeof line, before != NULL ? " %10s\n" : " %10s %9s\n", before != NULL ? "rms before" : "worst", "at");
    tv_buffer_add(buffer, line);
    for (int c = 0; c < log->column_count; c++) table_line(buffer, &log->columns[c], same_column(before, l, c));
  }
}

/* The column with the largest error of its kind, volts before amperes. */
static const struct tailvolt_compared *worst_column(const struct tailvolt_comparison *comparison) {
  const struct tailvolt_compared *worst = NULL;
  for (int l = 0; l < comparison->log_count; l++)
    for (int c = 0; c < comparison->logs[l].column_count; c++) {
      const struct tailvolt_compared *column = &comparison->logs[l].columns[c];
      if (column->count == 0) continue;
      if (worst == NULL || (worst->current && !column->current) || (worst->current == column->current && column->rms > worst->rms))
        worst = column;
    }
  return worst;
}

static void first_line(struct tv_buffer *buffer, const struct tailvolt_comparison *comparison) {
  char line[400];
  const struct tailvolt_compared *worst = worst_column(comparison);
  long readings = 0;
  for (int l = 0; l < comparison->log_count; l++)
    for (int c = 0; c < comparison->logs[l].column_count; c++) readings += comparison->logs[l].columns[c].count;
  if (worst == NULL) return;
  snprintf(line, sizeof line, "APART   %s rms where it is worst (%s),\n        bias %s; %ld readings in %d log%s\n",
           tv_reading(worst->rms, worst->current).text, worst->name, tv_reading(worst->bias, worst->current).text, readings,
           comparison->log_count, comparison->log_count == 1 ? "" : "s");
  tv_buffer_add(buffer, line);
  if (!comparison->music) tv_buffer_add(buffer, "        music off: the log names none\n");
}

static void list_disagreements(struct tv_buffer *buffer, const struct tailvolt_comparison *comparison) {
  char line[400];
  if (comparison->disagreement_count == 0) return;
  tv_buffer_add(buffer, "\nFARTHEST APART  measured  simulated       less  for\n");
  for (int k = 0; k < comparison->disagreement_count; k++) {
    const struct tailvolt_disagreement *d = &comparison->disagreements[k];
    const struct tailvolt_compared_log *log = &comparison->logs[d->log];
    bool current = log->columns[d->column].current;
    snprintf(line, sizeof line, "  %9s %12s %10s %10s  %-8s %s", tv_clock(d->time_s).text, tv_reading(d->measured, current).text,
             tv_reading(d->simulated, current).text, tv_reading(d->simulated - d->measured, current).text,
             d->to_s > d->from_s ? tv_duration(d->to_s - d->from_s).text : "-", log->columns[d->column].name);
    tv_buffer_add(buffer, line);
    if (comparison->log_count > 1) {
      tv_buffer_add(buffer, "\n             in ");
      tv_buffer_add(buffer, short_name(log->name));
    }
    tv_buffer_add(buffer, "\n");
  }
}

enum tailvolt_status tv_compare_text(const struct tailvolt_comparison *comparison, const struct tailvolt_report_style *style,
                                     char **out) {
  struct tv_buffer buffer = {0};
  (void)style;
  first_line(&buffer, comparison);
  tv_buffer_add(&buffer, comparison->set_point_open
                             ? "NEXT    add a column set_point_v, the volts that the computer had the alternator\n"
                               "        hold: where a log has none its low end is simulated throughout\n\n"
                             : "NEXT    `tailvolt match` finds the values of the system file that fit\n\n");
  tv_buffer_add(&buffer, "Simulated less measured:\n");
  tv_compare_table(&buffer, comparison, NULL);
  list_disagreements(&buffer, comparison);
  return tv_buffer_finish(&buffer, out);
}

/* ---- JSON ---- */

static json_t *column_json(const struct tailvolt_compared *column) {
  json_t *object = json_object();
  tv_json_put_text(&object, "name", column->name);
  tv_json_put_text(&object, "unit", column->current ? "A" : "V");
  tv_json_put(&object, "readings", json_integer(column->count));
  tv_json_put_number(&object, "bias", column->bias);
  tv_json_put_number(&object, "rms", column->rms);
  tv_json_put_number(&object, "spread", column->spread);
  tv_json_put_number(&object, "worst", column->worst);
  tv_json_put_number(&object, "worst_s", column->worst_s);
  tv_json_put_number(&object, "measured_mean", column->measured_mean);
  tv_json_put_number(&object, "simulated_mean", column->simulated_mean);
  return object;
}

json_t *tv_compare_logs_json(const struct tailvolt_comparison *comparison) {
  json_t *logs = json_array();
  for (int l = 0; l < comparison->log_count; l++) {
    json_t *log = json_object(), *columns = json_array();
    tv_json_put_text(&log, "name", comparison->logs[l].name);
    for (int c = 0; c < comparison->logs[l].column_count; c++)
      tv_json_append(&columns, column_json(&comparison->logs[l].columns[c]));
    tv_json_put(&log, "columns", columns);
    tv_json_append(&logs, log);
  }
  return logs;
}

enum tailvolt_status tv_compare_json(const struct tailvolt_comparison *comparison, char **out) {
  struct tv_buffer buffer = {0};
  json_t *root = json_object(), *list = json_array();
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put(&root, "music", json_boolean(comparison->music));
  tv_json_put(&root, "logs", tv_compare_logs_json(comparison));
  for (int k = 0; k < comparison->disagreement_count; k++) {
    const struct tailvolt_disagreement *d = &comparison->disagreements[k];
    json_t *one = json_object();
    tv_json_put_text(&one, "log", comparison->logs[d->log].name);
    tv_json_put_text(&one, "column", comparison->logs[d->log].columns[d->column].name);
    tv_json_put_number(&one, "time_s", d->time_s);
    tv_json_put_number(&one, "from_s", d->from_s);
    tv_json_put_number(&one, "to_s", d->to_s);
    tv_json_put_number(&one, "measured", d->measured);
    tv_json_put_number(&one, "simulated", d->simulated);
    tv_json_append(&list, one);
  }
  tv_json_put(&root, "disagreements", list);
  tv_json_write(root, &buffer);
  json_decref(root);
  return tv_buffer_finish(&buffer, out);
}

/* ---- CSV ---- */

/* Columns of all logs by name, each once. */
struct names {
  int count;
  const char *name[256];
};

static void gather_names(const struct tailvolt_comparison *comparison, struct names *all) {
  all->count = 0;
  for (int l = 0; l < comparison->log_count; l++)
    for (int c = 0; c < comparison->logs[l].column_count; c++) {
      int k = 0;
      while (k < all->count && strcmp(all->name[k], comparison->logs[l].columns[c].name) != 0) k++;
      if (k == all->count && k < 256) all->name[all->count++] = comparison->logs[l].columns[c].name;
    }
}

static int column_named(const struct tailvolt_compared_log *log, const char *name) {
  for (int c = 0; c < log->column_count; c++)
    if (strcmp(log->columns[c].name, name) == 0) return c;
  return -1;
}

static bool has_reading(const struct tailvolt_compared_log *log, long row) {
  for (int c = 0; c < log->column_count; c++)
    if (!isnan(log->measured[row * log->column_count + c])) return true;
  return false;
}

static void cell(struct tv_buffer *buffer, double value) {
  tv_buffer_add(buffer, ",");
  if (isfinite(value)) tv_buffer_add(buffer, tv_compact(value, 6).text);
}

static void header(struct tv_buffer *buffer, const struct names *all, bool before) {
  static const char *const what[] = {"measured:", "before:", "simulated:"};
  char name[TAILVOLT_LOG_NAME_MAX + 16];
  tv_buffer_add(buffer, "time_s");
  for (int k = 0; k < all->count; k++)
    for (int w = 0; w < 3; w++) {
      if (w == 1 && !before) continue;
      snprintf(name, sizeof name, "%s%s", what[w], all->name[k]);
      tv_buffer_add(buffer, ",");
      tv_csv_text(buffer, name);
    }
  tv_buffer_add(buffer, ",log\n");
}

enum tailvolt_status tv_compare_csv(const struct tailvolt_comparison *comparison, const struct tailvolt_comparison *before,
                                    char **out) {
  struct tv_buffer buffer = {0};
  struct names all;
  char number[16];
  gather_names(comparison, &all);
  header(&buffer, &all, before != NULL);
  for (int l = 0; l < comparison->log_count; l++) {
    const struct tailvolt_compared_log *log = &comparison->logs[l];
    for (long r = 0; r < log->row_count; r++) {
      if (!has_reading(log, r)) continue;
      tv_buffer_add(&buffer, tv_compact(log->time_s[r], 6).text);
      for (int k = 0; k < all.count; k++) {
        int c = column_named(log, all.name[k]);
        long at = r * log->column_count + c;
        cell(&buffer, c < 0 ? (double)NAN : log->measured[at]);
        if (before != NULL) cell(&buffer, c < 0 ? (double)NAN : before->logs[l].simulated[at]);
        cell(&buffer, c < 0 ? (double)NAN : log->simulated[at]);
      }
      snprintf(number, sizeof number, ",%d\n", l + 1);
      tv_buffer_add(&buffer, number);
    }
  }
  return tv_buffer_finish(&buffer, out);
}
