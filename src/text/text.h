/* Small text helpers that cut rather than overrun. */
#ifndef TV_TEXT_TEXT_H
#define TV_TEXT_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Copies `from` (NULL = empty) into `to`, always terminated, cut to fit at a UTF-8 boundary. */
void tv_copy_text(char *to, size_t size, const char *from);

/* Whether two names are the same but for case, and for a hyphen where the other has a blank: "cut-out" and "Cut out". */
bool tv_words_alike(const char *a, const char *b);

/* Copies a name, each run of white space as one blank and none at the ends. */
void tv_squeeze(char *to, size_t size, const char *from);

/* Appends to what `to` already holds, cut to fit in `size` bytes. */
void tv_append(char *to, size_t size, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 3, 4)))
#endif
    ;
/* "12:3: TEXT", "12: TEXT" where the column is 0, "TEXT" where the line is too; TAILVOLT_TEXT_MAX bytes. */
void tv_at_place(char *to, size_t size, int line, int column, const char *text);

/* Bytes of the well-formed UTF-8 character at `at`; 0 where there is none. The text ends with '\0'. */
size_t tv_utf8_length(const char *at);

/* What to tell the user of a text that begins as UTF-16 does, with its byte-order mark; NULL where it does not. */
const char *tv_utf16_problem(const char *text, size_t length);

/* Whether a text is nothing but such characters. */
bool tv_is_utf8(const char *text);

/* Whether the character at `at`, `length` bytes long, would act on a terminal or a page rather than be seen: C0 and C1
 * controls, DEL, and the marks that turn the direction of writing (Unicode Standard Annex 9). */
bool tv_is_unseen(const char *at, size_t length);

/* How the last paragraph of a text report begins, and by what such a report is known. */
#define TV_MADE_BY "MADE BY "
#define TV_MADE_BY_WHOM "tailvolt "
/* What to tell the user of a text that is such a report where something else is wanted; NULL where it is none. */
const char *tv_text_report_problem(const char *text);

/* Copies `from` with '?' for each unseen character and each byte that is no UTF-8, a blank for a tab; cut to fit. */
void tv_copy_seen(char *to, size_t size, const char *from);

#endif
