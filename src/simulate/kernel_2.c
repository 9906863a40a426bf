/* The loop, 2 lanes wide. */
#define TV_LANES 2
#ifndef TV_KERNEL /* the build compiles it again for wider vectors, by another name */
#define TV_KERNEL tv_kernel_2
#endif
#include "simulate/kernel.inc"
