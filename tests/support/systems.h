/* Systems from text, and their parts by name, for tests of the reader. */
#ifndef TAILVOLT_TEST_SYSTEMS_H
#define TAILVOLT_TEST_SYSTEMS_H

#include <stdio.h>

#include "parts/alternator.h"
#include "tailvolt/system.h"

/* Free it with tailvolt_system_free(); the test fails where the text is refused. */
struct tailvolt_system *system_of(const char *text);
/* The test fails where the text is accepted, or where none of its faults has this message. */
void refused(const char *text, const char *message);
/* By name; the test fails where there is none. */
int point_of(const struct tailvolt_system *system, const char *name);
const struct tailvolt_conductor *conductor_of(const struct tailvolt_system *system, const char *name);
/* An alternator of label points, rpm and A. */
struct tv_alternator machine_of(const double (*points)[2], int count);
/* A new file to write to; the test must remove its path. */
FILE *temporary_file(char *path, size_t room);

#endif
