/* Status codes and input faults.
 *
 * Every function that can fail returns a status. The library never prints,
 * never exits and never changes the locale. It calls GSL only where that
 * cannot fail, so it neither needs nor changes GSL's error handler. */
#ifndef TAILVOLT_STATUS_H
#define TAILVOLT_STATUS_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define TAILVOLT_API __attribute__((visibility("default")))
#define TAILVOLT_CHECKED __attribute__((warn_unused_result))
#else
#define TAILVOLT_API
#define TAILVOLT_CHECKED
#endif

/** The outcome of a call. Append only: take one that you do not know by its hundreds, which give the command's exit code:
 *  2xx -> 2 (bad input), 1xx and 3xx -> 3 (could not compute), 4xx -> 4 (could not write). */
enum tailvolt_status {
  TAILVOLT_OK = 0,
  TAILVOLT_NO_MEMORY = 100,
  TAILVOLT_INTERNAL = 101,      /**< a programming error was caught */
  TAILVOLT_BAD_INPUT = 200,     /**< faults hold the reasons */
  TAILVOLT_NOT_READABLE = 201,  /**< a file could not be opened or read */
  TAILVOLT_SINGULAR = 300,      /**< the network has no unique solution */
  TAILVOLT_DIVERGED = 301,      /**< the port solve did not settle */
  TAILVOLT_STOPPED = 302,       /**< the progress call asked to stop */
  TAILVOLT_NOT_WRITTEN = 400    /**< an output could not be written */
};

/** Short English text of a status, never NULL; "unknown status" for a number that is none. */
TAILVOLT_API const char *tailvolt_status_text(enum tailvolt_status status);

#define TAILVOLT_FAULTS_MAX 20
#define TAILVOLT_TEXT_MAX 256 /**< bytes of a text such as `error`, its zero byte included */

/** One thing wrong with an input file. */
struct tailvolt_fault {
  char file[TAILVOLT_TEXT_MAX];    /**< as given by the user, or "--set" */
  int line;                        /**< from 1; 0 = the file as a whole */
  int column;                      /**< CSV column from 1; 0 = none */
  char key[96];                    /**< "section.key" or the CSV column's name; may be empty */
  char value[96];                  /**< the offending text; may be empty */
  char message[TAILVOLT_TEXT_MAX]; /**< lower case, no full stop; says what is accepted */
};

/** All faults of the inputs, found in one pass (up to TAILVOLT_FAULTS_MAX), in the caller's memory: about 14 kB, so make it static or
 *  take it from malloc() where stacks are small. Nothing in it needs to be freed.
 *
 *  Every call with a parameter `faults` clears it first, but for tailvolt_check(), which adds. It holds one at least after
 *  TAILVOLT_BAD_INPUT and TAILVOLT_NOT_READABLE, and none after TAILVOLT_OK. It may be NULL everywhere: then the status is all that is
 *  told. */
struct tailvolt_faults {
  int count;   /**< stored */
  int dropped; /**< more than could be stored */
  struct tailvolt_fault fault[TAILVOLT_FAULTS_MAX];
};

#ifdef __cplusplus
}
#endif
#endif
