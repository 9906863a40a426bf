/* The loop, 4 lanes wide. */
#define TV_LANES 4
#ifdef TV_WIDE
#define TV_KERNEL tv_kernel_4_wide
#else
#define TV_KERNEL tv_kernel_4
#endif
#include "simulate/kernel.inc"
