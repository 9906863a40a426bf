/* The ten questions, as the page asks them, and the system file made from the answers. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "report/json.h"
#include "report/json_write.h"
#include "tailvolt/questions.h"

static json_t *choices(const struct tailvolt_answer_part *part) {
  json_t *list = json_array();
  for (int k = 0; k < part->choice_count; k++) {
    json_t *choice = json_object();
    tv_json_put_text(&choice, "word", part->choices[k].word);
    tv_json_put_text(&choice, "says", part->choices[k].says);
    tv_json_append(&list, choice);
  }
  return list;
}

static const char *or_nothing(const char *text) { return text != NULL ? text : ""; }

static json_t *parts(const struct tailvolt_question *question) {
  static const char *const forms[] = {"choice", "number", "size"};
  json_t *list = json_array();
  for (int k = 0; k < question->part_count; k++) {
    const struct tailvolt_answer_part *part = &question->parts[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", or_nothing(part->name));
    tv_json_put_text(&object, "form", forms[part->kind]);
    tv_json_put_text(&object, "units", or_nothing(part->units));
    tv_json_put_text(&object, "unit", or_nothing(part->plain_unit));
    tv_json_put_text(&object, "unknown", or_nothing(part->unknown));
    tv_json_put_text(&object, "range", or_nothing(part->range));
    tv_json_put(&object, "choices", choices(part));
    tv_json_append(&list, object);
  }
  return list;
}

char *tv_page_questions(void) {
  json_t *root = tv_page_begin(), *list = json_array();
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) {
    const struct tailvolt_question *question = tailvolt_question(k);
    json_t *object = json_object();
    tv_json_put_text(&object, "name", question->name);
    tv_json_put_text(&object, "words", question->words);
    tv_json_put_text(&object, "look", question->look);
    tv_json_put_text(&object, "example", question->example);
    tv_json_put(&object, "several", json_boolean(question->several));
    tv_json_put(&object, "parts", parts(question));
    tv_json_append(&list, object);
  }
  tv_json_put(&root, "questions", list);
  return tv_page_finish(root);
}

/* Lines split in place; surplus ones are ignored. */
static int cut(char *lines, const char *answers[TAILVOLT_QUESTIONS]) {
  int count = 0;
  for (char *at = lines; count < TAILVOLT_QUESTIONS;) {
    char *end = strchr(at, '\n');
    answers[count++] = at;
    if (end == NULL) break;
    *end = '\0';
    at = end + 1;
  }
  return count;
}

char *tv_page_answers(const char *lines) {
  const char *answers[TAILVOLT_QUESTIONS];
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *copy = strdup(lines), *text = NULL, *out = NULL;
  if (faults != NULL && copy != NULL) {
    int count = cut(copy, answers);
    enum tailvolt_status status = tailvolt_answers_system(answers, count, &text, faults);
    json_t *root = status == TAILVOLT_OK ? tv_page_begin() : status == TAILVOLT_NO_MEMORY ? NULL : json_object();
    if (status == TAILVOLT_OK) {
      struct tailvolt_aside *aside = calloc(1, sizeof *aside);
      if (aside != NULL) tailvolt_answers_aside(answers, count, aside);
      tv_json_put_text(&root, "text", text);
      tv_json_put(&root, "look_first", aside != NULL ? tv_json_text(aside->look_first) : NULL);
      free(aside);
    } else {
      tv_json_put(&root, "ok", json_false());
      tv_json_put(&root, "faults", tv_json_faults(faults));
      tv_json_put(&root, "dropped", json_integer(faults->dropped));
    }
    out = tv_page_finish(root);
  }
  tailvolt_system_text_free(text);
  free(copy);
  free(faults);
  return out;
}
