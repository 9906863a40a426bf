/* Blocks of lanes: memory, and moving one lane between a wide block and the run's own. */
#include "simulate/hot.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"

extern const struct tv_hot_ops tv_kernel_1, tv_kernel_2, tv_kernel_4, tv_kernel_8;
#ifdef TV_WIDE_KERNELS
extern const struct tv_hot_ops tv_kernel_1_avx2, tv_kernel_4_avx2, tv_kernel_8_avx2, tv_kernel_1_avx512, tv_kernel_4_avx512;
#endif

const struct tv_hot_ops *tv_hot_ops(int lanes, enum tv_vectors vectors) {
#ifdef TV_WIDE_KERNELS
  if (vectors == TV_VECTORS_ALL && __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512dq")) {
    if (lanes == 1) return &tv_kernel_1_avx512;
    if (lanes == 4) return &tv_kernel_4_avx512;
  }
  if (vectors <= TV_VECTORS_AVX2 && __builtin_cpu_supports("avx2")) {
    if (lanes == 1) return &tv_kernel_1_avx2;
    if (lanes == 4) return &tv_kernel_4_avx2;
    if (lanes == 8) return &tv_kernel_8_avx2;
  }
#else
  (void)vectors;
#endif
  switch (lanes) {
    case 1: return &tv_kernel_1;
    case 2: return &tv_kernel_2;
#ifndef __wasm__ /* registers hold two numbers there */
    case 4: return &tv_kernel_4;
    case 8: return &tv_kernel_8;
#endif
    default: return NULL;
  }
}

#define ALIGNED 64

static double *carve(char **at, size_t count) {
  double *place = (double *)(void *)*at;
  *at += (count * sizeof(double) + ALIGNED - 1) / ALIGNED * ALIGNED;
  return place;
}

enum tailvolt_status tv_hot_create(const struct tv_layout *layout, int lanes, enum tv_vectors vectors, tv_event_taker *event,
                                   struct tv_hot **out) {
  const struct tv_hot_ops *ops = tv_hot_ops(lanes, vectors);
  *out = NULL;
  if (ops == NULL) return TAILVOLT_INTERNAL;
  struct tv_hot *hot = calloc(1, sizeof *hot);
  if (hot == NULL) return TAILVOLT_NO_MEMORY;
  size_t wide = (size_t)lanes, n = (size_t)layout->unknowns;
  size_t quantities = (size_t)layout->end * wide, rows = (size_t)layout->rows * wide;
  size_t matrix = rows * (size_t)layout->columns, scratch = (2 * n * n + 16 * n + 16) * wide;
  size_t ring = (size_t)layout->amplifiers * TV_RING * wide, own = (n + 1) * n * wide;
  size_t noted = (size_t)layout->noted * TV_AHEAD * wide, fuses = (size_t)layout->fuse_values * wide;
  size_t bytes = (quantities + matrix + rows + own + scratch + ring + noted + fuses) * sizeof(double) + 9 * ALIGNED;
  hot->layout = layout;
  hot->ops = ops;
  hot->event = event;
  hot->lanes = lanes;
  hot->block = calloc(1, bytes);
  hot->heard = calloc((size_t)layout->amplifiers * wide * 2 + 1, sizeof *hot->heard);
  hot->bins = calloc((size_t)layout->amplifiers * wide + 1, sizeof *hot->bins);
  if (hot->block == NULL || hot->bins == NULL || hot->heard == NULL) {
    tv_hot_free(hot);
    return TAILVOLT_NO_MEMORY;
  }
  char *at = (char *)hot->block + (ALIGNED - (uintptr_t)hot->block % ALIGNED) % ALIGNED;
  hot->d = carve(&at, quantities);
  hot->matrix = carve(&at, matrix);
  hot->offset = carve(&at, rows);
  hot->own = carve(&at, own);
  hot->scratch = carve(&at, scratch);
  hot->ring = carve(&at, ring);
  hot->noted = carve(&at, noted);
  hot->fuse_limit_a = carve(&at, fuses);
  *out = hot;
  return TAILVOLT_OK;
}

void tv_hot_free(struct tv_hot *hot) {
  if (hot == NULL) return;
  free(hot->block);
  free(hot->bins);
  free(hot->heard);
  free(hot);
}

void tv_hot_extract_part(struct tv_hot *hot, int lane, int from, int count) {
  const double *wide = hot->d + lane;
  double *one = hot->run[lane]->hot->d;
  for (int k = from; k < from + count; k++) one[k] = wide[k * hot->lanes];
}

void tv_hot_insert_part(struct tv_hot *hot, int lane, int from, int count) {
  double *wide = hot->d + lane;
  const double *one = hot->run[lane]->hot->d;
  for (int k = from; k < from + count; k++) wide[k * hot->lanes] = one[k];
}

void tv_hot_extract(struct tv_hot *hot, int lane) { tv_hot_extract_part(hot, lane, 0, hot->layout->end); }

void tv_hot_insert(struct tv_hot *hot, int lane, bool with_matrix) {
  const struct tv_layout *y = hot->layout;
  const struct tv_hot *one = hot->run[lane]->hot;
  tv_hot_insert_part(hot, lane, 0, y->end);
  for (int i = 0; i < y->rows; i++) hot->offset[i * hot->lanes + lane] = one->offset[i];
  for (int k = 0; k < y->amplifiers; k++) hot->bins[k * hot->lanes + lane] = one->bins[k];
  if (!with_matrix) return;
  for (int k = 0; k < (y->unknowns + 1) * y->unknowns; k++) hot->own[k * hot->lanes + lane] = one->own[k];
  for (int i = 0; i < y->rows; i++)
    for (int j = 0; j < y->columns; j++)
      hot->matrix[tv_hot_at(y, hot->lanes, i, j) + (size_t)lane] = one->matrix[tv_hot_at(y, 1, i, j)];
}

void tv_hot_copy_lane(struct tv_hot *hot, int from, int to) {
  const struct tv_layout *y = hot->layout;
  size_t wide = (size_t)hot->lanes, entries = (size_t)(y->rows * y->columns);
  for (int k = 0; k < y->end; k++) hot->d[k * hot->lanes + to] = hot->d[k * hot->lanes + from];
  for (int i = 0; i < y->rows; i++) hot->offset[i * hot->lanes + to] = hot->offset[i * hot->lanes + from];
  for (size_t k = 0; k < entries && wide > 1; k++) hot->matrix[k * wide + (size_t)to] = hot->matrix[k * wide + (size_t)from];
  for (int k = 0; k < (y->unknowns + 1) * y->unknowns; k++)
    hot->own[k * hot->lanes + to] = hot->own[k * hot->lanes + from];
  for (int k = 0; k < y->amplifiers; k++) hot->bins[k * hot->lanes + to] = hot->bins[k * hot->lanes + from];
}
