/* The loop, 2 lanes wide. */
#define TV_LANES 2
#ifdef TV_WIDE
#define TV_KERNEL tv_kernel_2_wide
#else
#define TV_KERNEL tv_kernel_2
#endif
#include "simulate/kernel.inc"
