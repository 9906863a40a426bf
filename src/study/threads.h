/* Threads of the studies, or none: WebAssembly, and compilers without OpenMP, run the same code on one. */
#ifndef TV_STUDY_THREADS_H
#define TV_STUDY_THREADS_H

#ifdef _OPENMP
#include <omp.h>

static inline int tv_most_threads(void) { return omp_get_max_threads(); }
static inline int tv_thread(void) { return omp_get_thread_num(); }
#else
static inline int tv_most_threads(void) { return 1; }
static inline int tv_thread(void) { return 0; }
#endif

/* How many to use; 0 asked = OMP_NUM_THREADS, or as many as there are processors. */
static inline int tv_threads(int asked) { return asked > 0 ? asked : tv_most_threads(); }

#endif
