#include "text/nearest.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>
#include <strings.h>

/* Optimal string alignment distance, case-blind; words here are short. */
static int edit_distance(const char *a, const char *b) {
  enum { LONGEST = 64 };
  int row[3][LONGEST + 1];
  size_t la = strlen(a), lb = strlen(b);
  if (la > LONGEST || lb > LONGEST) return LONGEST;
  for (size_t j = 0; j <= lb; j++) row[0][j] = (int)j;
  for (size_t i = 1; i <= la; i++) {
    int *now = row[i % 3], *before = row[(i + 2) % 3], *earlier = row[(i + 1) % 3];
    now[0] = (int)i;
    for (size_t j = 1; j <= lb; j++) {
      int ca = tolower((unsigned char)a[i - 1]), cb = tolower((unsigned char)b[j - 1]);
      int best = before[j - 1] + (ca != cb);
      if (before[j] + 1 < best) best = before[j] + 1;
      if (now[j - 1] + 1 < best) best = now[j - 1] + 1;
      if (i > 1 && j > 1 && ca == tolower((unsigned char)b[j - 2]) &&
          cb == tolower((unsigned char)a[i - 2]) && earlier[j - 2] + 1 < best)
        best = earlier[j - 2] + 1;
      now[j] = best;
    }
  }
  return row[la % 3][lb];
}

/* "power" is the end of "rated power", "cable" the beginning of "cable feed". */
static bool is_part_of(const char *word, const char *whole) {
  size_t length = strlen(word), all = strlen(whole);
  if (all < length + 2) return false;
  return (whole[all - length - 1] == ' ' && strcasecmp(whole + all - length, word) == 0) ||
         (whole[length] == ' ' && strncasecmp(whole, word, length) == 0);
}

const char *tv_nearest_word(const char *word, const char *const *words, size_t count) {
  const char *best = NULL;
  int best_distance = 0;
  for (size_t k = 0; k < count; k++) {
    int distance = edit_distance(word, words[k]);
    if (best == NULL || distance < best_distance) {
      best = words[k];
      best_distance = distance;
    }
  }
  size_t length = strlen(word);
  int allowed = length <= 3 ? 1 : length <= 6 ? 2 : 3;
  if (best == NULL || best_distance <= allowed) return best;
  for (size_t k = 0; k < count && length > 3; k++)
    if (is_part_of(word, words[k])) return words[k];
  return NULL;
}
