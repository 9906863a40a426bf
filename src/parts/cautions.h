/* What every report tells whoever goes on to work on the car: general cautions and a fitting checklist. */
#ifndef TV_PARTS_CAUTIONS_H
#define TV_PARTS_CAUTIONS_H

#include <stdbool.h>
#include <stddef.h>

/* Constant tables of sentences; the count goes to *count. */
const char *const *tv_general_cautions(size_t *count);
const char *const *tv_fitting_checklist(bool us_units, size_t *count);

#endif
