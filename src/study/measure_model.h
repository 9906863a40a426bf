/* The car as its readings see it: the unknowns as one vector, and what meters show of it, simulated. */
#ifndef TV_STUDY_MEASURE_MODEL_H
#define TV_STUDY_MEASURE_MODEL_H

#include <gsl/gsl_matrix.h>

#include "tailvolt/measure.h"

/* Unknowns besides the values of the car: those of the occasion and the meters. */
enum tv_occasion {
  TV_OCCASION_BARE_LOAD,  /* logarithm of what the engine itself draws with everything off, A */
  TV_OCCASION_TONE_OFF,   /* logarithm of the tone's power over the requested power, engine off */
  TV_OCCASION_TONE,       /* the same at idle */
  TV_OCCASION_VOLT_GAIN,  /* share by which the voltmeter reads high */
  TV_OCCASION_CLAMP_GAIN,
  TV_OCCASION_CLAMP_ZERO, /* A */
  TV_OCCASIONS
};

/* A vector x holds the values of the list, those that vary by ratio as logarithms, then the occasion's. Priors are jointly
 * normal in it: mean and covariance of vehicles drawn from the ranges, so what belongs together moves together. */
struct tv_measure_model {
  const struct tailvolt_system *system;
  struct tailvolt_uncertainty *list;
  int values, unknowns;        /* unknowns = values + TV_OCCASIONS */
  bool *by_ratio;              /* [values] */
  gsl_vector *mean, *file;     /* [unknowns] of the prior; of the file's own car */
  gsl_matrix *covariance;
  int amplifier;               /* plays the tone */
  double tone_w;
  int threads;
};

/* Fills the model; free it with tv_measure_model_free() whatever the status. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_model_make(const struct tailvolt_system *system,
                                                            const struct tailvolt_measure_options *options,
                                                            struct tv_measure_model *model, char *error);
void tv_measure_model_free(struct tv_measure_model *model);

/* Over the same vehicles: covariance with each unknown, and variance, of sum effect_f z_f, z_f the standardized place along factor f
 * (study/vehicles.h). */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_along(const struct tv_measure_model *model, const double *effect, gsl_vector *with,
                                                       double *variance);

/* Reads a value of the list from a vector, in its own unit and within its bounds; and puts one into a
 * vector. */
double tv_measure_value(const struct tv_measure_model *model, const gsl_vector *x, int k);
double tv_measure_unknown(const struct tv_measure_model *model, int k, double value);

/* A copy of the system with the values of x in it. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_car(const struct tv_measure_model *model, const gsl_vector *x,
                                                     struct tailvolt_system **out);

/* What the meters show for car x, one number per probe; without the meters' own errors where `bare`. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_show(const struct tv_measure_model *model, const gsl_vector *x,
                                                      const struct tailvolt_probe *probes, int count, double *shown, char *error);

/* Their derivatives by each unknown at x: [count x unknowns]. An unknown that makes an impossible car counts as not
 * seen. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_jacobian(const struct tv_measure_model *model, const gsl_vector *x,
                                                          const struct tailvolt_probe *probes, int count, gsl_matrix *jacobian,
                                                          char *error);

/* The part of a meter's error that is new in every reading, one deviation: its digits. */
double tv_measure_noise(const struct tailvolt_probe *probe, double shown);

/* A meter's whole error in one reading, one deviation: gain, digits, and the clamp's zero. */
double tv_measure_error(const struct tailvolt_probe *probe, double value);

/* Conductors on the path of least resistance between two points; none where there is no such path. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_straddled(const struct tailvolt_system *system, int from, int to,
                                                           struct tailvolt_straddled *between);

#endif
