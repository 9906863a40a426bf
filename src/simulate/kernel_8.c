/* The loop, 8 lanes wide. */
#define TV_LANES 8
#ifdef TV_WIDE
#define TV_KERNEL tv_kernel_8_wide
#else
#define TV_KERNEL tv_kernel_8
#endif
#include "simulate/kernel.inc"
