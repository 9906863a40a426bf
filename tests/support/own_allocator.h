/* A test that puts an allocator of its own in front of the C library's: sanitizers keep theirs; __libc_malloc and its like are the GNU C
 * library's. */
#ifndef TV_TESTS_SUPPORT_OWN_ALLOCATOR_H
#define TV_TESTS_SUPPORT_OWN_ALLOCATOR_H

#include <stdlib.h>

#if defined(__SANITIZE_ADDRESS__) || !defined(__GLIBC__) || defined(__clang__)
#define OWN_ALLOCATOR 0
#else
#define OWN_ALLOCATOR 1
#endif

#endif
