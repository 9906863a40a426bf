/* The loop, one lane wide. */
#define TV_LANES 1
#ifndef TV_KERNEL /* the build compiles it again for wider vectors, by another name */
#define TV_KERNEL tv_kernel_1
#endif
#include "simulate/kernel.inc"
