/* The same work for each of many items, on several threads: the only place where threads begin.
 *
 * WebAssembly, and compilers without OpenMP, run the same code on one thread. */
#ifndef TV_SIMULATE_EACH_H
#define TV_SIMULATE_EACH_H

#include <stdbool.h>

#ifdef _OPENMP
#include <pthread.h>
#endif

/* OMP_NUM_THREADS, or as many as there are processors; the number of the calling one within tv_each(), 0 for the caller's own. */
int tv_most_threads(void);
int tv_thread(void);

/* Calls `one` for every k below count, in ascending order though several at a time, and returns when all have ended. The caller's
 * thread works too; where there is no memory for another, and within `one`, it does it all. */
void tv_each(int count, int threads, void (*one)(void *context, int k), void *context);

/* How many to use; 0 asked = tv_most_threads(). */
static inline int tv_threads(int asked) { return asked > 0 ? asked : tv_most_threads(); }

/* One piece of work that goes on meanwhile, on one thread of its own. In the owner's struct. */
struct tv_beside {
  void (*one)(void *context);
  void *context;
  bool begun;
#ifdef _OPENMP
  pthread_t thread;
#endif
};

/* Begins it. With fewer than two `threads`, within tv_each(), and where there is no memory for a thread, tv_beside_end() does it. */
void tv_beside_begin(struct tv_beside *beside, int threads, void (*one)(void *context), void *context);
/* Returns when it has ended. */
void tv_beside_end(struct tv_beside *beside);

#endif
