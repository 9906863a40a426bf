/* Shared by the code that makes pictures. */
#ifndef TV_REPORT_PLOT_PARTS_H
#define TV_REPORT_PLOT_PARTS_H

#include <jansson.h>

#include "text/buffer.h"
#include "report/plot_request.h"

struct tv_plot {
  const struct tv_plot_request *request;
  struct tv_buffer settings, data;
  char *error; /* [TAILVOLT_TEXT_MAX] */
};

/* Settings of the script. Texts come from users' files: quotes are doubled, and whatever gnuplot would run or expand is
 * removed. */
void tv_plot_set_text(struct tv_plot *plot, const char *name, const char *text);
void tv_plot_set_number(struct tv_plot *plot, const char *name, double value);
void tv_plot_title(struct tv_plot *plot, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* Cells of the data, a blank before each; NAN is a missing value. */
void tv_plot_cell(struct tv_plot *plot, double value);
void tv_plot_cell_text(struct tv_plot *plot, const char *text);
void tv_plot_row(struct tv_plot *plot);

/* Fills the error, returns TAILVOLT_BAD_INPUT. */
enum tailvolt_status tv_plot_refuse(struct tv_plot *plot, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* A time axis in s, min or h, to suit its length. */
struct tv_time_axis {
  const char *unit;
  double in_s;
};
struct tv_time_axis tv_time_axis_of(double span_s);

/* A file written by another command, and its name in the key. */
#define TV_PLOT_NAME_MAX 48
#define TV_PLOT_FILES_MAX 6
struct tv_plot_file {
  const char *path;
  char name[TV_PLOT_NAME_MAX];
  const json_t *json; /* of results */
};

/* The picture makers. `path` is the file to be shown. A variation of several keys turns a curve into a family. */
enum tailvolt_status tv_plot_of_record(struct tv_plot *plot, const char *path, int picture);
enum tailvolt_status tv_plot_of_ledger(struct tv_plot *plot, const json_t *result, int picture);
/* The sag of several results, part by part beside each other. */
enum tailvolt_status tv_plot_of_ledgers(struct tv_plot *plot, const struct tv_plot_file *const *files, int count);
/* Several records on one axis: lowest voltage, or charge. */
enum tailvolt_status tv_plot_of_records(struct tv_plot *plot, const struct tv_plot_file *const *files, int count,
                                        int picture);
enum tailvolt_status tv_plot_of_parked(struct tv_plot *plot, const struct tv_plot_file *const *files, int count,
                                       int *picture);
enum tailvolt_status tv_plot_of_envelope(struct tv_plot *plot, const char *path);
/* The CSV of compare or match. */
enum tailvolt_status tv_plot_of_comparison(struct tv_plot *plot, const char *path);
enum tailvolt_status tv_plot_of_profile(struct tv_plot *plot, const char *path);
enum tailvolt_status tv_plot_of_variation(struct tv_plot *plot, const char *path, const json_t *variation,
                                          int *picture);
/* `record` may be NULL. */
enum tailvolt_status tv_plot_of_alternator(struct tv_plot *plot, const char *system, const char *record);

#endif
