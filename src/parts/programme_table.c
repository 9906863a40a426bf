#include "parts/programme_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double edge(const struct tv_table *table, long window) {
  if (table->edge_s != NULL) return table->edge_s[window];
  return window < table->count ? (double)window * table->window_s : table->length_s;
}

/* Neumaier-compensated, so an hour of windows loses nothing. */
enum tailvolt_status tv_table_finish(struct tv_table *table) {
  double sum = 0.0, lost = 0.0;
  table->integral_s = malloc(((size_t)table->count + 1) * sizeof *table->integral_s);
  if (table->integral_s == NULL) return TAILVOLT_NO_MEMORY;
  table->integral_s[0] = 0.0;
  for (long k = 0; k < table->count; k++) {
    double term = table->share_frac[k] * (edge(table, k + 1) - edge(table, k));
    double total = sum + term;
    lost += sum >= term ? (sum - total) + term : (term - total) + sum;
    sum = total;
    table->integral_s[k + 1] = sum + lost;
  }
  return TAILVOLT_OK;
}

void tv_table_free(struct tv_table *table) {
  free(table->edge_s);
  free(table->share_frac);
  free(table->integral_s);
  memset(table, 0, sizeof *table);
}

/* Start of the round that holds t, and the window in it; edges are compared as they are later added, so the
 * window found is the one whose rounded edges hold t. */
static long find_window(const struct tv_table *table, double t_s, double *round_s) {
  double round = floor(t_s / table->length_s);
  if (round * table->length_s > t_s) round -= 1.0;
  if ((round + 1.0) * table->length_s <= t_s) round += 1.0;
  double start_s = round * table->length_s;
  double into_s = t_s - start_s;
  long window;
  if (table->edge_s == NULL) {
    window = (long)(into_s / table->window_s);
  } else {
    long low = 0, high = table->count;
    while (high - low > 1) {
      long middle = low + (high - low) / 2;
      if (table->edge_s[middle] <= into_s)
        low = middle;
      else
        high = middle;
    }
    window = low;
  }
  if (window > table->count - 1) window = table->count - 1;
  while (window > 0 && start_s + edge(table, window) > t_s) window--;
  while (window < table->count - 1 && start_s + edge(table, window + 1) <= t_s) window++;
  *round_s = start_s;
  return window;
}

void tv_table_segment(const struct tv_table *table, double t_s, struct tv_segment *out) {
  double round_s;
  long window = find_window(table, t_s, &round_s);
  out->start_s = round_s + edge(table, window);
  out->end_s = round_s + edge(table, window + 1);
  /* the next round begins at a product, not at this sum */
  if (window == table->count - 1) out->end_s = (floor(round_s / table->length_s + 0.5) + 1.0) * table->length_s;
  out->floor_frac = table->share_frac[window];
  out->amplitude_frac = 0.0;
}

double tv_table_integral(const struct tv_table *table, double t_s) {
  double round_s;
  long window = find_window(table, t_s, &round_s);
  double rounds = floor(round_s / table->length_s + 0.5);
  return rounds * table->integral_s[table->count] + table->integral_s[window] +
         (t_s - (round_s + edge(table, window))) * table->share_frac[window];
}
