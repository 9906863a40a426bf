/* Ten questions that a car's owner can answer, and the system file made from the answers.
 *
 * One list, for the command and for anything else that asks (a form, a page). Every question may be answered
 * with "don't know": the file then holds the usual value, marked as not known, or leaves the value to the
 * standard car. */
#ifndef TAILVOLT_QUESTIONS_H
#define TAILVOLT_QUESTIONS_H

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The questions, in the order they are asked. */
enum tailvolt_question_id {
  TAILVOLT_ASK_CHARGING,
  TAILVOLT_ASK_AMPLIFIERS,
  TAILVOLT_ASK_ALTERNATOR,
  TAILVOLT_ASK_BATTERY,
  TAILVOLT_ASK_FEED,
  TAILVOLT_ASK_GROUND,
  TAILVOLT_ASK_HEADLAMPS,
  TAILVOLT_ASK_USE,
  TAILVOLT_ASK_PARKED,
  TAILVOLT_ASK_TODAY,
  TAILVOLT_QUESTIONS
};

/** How a part of a question is answered. */
enum tailvolt_question_form {
  TAILVOLT_FORM_CHOICE, /**< one of `choices` */
  TAILVOLT_FORM_NUMBER, /**< a number with one of `units` */
  TAILVOLT_FORM_SIZE    /**< of a cable: "4 AWG", "25 mm2", "2 x 4 AWG" */
};

/** One of the words that may be answered. */
struct tailvolt_answer_choice {
  const char *word;  /**< as typed: "AGM" */
  const char *says;  /**< what it means, for people; never NULL */
};

/** One thing that a question asks for. An answer gives them in any order, separated by commas or blanks. */
struct tailvolt_answer_part {
  const char *name;                 /**< "length" */
  enum tailvolt_question_form kind;
  const char *units;                /**< accepted units, for people: "m, cm, mm, ft or in"; NULL for a choice */
  const char *plain_unit;           /**< unit named in the question, used for a bare number; NULL = a bare number is
                                     *   refused */
  const char *unknown;              /**< what "don't know" means, as one would type it; "" = nothing */
  const char *unknown_hybrid;       /**< the same in a hybrid; NULL = no difference */
  const char *range;                /**< the range over which cars differ: "45 to 80 Ah"; "" = none */
  const struct tailvolt_answer_choice *choices;
  int choice_count;
};

#define TAILVOLT_ANSWER_PARTS_MAX 4

/** A question; its texts are the library's, constant. */
struct tailvolt_question {
  enum tailvolt_question_id id;
  const char *name;                 /**< one word, stable: "charging" */
  const char *words;                /**< the question */
  const char *look;                 /**< where on the car to look */
  const char *example;              /**< a whole answer */
  bool several;                     /**< takes several answers, separated by semicolons */
  int part_count;
  struct tailvolt_answer_part parts[TAILVOLT_ANSWER_PARTS_MAX];
};

/** A question; NULL where the index is not below TAILVOLT_QUESTIONS. */
TAILVOLT_API const struct tailvolt_question *tailvolt_question(int index);

/** Whether an answer is acceptable.
 *  \param index   enum tailvolt_question_id
 *  \param answer  NULL, "", "?" or "don't know" = not known. A decimal comma is accepted ("5,5 m")
 *  \param error   what is wrong with it, lower case, no full stop; at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK or TAILVOLT_BAD_INPUT */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_answer_check(int index, const char *answer, char *error);

/** Turns answers into the text of a system file with comments.
 *  \param answers  [count] in question order, each as for tailvolt_answer_check(); the rest are not known
 *  \param text     receives the file; free with tailvolt_system_text_free()
 *  \param faults   filled with everything wrong: `line` is the question's number from 1, `key` its name, `value` the piece
 *                  that is not understood
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_answers_system(const char *const *answers, int count, char **text, struct tailvolt_faults *faults);

/** How the music is played: now and then as loud as it goes, or every day. */
enum tailvolt_music_use { TAILVOLT_USE_SHOW, TAILVOLT_USE_DAILY };

/** What is wrong with the car today; several may apply. */
enum tailvolt_trouble {
  TAILVOLT_TROUBLE_DIM = 1,
  TAILVOLT_TROUBLE_CUTS_OUT = 2,
  TAILVOLT_TROUBLE_FLAT = 4
};

/** What the answers say besides the car itself. */
struct tailvolt_aside {
  enum tailvolt_music_use use;
  double level_db;                  /**< playing level implied by the use; already in the file's amplifiers */
  const char *profile;              /**< a shipped load profile that suits the use, by file name */
  double parked_s;                  /**< wanted playing time with the engine off, already in the file; NAN = none */
  unsigned troubles;                /**< of enum tailvolt_trouble; 0 = nothing yet, or not known */
  char look_first[2 * TAILVOLT_TEXT_MAX]; /**< what to look at first, one or more sentences; "" = nothing in particular */
};

/** Fills it in. Faulty answers count as not known; all of them where memory runs out. */
TAILVOLT_API void tailvolt_answers_aside(const char *const *answers, int count, struct tailvolt_aside *aside);

#ifdef __cplusplus
}
#endif
#endif
