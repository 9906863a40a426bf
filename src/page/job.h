/* The job behind the page's functions. */
#ifndef TV_PAGE_JOB_H
#define TV_PAGE_JOB_H

#include <jansson.h>

#include "page/page.h"
#include "page/trace.h"
#include "report/html_trace.h"
#include "tailvolt/profile.h"
#include "tailvolt/remedy.h"
#include "tailvolt/study.h"
#include "text/sha256.h"

/* A file that the browser decoded. */
struct tv_page_decoded {
  char *name;
  struct tv_sha256 hash;
  unsigned long long bytes;
  char sha256[TV_SHA256_HEX]; /* empty = not all of it was seen */
};

struct tv_page_job {
  char *text, *name;              /* of the system file */
  char *profile_text, *profile_name; /* NULL = none was given */
  char *settings_text;            /* its lines, split */
  struct tailvolt_setting *settings;
  int setting_count;
  struct tailvolt_system *system; /* NULL = not loaded */
  bool standard;                  /* no profile was given */
  int count;
  struct tailvolt_profile *profiles[TAILVOLT_STANDARD_PROFILES];
  struct tailvolt_result *results[TAILVOLT_STANDARD_PROFILES]; /* NULL = not run */
  struct tailvolt_options options; /* with the balance on the road, once that has run */
  int worst;                       /* the run that is reported first */
  int watched;                     /* the amplifier whose voltages the trace shows */
  struct tv_page_trace trace;
  bool advised;
  char next[TAILVOLT_TEXT_MAX];    /* the NEXT line's text; empty = none */
  struct tv_page_decoded *decoded;
  int decoded_count;
  tv_page_progress *progress;
  void *progress_context;
};

/* {"ok": false, "error": ...}: the given reason, or the status text; where memory ran out always that. */
char *tv_page_refuse(enum tailvolt_status status, const char *error);
/* Returns a document as text; NULL (out of memory) stays NULL. */
char *tv_page_finish(json_t *root);
/* {"ok": true}, to be filled. */
json_t *tv_page_begin(void);
json_t *tv_page_fault_list(const struct tailvolt_faults *faults, bool *any);
/* {"ok": true, "text": ...}; takes ownership of the text. */
char *tv_page_text_answer(enum tailvolt_status status, char *text);

/* Parts with the keys that can be changed. */
json_t *tv_page_parts(const struct tailvolt_system *system);

/* The one that a run's answer is about first. */
int tv_page_worst_amplifier(const struct tailvolt_result *result);
/* One amplifier's feed path at its worst moment, with its ledger. */
json_t *tv_page_loop(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger);
/* The first screen of a text report: {"label", "text"} per line, wrapped lines joined again. Commands are named as the page calls
 * them; lines about a command's options are left out. */
json_t *tv_page_first_lines(const char *report);

/* All that is said of the runs so far. */
char *tv_page_answer(const struct tv_page_job *job);

/* Runs every profile, the road first: idling is judged together with it. Results stay with the job. */
TAILVOLT_CHECKED enum tailvolt_status tv_page_run_all(struct tv_page_job *job, char error[TAILVOLT_TEXT_MAX]);
/* The next step and what the verdict hangs on, for the worst run: into `next` and the result. */
TAILVOLT_CHECKED enum tailvolt_status tv_page_look_ahead(struct tv_page_job *job);
/* With the job's progress. */
struct tailvolt_options tv_page_options(const struct tv_page_job *job);
void tv_page_forget_results(struct tv_page_job *job);

#endif
