#include "simulate/each.h"

#include <stdbool.h>
#include <stdlib.h>

#ifdef _OPENMP
#include <omp.h>

int tv_most_threads(void) { return omp_get_max_threads(); }
int tv_thread(void) { return omp_get_thread_num(); }

/* A stack for each, and what the runtime notes of it. */
static bool has_room(int threads) {
  const size_t stack = 9u << 20;
  void *room = malloc((size_t)threads * stack);
  free(room);
  return room != NULL;
}
#else
int tv_most_threads(void) { return 1; }
int tv_thread(void) { return 0; }
#endif

void tv_each(int count, int threads, void (*one)(void *context, int k), void *context) {
#ifdef _OPENMP
  if (threads > count) threads = count;
  if (threads > 1 && has_room(threads)) {
#pragma omp parallel for schedule(dynamic, 1) num_threads(threads)
    for (int k = 0; k < count; k++) one(context, k);
    return;
  }
#else
  (void)threads;
#endif
  for (int k = 0; k < count; k++) one(context, k);
}
