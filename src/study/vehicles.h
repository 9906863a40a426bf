/* Vehicles: cars like the one described, each a point of the factors that make cars differ. */
#ifndef TV_STUDY_VEHICLES_H
#define TV_STUDY_VEHICLES_H

#include "tailvolt/certainty.h"

/* Fills points[count x factor_count] with numbers inside (0, 1), row k holding vehicle `first` + k. The first 40 factors are a Sobol
 * sequence (GSL's, after Bratley and Fox, ACM Trans. Math. Softw. 14, 1988), scrambled by a digital shift from the seed, so any 2^m
 * consecutive vehicles fill every factor evenly; further factors are spread by a multiplicative hash of seed, vehicle and factor. A
 * vehicle depends only on its number and the seed. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_points(int factor_count, unsigned long seed, int first, int count, double *points);

/* Independent random points of the same kind, for a fleet that the sequence has not seen. */
void tv_random_points(int factor_count, unsigned long seed, int count, double *points);

/* The numbers of all values of a vehicle. */
void tv_vehicle_values(const struct tailvolt_uncertainty *list, const double *point, double *values);

/* A copy of the system with these numbers; free with tailvolt_system_free(). Values with no effect while the engine runs are put in
 * too. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_system(const struct tailvolt_system *system, const struct tailvolt_uncertainty *list,
                                                        const double *values, struct tailvolt_system **out);

/* What a profile's rows must follow: idle speed over the described car's, outside air above it. */
struct tv_vehicle_rows {
  double idle_ratio, ambient_more_k;
};
struct tv_vehicle_rows tv_vehicle_rows(const struct tailvolt_uncertainty *list, const double *values);

/* The mean of every value: the car that differences start from. */
void tv_vehicle_mean(const struct tailvolt_uncertainty *list, double *values);
/* Moves the values of a car by one factor, one standard deviation up (side 1) or down (-1): those of an old or new part together; for
 * the factor that says which new joint is bad, each joint by its share of their joint effect. False where it has no effect, or
 * where there is no such car: down is not always possible. */
bool tv_vehicle_move(const struct tailvolt_uncertainty *list, int factor, int side, double *values);
/* How far vehicles are along each factor, in standard deviations about the mean of all cars: values[count x list->count] to
 * along[count x factor_count]. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicles_along(const struct tailvolt_uncertainty *list, const double *values, int count,
                                                        double *along);

/* The value that a factor is named after: the one with the most weight. -1 = none. */
int tv_factor_value(const struct tailvolt_uncertainty *list, int factor);

#endif
