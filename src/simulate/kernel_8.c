/* The loop, 8 lanes wide. */
#define TV_LANES 8
#ifndef TV_KERNEL /* the build compiles it again for wider vectors, by another name */
#define TV_KERNEL tv_kernel_8
#endif
#include "simulate/kernel.inc"
