/* What only the module needs: as the library's host it makes process-wide settings, and progress goes to the page's
 * script. */
#include "page/page.h"

#if defined(__wasm__)

__attribute__((import_module("page"), import_name("progress"))) int tv_page_pass_progress(double done_frac);

static int pass_progress(void *context, double done_frac) {
  (void)context;
  return tv_page_pass_progress(done_frac);
}

/* Once for each job. */
__attribute__((export_name("listen"))) void tv_page_listen_here(struct tv_page_job *job);
void tv_page_listen_here(struct tv_page_job *job) {
  tv_page_listen(job, pass_progress, 0);
}
#else
typedef int tv_page_no_module;
#endif
