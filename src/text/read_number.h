/* Numbers in files are always in the C locale. */
#ifndef TV_TEXT_READ_NUMBER_H
#define TV_TEXT_READ_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* Reads the whole of text[0..length) as a finite decimal number ("-1.5e3", no hex, no inf, no nan, no
 * surrounding space), correctly rounded. False where it is not one. */
bool tv_parse_number(const char *text, size_t length, double *value);

/* The same for a leading number: returns how many characters it took, 0 = none. */
size_t tv_parse_leading_number(const char *text, size_t length, double *value);

#endif
