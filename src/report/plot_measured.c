/* Picture of a comparison: measured and simulated over time, and how far they are apart. Question: is the rest noise, or does it
 * have a shape? */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/plot_parts.h"
#include "report/plot_record.h"
#include "text/number.h"

/* Dots that fit in a picture; of a longer log the largest difference of each stretch is drawn. */
enum { DOTS_MAX = 4000 };
enum { TIME, MEASURED, SIMULATED, BEFORE, LOG, CELLS };

struct dot {
  double cell[CELLS];
};

struct measured {
  struct tv_plot *plot;
  struct tv_record record;
  long count, room;
  struct dot *dots;
  int at[CELLS]; /* index among the columns read; -1 = not in the file */
  double sum2, before2;
  bool no_memory;
};

static bool counts(const struct measured *m, double time_s) {
  return !(time_s < m->plot->request->from_s) && !(time_s > m->plot->request->to_s);
}

static int take(void *context, const double *cells, long offset) {
  struct measured *m = context;
  (void)offset;
  if (isnan(cells[m->at[MEASURED]]) || !counts(m, cells[0])) return 0;
  if (m->count == m->room) {
    long room = m->room == 0 ? 1024 : 2 * m->room;
    struct dot *wider = realloc(m->dots, (size_t)room * sizeof *wider);
    m->no_memory = wider == NULL;
    if (m->no_memory) return 1;
    m->dots = wider;
    m->room = room;
  }
  double *cell = m->dots[m->count++].cell;
  for (int k = 0; k < CELLS; k++) cell[k] = m->at[k] >= 0 ? cells[m->at[k]] : (double)NAN;
  if (m->at[LOG] < 0) cell[LOG] = 1;
  return 0;
}

static void find_column(struct measured *m, struct tv_record_pass *pass, int what, const char *name) {
  m->at[what] = -1;
  for (int k = 0; k < m->record.column_count; k++) {
    if (strcmp(m->record.names[k], name) != 0) continue;
    m->at[what] = pass->chosen_count;
    pass->chosen[pass->chosen_count++] = k;
    return;
  }
}

/* The requested column, else the first measured one; its name without the prefix. */
static const char *choose(struct measured *m, struct tv_record_pass *pass) {
  static const char measured[] = "measured:";
  const char *wanted = m->plot->request->quantity, *name = NULL;
  char full[TV_RECORD_NAME_MAX + 16];
  for (int k = 0; k < m->record.column_count && name == NULL; k++) {
    if (strncmp(m->record.names[k], measured, sizeof measured - 1) != 0) continue;
    if (wanted == NULL || strcmp(m->record.names[k] + sizeof measured - 1, wanted) == 0)
      name = m->record.names[k] + sizeof measured - 1;
  }
  if (name == NULL) return NULL;
  find_column(m, pass, TIME, "time_s");
  snprintf(full, sizeof full, "measured:%s", name);
  find_column(m, pass, MEASURED, full);
  snprintf(full, sizeof full, "simulated:%s", name);
  find_column(m, pass, SIMULATED, full);
  snprintf(full, sizeof full, "before:%s", name);
  find_column(m, pass, BEFORE, full);
  find_column(m, pass, LOG, "log");
  return m->at[TIME] == 0 && m->at[SIMULATED] > 0 ? name : NULL;
}

static double apart(const struct dot *dot) { return fabs(dot->cell[SIMULATED] - dot->cell[MEASURED]); }

static void add_dot(struct tv_plot *plot, const struct dot *dot, double time) {
  tv_plot_cell(plot, time);
  tv_plot_cell(plot, dot->cell[MEASURED]);
  tv_plot_cell(plot, dot->cell[SIMULATED]);
  tv_plot_cell(plot, dot->cell[BEFORE]);
  tv_plot_cell(plot, dot->cell[SIMULATED] - dot->cell[MEASURED]);
  tv_plot_cell(plot, dot->cell[BEFORE] - dot->cell[MEASURED]);
  tv_plot_row(plot);
}

/* One log after the other along the axis. Returns the number of dots. */
static int add_dots(struct measured *m, struct tv_time_axis axis, const double *begins_s) {
  long each = (m->count + DOTS_MAX - 1) / DOTS_MAX;
  int logs = 0;
  double log = (double)NAN;
  for (long k = 0; k < m->count;) {
    const struct dot *dot = &m->dots[k];
    if (logs == 0 || dot->cell[LOG] > log || dot->cell[LOG] < log) {
      if (logs > 0) tv_plot_row(m->plot);
      log = dot->cell[LOG];
      logs++;
    }
    long end = k + 1;
    for (; end < m->count && end - k < each && !(m->dots[end].cell[LOG] > log); end++)
      if (apart(&m->dots[end]) > apart(dot)) dot = &m->dots[end];
    add_dot(m->plot, dot, (dot->cell[TIME] + begins_s[logs - 1]) / axis.in_s);
    k = end;
  }
  return logs;
}

/* What to add to each log's time, so that the first keeps its own and the others follow; *span_s over all. */
static double *lay_out(const struct measured *m, double *span_s) {
  double *begins_s = calloc((size_t)m->count + 1, sizeof *begins_s);
  if (begins_s == NULL) return NULL;
  int logs = 0;
  double end_s = 0;
  for (long k = 0; k < m->count; k++) {
    const double *cell = m->dots[k].cell;
    if (k > 0 && !(cell[LOG] > m->dots[k - 1].cell[LOG])) {
      end_s = cell[TIME] + begins_s[logs - 1];
      continue;
    }
    begins_s[logs] = logs == 0 ? 0 : end_s - cell[TIME];
    end_s = cell[TIME] + begins_s[logs++];
  }
  *span_s = end_s - m->dots[0].cell[TIME];
  return begins_s;
}

static void sum_up(struct measured *m) {
  for (long k = 0; k < m->count; k++) {
    const double *cell = m->dots[k].cell;
    double now = cell[SIMULATED] - cell[MEASURED], before = cell[BEFORE] - cell[MEASURED];
    if (!isnan(now)) m->sum2 += now * now;
    m->before2 += before * before; /* NAN where there is none */
  }
}

static enum tailvolt_status draw(struct measured *m, const char *name) {
  struct tv_plot *plot = m->plot;
  bool current = strncmp(name, "current_a:", 10) == 0;
  const char *unit = current ? "A" : "V", *place = strchr(name, ':');
  double span_s;
  if (m->count == 0) return tv_plot_refuse(plot, "%.150s: has no reading in the requested time", m->record.path);
  double *begins_s = lay_out(m, &span_s);
  if (begins_s == NULL) return TAILVOLT_NO_MEMORY;
  struct tv_time_axis axis = tv_time_axis_of(span_s);
  sum_up(m);
  tv_plot_set_number(plot, "log_count", add_dots(m, axis, begins_s));
  free(begins_s);
  tv_plot_set_text(plot, "time_unit", axis.unit);
  tv_plot_set_text(plot, "unit", unit);
  tv_plot_set_number(plot, "has_before", !isnan(m->before2));
  int digits = current ? 2 : 3;
  double rms = sqrt(m->sum2 / (double)m->count), before = sqrt(m->before2 / (double)m->count);
  const char *what = place != NULL && place[1] != '\0' ? place + 1 : name;
  if (isnan(before))
    tv_plot_title(plot, "%s of %.60s: simulated %s %s rms from measured", current ? "Current" : "Voltage", what,
                  tv_fixed(rms, digits).text, unit);
  else
    tv_plot_title(plot, "%s of %.60s: %s %s rms from measured, %s %s before", current ? "Current" : "Voltage", what,
                  tv_fixed(rms, digits).text, unit, tv_fixed(before, digits).text, unit);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_plot_of_comparison(struct tv_plot *plot, const char *path) {
  struct measured m = {.plot = plot};
  struct tv_record_pass pass = {.from_s = (double)NAN, .to_s = (double)NAN, .context = &m, .row = take};
  enum tailvolt_status status = tv_record_open(path, &m.record);
  const char *name = status == TAILVOLT_OK ? choose(&m, &pass) : NULL;
  if (status != TAILVOLT_OK)
    (void)tv_plot_refuse(plot, "%.200s", m.record.error);
  else if (name == NULL)
    status = tv_plot_refuse(plot, "%.120s: has no column measured:%.60s with its simulated one", path,
                            plot->request->quantity != NULL ? plot->request->quantity : "...");
  else if ((status = tv_record_read(&m.record, &pass)) != TAILVOLT_OK)
    (void)tv_plot_refuse(plot, "%.200s", m.record.error);
  else
    status = m.no_memory ? TAILVOLT_NO_MEMORY : draw(&m, name);
  free(m.dots);
  tv_record_close(&m.record);
  return status;
}
