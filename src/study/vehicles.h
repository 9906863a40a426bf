/* Vehicles: cars like the one described, each a point of the factors that make cars differ. */
#ifndef TV_STUDY_VEHICLES_H
#define TV_STUDY_VEHICLES_H

#include "tailvolt/certainty.h"

/* Fills points[count x factor_count] with numbers inside (0, 1), those of vehicle k in row k from `first` on. The first 40 factors are a
 * Sobol sequence (GSL's, after Bratley and Fox, ACM Trans. Math. Softw. 14, 1988), scrambled by a digital shift from the seed, so
 * that any 2^m vehicles in a row fill every factor evenly; further ones are spread by a multiplicative hash of seed, vehicle and
 * factor. A vehicle depends on its number and the seed alone. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_points(int factor_count, unsigned long seed, int first, int count, double *points);

/* Independent random points of the same kind, for a fleet that the sequence has not seen. */
void tv_random_points(int factor_count, unsigned long seed, int count, double *points);

/* The numbers of all values of a vehicle. */
void tv_vehicle_values(const struct tailvolt_uncertainty *list, const double *point, double *values);

/* A copy of the system with these numbers; free with tailvolt_system_free(). Values that move nothing while the engine runs are put
 * in too. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_system(const struct tailvolt_system *system, const struct tailvolt_uncertainty *list,
                                                        const double *values, struct tailvolt_system **out);

/* What a profile's rows must follow: speed at idle over the described car's, outside air above it. */
struct tv_vehicle_rows {
  double idle_ratio, ambient_more_k;
};
struct tv_vehicle_rows tv_vehicle_rows(const struct tailvolt_uncertainty *list, const double *values);

/* Moves the values of the described car by one factor, a standard deviation up: the values of an old or new number together, and
 * of the factor that says which new joint is bad, each joint by its part of what they do together. False where it moves nothing. */
bool tv_vehicle_move(const struct tailvolt_uncertainty *list, int factor, double *values);
/* How far a vehicle lies along that, in standard deviations about the mean of all cars. */
double tv_vehicle_along(const struct tailvolt_uncertainty *list, int factor, const double *values);

/* The value by which a factor is called: that of its values which weighs most. -1 = none. */
int tv_factor_value(const struct tailvolt_uncertainty *list, int factor);

#endif
