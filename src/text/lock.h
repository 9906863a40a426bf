/* One thread at a time; nothing where the build has no threads. In the owner's struct, not a global. */
#ifndef TV_TEXT_LOCK_H
#define TV_TEXT_LOCK_H

#ifdef _OPENMP
#include <pthread.h>

struct tv_lock { pthread_mutex_t mutex; };

/* Without attributes these cannot fail here (POSIX: a mutex of the default kind takes no resources on the systems built for). */
static inline void tv_lock_make(struct tv_lock *lock) { (void)pthread_mutex_init(&lock->mutex, NULL); }
static inline void tv_lock_free(struct tv_lock *lock) { (void)pthread_mutex_destroy(&lock->mutex); }
static inline void tv_lock_take(struct tv_lock *lock) { (void)pthread_mutex_lock(&lock->mutex); }
/* 1 = taken, 0 = another thread has it. */
static inline int tv_lock_try(struct tv_lock *lock) { return pthread_mutex_trylock(&lock->mutex) == 0; }
static inline void tv_lock_give(struct tv_lock *lock) { (void)pthread_mutex_unlock(&lock->mutex); }
#else
struct tv_lock { char none; };

static inline void tv_lock_make(struct tv_lock *lock) { lock->none = 0; }
static inline void tv_lock_free(struct tv_lock *lock) { (void)lock; }
static inline void tv_lock_take(struct tv_lock *lock) { (void)lock; }
static inline int tv_lock_try(struct tv_lock *lock) { return (void)lock, 1; }
static inline void tv_lock_give(struct tv_lock *lock) { (void)lock; }
#endif

#endif
