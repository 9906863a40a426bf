#include "report/parked_words.h"

#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "text/words.h"

const char *tv_parked_end_word(const struct tailvolt_parked *p, char *room, size_t size) {
  switch (p->ends_by) {
  case TAILVOLT_ENDS_BY_RESTART:
    return "restart";
  case TAILVOLT_ENDS_BY_CUT_OUT:
    return "cut-out";
  case TAILVOLT_ENDS_BY_REST_LIMIT:
    return "rest limit";
  case TAILVOLT_ENDS_BY_TIME:
    break;
  }
  snprintf(room, size, "limit of %s h", tv_compact(p->limit_s / 3600, 2).text);
  return room;
}

void tv_parked_battery_words(const struct tailvolt_parked *p, int k, char *text, size_t size) {
  char name[TV_PARKED_NAME_SHOWN + 1], section[TAILVOLT_NAME_MAX + 32];
  snprintf(name, sizeof name, "%.*s", TV_PARKED_NAME_SHOWN, p->batteries[k].name);
  tv_section_words(TAILVOLT_PART_BATTERY, name, section, sizeof section);
  bool named = p->batteries[k].name[0] != '\0' && strcmp(p->batteries[k].name, tv_part_word(TAILVOLT_PART_BATTERY)) != 0;
  if (p->battery_count == 1)
    snprintf(text, size, "the battery");
  else if (named)
    snprintf(text, size, "%s", section);
  else
    snprintf(text, size, "the %s battery", p->batteries[k].starts_car ? "starting" : "unnamed");
}

void tv_parked_full_reason(const struct tailvolt_parked *p, char *text, size_t size) {
  struct tv_number seconds = tv_compact(p->full_reason_s, 0);
  switch (p->full_reason) {
  case TAILVOLT_FULL_NOT:
  case TAILVOLT_FULL_ASKED:
    snprintf(text, size, "%s", "");
    break;
  case TAILVOLT_FULL_LONG_MUSIC:
    snprintf(text, size, "the music repeats only after more than %s s", seconds.text);
    break;
  case TAILVOLT_FULL_SHORT_ROWS:
    snprintf(text, size, "the profile has rows shorter than %s s", seconds.text);
    break;
  case TAILVOLT_FULL_UNEQUAL_SHARES:
    snprintf(text, size,
             "one battery gives more of each beat than of the mean current, so averages do not tell how fast "
             "each empties; nothing to put right");
    break;
  case TAILVOLT_FULL_RELAY_CHATTERS:
    snprintf(text, size, "a relay or converter opens under the music, closes again, and so on: its two voltages are too close together");
    break;
  }
}

void tv_parked_caution_text(const struct tailvolt_parked *p, enum tailvolt_parked_caution which, char *text,
                            size_t size) {
  char reason[160];
  switch (which) {
  case TAILVOLT_PARKED_NOTHING_PLAYS:
    snprintf(text, size, "nothing plays: the time is that of the standing draws");
    break;
  case TAILVOLT_PARKED_NEVER_STARTS:
    snprintf(
        text, size,
        "the car does not start even before anything has played: the battery is too weak for its starter");
    break;
  case TAILVOLT_PARKED_AT_LIMIT_FROM_THE_START:
    snprintf(text, size, "battery %s is below its limit before anything has played", p->limit_battery);
    break;
  case TAILVOLT_PARKED_CUT_OUT_AT_ONCE:
    snprintf(text, size,
             "the cut-out comes within the first minute: the wiring, not the charge, ends the playing");
    break;
  case TAILVOLT_PARKED_EVERY_STEP:
    tv_parked_full_reason(p, reason, sizeof reason);
    snprintf(text, size, "simulated step by step: %s", reason);
    break;
  case TAILVOLT_PARKED_TWO_PIECES:
    snprintf(text, size,
             "level and spread are found with two pieces of the music, one typical and the loudest: "
             "right within a few percent");
    break;
  case TAILVOLT_PARKED_CAUTIONS:
    snprintf(text, size, "%s", "");
    break;
  }
}
