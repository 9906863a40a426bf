/* How sure the answer is: cars like the one described, of all profiles that were run. */
#include <math.h>

#include "page/job.h"
#include "report/json_write.h"
#include "tailvolt/certainty.h"
#include "text/number.h"

char *tv_page_certainty(struct tv_page_job *job, int quick) {
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  char error[TAILVOLT_TEXT_MAX] = "";
  if (job->system == NULL || job->results[0] == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "nothing was run");
  struct tailvolt_options run = job->options;
  struct tailvolt_certainty first, *certainty = quick ? &first : &job->results[job->worst]->certainty;
  options.run = &run;
  options.quick = quick != 0;
  options.same_day = job->standard;
  options.progress = job->progress;
  options.context = job->progress_context;
  enum tailvolt_status status =
      tailvolt_certainty(job->system, (const struct tailvolt_profile *const *)job->profiles, job->count,
                         (const struct tailvolt_result *const *)job->results, &options, certainty, error);
  if (status != TAILVOLT_OK) return tv_page_refuse(status, error);
  if (!quick) return tv_page_answer(job);
  json_t *root = tv_page_begin();
  tv_json_put_number(&root, "holds_pct", first.known ? first.holds_pct : (double)NAN);
  tv_json_put_text(&root, "holds", first.known ? tv_percent(first.holds_pct).text : "");
  return tv_page_finish(root);
}
