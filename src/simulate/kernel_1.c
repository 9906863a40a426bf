/* The loop, one lane wide. */
#define TV_LANES 1
#ifdef TV_WIDE
#define TV_KERNEL tv_kernel_1_wide
#else
#define TV_KERNEL tv_kernel_1
#endif
#include "simulate/kernel.inc"
