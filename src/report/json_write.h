/* JSON text of jansson trees: keys in the order they were set, doubles in the shortest form that reads back
 * the same, small objects on one line. */
#ifndef TV_REPORT_JSON_WRITE_H
#define TV_REPORT_JSON_WRITE_H

#include <jansson.h>

#include "text/buffer.h"

/* A number, or null where it is not finite. */
json_t *tv_json_number(double value);

/* A string; bytes that are not UTF-8 become question marks. */
json_t *tv_json_text(const char *text);

/* Adding to an object or array. jansson treats a NULL value as an error and frees nothing; here the first failure empties the
 * whole document (*object, *array become NULL), so it is never half there. */
void tv_json_put(json_t **object, const char *key, json_t *value);
void tv_json_append(json_t **array, json_t *value);
void tv_json_put_number(json_t **object, const char *key, double value);
void tv_json_put_text(json_t **object, const char *key, const char *text);

/* Adds the text of `root`, with a newline at its end. A NULL root counts as out of memory. */
void tv_json_write(json_t *root, struct tv_buffer *buffer);
/* The same as the value of a member of the outermost object, without a newline. */
void tv_json_write_member(json_t *value, struct tv_buffer *buffer);

/* Compact text of a tree, by jansson's flags. NULL where memory ran out. */
char *tv_json_compact(const json_t *root, size_t flags);

/* The value of a member; NAN or "" where it is of another kind or absent. */
double tv_json_number_of(const json_t *object, const char *key);
const char *tv_json_text_of(const json_t *object, const char *key);

#endif
