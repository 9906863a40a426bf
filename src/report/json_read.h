/* JSON read into jansson trees. */
#ifndef TV_REPORT_JSON_READ_H
#define TV_REPORT_JSON_READ_H

#include <jansson.h>

/* A document, an object or an array in which no name stands twice and no text holds a zero. NULL where it is none, with what is wrong
 * and its line in `error` (TAILVOLT_TEXT_MAX bytes); or where memory ran out, with nothing there.
 *
 * jansson's own reader is not used where memory may run out: where it gets none in the midst of a token it goes on with what it
 * has, takes a shortened text for whole or writes beyond it (2.14). */
json_t *tv_json_read(const char *text, size_t length, char *error);

#endif
