/* The page's questions without a browser: `ask SYSTEM.ini PROFILE.csv QUESTION...`, a PROFILE of - being the standard ones. Prints the
 * answers, a line each. Where one says that memory ran out, or there is none, it ends with 3 as the command does. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/page.h"
#include "tailvolt/simulate.h"

enum { MOST = 1 << 16 };

static char *system_text, *profile_text;

static char *read_text(const char *path) {
  char *text = malloc(MOST);
  FILE *file = text != NULL ? fopen(path, "r") : NULL;
  size_t length = file != NULL ? fread(text, 1, MOST - 1, file) : 0;
  if (file == NULL || ferror(file) || fclose(file) != 0) {
    free(text);
    return NULL;
  }
  text[length] = '\0';
  return text;
}

static int no_memory(void) {
  fputs("out of memory\n", stderr);
  return 3;
}

static char *decoded(struct tv_page_job *job) {
  bool known = tv_page_decoded(job, "tone.wav", 0, NULL, 0) && tv_page_decoded(job, "tone.wav", 1, "abc", 3) &&
               tv_page_decoded(job, "tone.wav", 2, NULL, 0);
  return known ? tv_page_report(job, "1 May 2030", "") : NULL;
}

static char *ask(struct tv_page_job *job, const char *question) {
  static const struct {
    const char *name;
    char *(*answer)(struct tv_page_job *job);
  } plain[] = {{"run", tv_page_run},       {"advise", tv_page_advise},           {"parked", tv_page_parked}, {"remedy", tv_page_remedy},
               {"csv", tv_page_csv},       {"system_file", tv_page_system_file}, {"pictures", tv_page_pictures}, {"decoded", decoded}};
  if (strcmp(question, "questions") == 0) return tv_page_questions();
  if (strcmp(question, "answers") == 0) return tv_page_answers("\nbass 300 W, 2 x 20 A\n110 A\n");
  if (strcmp(question, "load") == 0)
    return tv_page_load(job, system_text, "system.ini", "targets.missed at most = 2 %\n\n", profile_text, "profile.csv");
  if (strcmp(question, "sure") == 0) return tv_page_certainty(job, 0);
  if (strcmp(question, "quick") == 0) return tv_page_certainty(job, 1);
  if (strcmp(question, "preview") == 0) return tv_page_preview(job, 0, 1.0, 1.0, "80 90");
  if (strcmp(question, "glance") == 0) return tv_page_glance(job, 1.0);
  if (strcmp(question, "play") == 0) return tv_page_play(job, 0.02);
  if (strcmp(question, "vary") == 0) return tv_page_vary(job, "cable feed.size = 8 AWG, 4 AWG");
  if (strcmp(question, "report") == 0) return tv_page_report(job, "1 May 2030", "note");
  for (size_t k = 0; k < sizeof plain / sizeof *plain; k++)
    if (strcmp(question, plain[k].name) == 0) return plain[k].answer(job);
  exit(2);
}

int main(int count, char **words) {
  if (count < 4) return 2;
  system_text = read_text(words[1]);
  profile_text = strcmp(words[2], "-") != 0 ? read_text(words[2]) : NULL;
  struct tv_page_job *job = tv_page_create();
  int code = system_text == NULL || job == NULL || (profile_text == NULL && strcmp(words[2], "-") != 0) ? no_memory() : 0;
  for (int k = 3; k < count && code == 0; k++) {
    char *answer = ask(job, words[k]);
    if (answer == NULL || strstr(answer, tailvolt_status_text(TAILVOLT_NO_MEMORY)) != NULL) code = no_memory();
    else if (puts(answer) < 0 || strstr(answer, "\"ok\": false") != NULL) code = 1;
    tv_page_free(answer);
  }
  if (fflush(stdout) != 0 && code == 0) code = 1;
  tv_page_destroy(job);
  free(system_text);
  free(profile_text);
  return code;
}
