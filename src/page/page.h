/* What the page in a browser asks of the library: one job (a system, its settings, a profile), and questions about it. Each
 * answer is one JSON text made by the code behind the command's reports, so the page's scripts compute nothing and word
 * nothing themselves.
 *
 * Every returned text is the caller's, freed by tv_page_free(); NULL = out of memory. One thread. Built for WebAssembly these
 * functions are the module's exports (without their `tv_page_`); natively they are a library for the tests. */
#ifndef TV_PAGE_PAGE_H
#define TV_PAGE_PAGE_H

#include <stddef.h>

#if defined(__wasm__)
#define TV_PAGE_EXPORT(name) __attribute__((export_name(name)))
#else
#define TV_PAGE_EXPORT(name)
#endif

struct tv_page_job;

/* Called as work proceeds, 0 to 1; nonzero = stop. In the module it is imported as `page.progress`. */
typedef int tv_page_progress(void *context, double done_frac);

TV_PAGE_EXPORT("take") void *tv_page_take(size_t size);
TV_PAGE_EXPORT("free") void tv_page_free(void *memory);

/* {"questions": [{"name", "words", "look", "example", "several", "parts"}]}. */
TV_PAGE_EXPORT("questions") char *tv_page_questions(void);
/* One answer per line, empty = not known. {"ok": true, "text": the system file, "look_first"} or faults, their `line` being the
 * question's. */
TV_PAGE_EXPORT("answers") char *tv_page_answers(const char *lines);

/* An empty job. */
TV_PAGE_EXPORT("create") struct tv_page_job *tv_page_create(void);
TV_PAGE_EXPORT("destroy") void tv_page_destroy(struct tv_page_job *job);
void tv_page_listen(struct tv_page_job *job, tv_page_progress *progress, void *context);

/* Reads a system file's text with settings ("section.key = value", one per line), and a profile's text (NULL = the
 * standard profiles). Names appear in messages; files that the system names are read from the folder in its name.
 * {"ok": true, "name", "profile", "parts": [...], "assumed": [...]} or {"ok": false, "faults": [...], "dropped"}. */
TV_PAGE_EXPORT("load")
char *tv_page_load(struct tv_page_job *job, const char *text, const char *name, const char *settings, const char *profile,
                   const char *profile_name);

/* What a recording was decoded from by the browser, given before a report so that it names that file: step 0 begins the file of this
 * name, 1 adds a piece of it, 2 ends it. What has not ended is not known. 0 = out of memory. */
TV_PAGE_EXPORT("decoded") int tv_page_decoded(struct tv_page_job *job, const char *name, int step, const void *piece, size_t length);

/* The rest need a loaded job: otherwise, and where nothing can be computed, {"ok": false, "error"}. */

/* The whole profile, and what the reports say about it. */
TV_PAGE_EXPORT("run") char *tv_page_run(struct tv_page_job *job);
/* What to do next and what the verdict hangs on: all the lines again. After tv_page_run(). */
TV_PAGE_EXPORT("advise") char *tv_page_advise(struct tv_page_job *job);
/* In how many such cars it holds, as the command says it: the lines again, whole, with "holds_pct". After tv_page_run(). `quick`: a
 * first share alone, within a few points, in a third of the time. */
TV_PAGE_EXPORT("certainty") char *tv_page_certainty(struct tv_page_job *job, int quick);
/* Seconds around a moment of one of the profiles, at the charge that the batteries then have (per cent, one per battery,
 * separated by blanks; "" = the file's): lowest voltage, the loop, and the trace. */
TV_PAGE_EXPORT("preview")
char *tv_page_preview(struct tv_page_job *job, int profile, double moment_s, double span_s, const char *charge_pct);
/* A first look at all profiles in long steps, and then tv_page_preview() around the worst moment that it found. */
TV_PAGE_EXPORT("glance") char *tv_page_glance(struct tv_page_job *job, double span_s);
/* The whole first profile, with a trace of rows every_s apart: music watched while it plays. Answers as tv_page_preview(). */
TV_PAGE_EXPORT("play") char *tv_page_play(struct tv_page_job *job, double every_s);
/* The amplifier whose voltages are traced; rows of the last trace, eight numbers each (page/trace.h). */
TV_PAGE_EXPORT("watch") void tv_page_watch(struct tv_page_job *job, int amplifier);
TV_PAGE_EXPORT("trace_rows") long tv_page_trace_rows(const struct tv_page_job *job);
TV_PAGE_EXPORT("trace_cells") const float *tv_page_trace_cells(const struct tv_page_job *job);
/* How long it plays with the engine off. */
TV_PAGE_EXPORT("parked") char *tv_page_parked(struct tv_page_job *job);
/* The smallest set of changes that holds, with its settings, so that it can be adopted. */
TV_PAGE_EXPORT("remedy") char *tv_page_remedy(struct tv_page_job *job);
/* "section.key = A .. B step C" or a list of values. */
TV_PAGE_EXPORT("vary") char *tv_page_vary(struct tv_page_job *job, const char *variation);

/* To take away: the system file with its settings written in, the report page, the tables, the picture of the worst beat. All as
 * {"ok": true, "text"}. After tv_page_run(). */
TV_PAGE_EXPORT("system_file") char *tv_page_system_file(struct tv_page_job *job);
TV_PAGE_EXPORT("report") char *tv_page_report(struct tv_page_job *job, const char *date, const char *note);
TV_PAGE_EXPORT("csv") char *tv_page_csv(struct tv_page_job *job);
TV_PAGE_EXPORT("pictures") char *tv_page_pictures(struct tv_page_job *job);

#endif
