#define _DEFAULT_SOURCE /* syscall */
#include "simulate/each.h"

#include <stdbool.h>
#include <stdlib.h>

#ifdef _OPENMP
#include <omp.h>
#include <pthread.h>
#include <stdatomic.h>
#ifdef __linux__
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>
#endif

/* Threads of the system's own: those of OpenMP's runtime wait for each other at full load, which was a fifth of a report's processor
 * time, and end the process where there is no memory for one. */
static _Thread_local int number;
static _Thread_local bool inside;

int tv_most_threads(void) { return omp_get_max_threads(); }
int tv_thread(void) { return number; }

/* What the threads of one call share. */
struct crew {
  int count;
  void (*one)(void *context, int k);
  void *context;
  atomic_int next, numbers;
};

static void work(struct crew *crew) {
  for (int k; (k = atomic_fetch_add(&crew->next, 1)) < crew->count;) crew->one(crew->context, k);
}

static void *work_beside(void *context) {
  struct crew *crew = context;
  number = atomic_fetch_add(&crew->numbers, 1);
  inside = true;
  work(crew);
  return NULL;
}

void tv_each(int count, int threads, void (*one)(void *context, int k), void *context) {
  struct crew crew = {.count = count, .one = one, .context = context};
  if (threads > count) threads = count;
  pthread_t *beside = threads > 1 && !inside ? malloc((size_t)threads * sizeof *beside) : NULL;
  int begun = 0;
  atomic_init(&crew.next, 0);
  atomic_init(&crew.numbers, 1);
  while (beside != NULL && begun < threads - 1 && pthread_create(&beside[begun], NULL, work_beside, &crew) == 0) begun++;
  bool outer = inside;
  inside = true;
  work(&crew);
  inside = outer;
  for (int k = 0; k < begun; k++) (void)pthread_join(beside[k], NULL);
  free(beside);
}

/* What goes on beside gives way where processors are short, and takes those that are idle: the rest is what is waited for. */
static void give_way(void) {
#ifdef __linux__ /* where a thread has its own */
  (void)setpriority(PRIO_PROCESS, (id_t)syscall(SYS_gettid), 5);
#endif
}

static void *go_beside(void *context) {
  const struct tv_beside *beside = context;
  inside = true;
  give_way();
  beside->one(beside->context);
  return NULL;
}

void tv_beside_begin(struct tv_beside *beside, int threads, void (*one)(void *context), void *context) {
  *beside = (struct tv_beside){.one = one, .context = context};
  beside->begun = threads > 1 && !inside && pthread_create(&beside->thread, NULL, go_beside, beside) == 0;
}

void tv_beside_end(struct tv_beside *beside) {
  if (beside->begun) (void)pthread_join(beside->thread, NULL);
  else beside->one(beside->context);
}
#else
int tv_most_threads(void) { return 1; }
int tv_thread(void) { return 0; }

void tv_each(int count, int threads, void (*one)(void *context, int k), void *context) {
  (void)threads;
  for (int k = 0; k < count; k++) one(context, k);
}

void tv_beside_begin(struct tv_beside *beside, int threads, void (*one)(void *context), void *context) {
  (void)threads;
  *beside = (struct tv_beside){.one = one, .context = context};
}

void tv_beside_end(struct tv_beside *beside) { beside->one(beside->context); }
#endif
