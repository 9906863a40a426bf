/* The loop, 4 lanes wide. */
#define TV_LANES 4
#ifndef TV_KERNEL /* the build compiles it again for wider vectors, by another name */
#define TV_KERNEL tv_kernel_4
#endif
#include "simulate/kernel.inc"
