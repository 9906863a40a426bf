/* Answers to the ten questions, read into their meaning. */
#ifndef TV_INPUT_ANSWERS_H
#define TV_INPUT_ANSWERS_H

#include "input/questions.h"
#include "tailvolt/system.h"

enum { TV_ANSWERS_MAX = 8 };

/* One part of an answer. */
struct tv_taken {
  bool given;
  bool bare;     /* a number without a unit */
  int choice;    /* index in the part's choices; else -1 */
  double value;  /* SI, ampere-hours; -1 for a size */
  char text[48]; /* as the system file writes it: "800 W", "4 x 75 W at 4 ohm", "AGM" */
};

struct tv_answer {
  char name[TAILVOLT_NAME_MAX]; /* of an amplifier that was given a name, else empty */
  struct tv_taken part[TAILVOLT_ANSWER_PARTS_MAX];
};

/* The answer to a question; one entry, more where it takes several; none where it is not known. */
struct tv_answer_set {
  int count;
  struct tv_answer entry[TV_ANSWERS_MAX];
};

/* Reads an answer; NULL, empty or "don't know" gives none. False on a fault: `piece` (at least TAILVOLT_TEXT_MAX bytes) is
 * what is not understood, `error` (likewise) why. */
bool tv_answer_read(int index, const char *answer, struct tv_answer_set *set, char *piece, char *error);

/* The same for what a table says "don't know" means: one part alone. */
bool tv_answer_part_read(int index, int part, const char *text, struct tv_taken *taken);

#endif
