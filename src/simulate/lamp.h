/* How much a lamp dims on each beat: what a customer sees first.
 *
 * The light of a halogen lamp goes as the cube of its voltage (5 % of volts are 15 % of light, lighting handbooks), and the
 * filament of a 12 V lamp lags the voltage by about 150 ms (common practice), so the voltage is lagged before it is cubed. In
 * each window of a beat the dimming is 1 - least light / most light; the figure of a run is the median over its windows while
 * music plays and the lamp is on. */
#ifndef TV_SIMULATE_LAMP_H
#define TV_SIMULATE_LAMP_H

#include <stdbool.h>

struct tv_run;

#define TV_LAMP_LAG_S 0.15
#define TV_LAMP_BIN_COUNT 1000 /* of a thousandth each */

struct tv_lamp {
  bool watched, if_halogen; /* there is a lamp; of unknown kind, treated as halogen */
  bool counts;              /* in the present row it is lit and music plays */
  int load;                 /* which load; -1 = the headlamps, at the starting battery's posts */
  int port;                 /* among the hot block's ports */
  double sum_vs, sum_s;     /* of the current hundredth of a second */
  double window_s;
  double lag_v;             /* the filament's voltage; 0 = not lit yet */
  double lit_s;             /* time since switched on */
  double least_v, most_v, now_s; /* of the current window */
  double lag_step_s, lag_keep;   /* exp(-step/lag) for the last step length */
  long windows[TV_LAMP_BIN_COUNT];
  long count;
};

void tv_lamp_clear(struct tv_lamp *lamp);
/* Chooses the lamp to watch, and the length of a beat. */
void tv_lamp_choose(struct tv_run *run);
/* Whether it counts in the row in force. */
void tv_lamp_set_row(struct tv_run *run);
/* Takes a stretch at a mean of `v` volts. */
void tv_lamp_take(struct tv_lamp *lamp, double v, double length_s);
/* Takes a step; stretches are of a hundredth of a second, too short for the lag to notice. */
static inline void tv_lamp_step(struct tv_lamp *lamp, double v, double step_s) {
  lamp->sum_vs += v * step_s;
  lamp->sum_s += step_s;
  if (lamp->sum_s < 0.01 - 1e-9) return;
  tv_lamp_take(lamp, lamp->sum_vs / lamp->sum_s, lamp->sum_s);
  lamp->sum_vs = lamp->sum_s = 0;
}
/* Median dimming in per cent; NAN without a window. */
double tv_lamp_dim_pct(const struct tv_lamp *lamp);

#endif
