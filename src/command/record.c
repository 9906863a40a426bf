#include "command/record.h"

#include <stddef.h>

#include "text/number.h"

static int write_columns(void *context, const char *const *names, int count) {
  FILE *file = context;
  for (int k = 0; k < count; k++) {
    if (k > 0) putc(',', file);
    bool quote = false;
    for (const char *at = names[k]; *at != '\0'; at++) quote = quote || *at == ',' || *at == '"';
    if (quote) putc('"', file);
    for (const char *at = names[k]; *at != '\0'; at++) {
      if (*at == '"') putc('"', file);
      putc(*at, file);
    }
    if (quote) putc('"', file);
  }
  putc('\n', file);
  return ferror(file) != 0;
}

static int write_row(void *context, const double *cells, int count) {
  FILE *file = context;
  char text[TV_MICRO_MAX];
  for (int k = 0; k < count; k++) {
    if (k > 0) putc(',', file);
    fwrite(text, 1, tv_micro(text, cells[k]), file);
  }
  putc('\n', file);
  return ferror(file) != 0;
}

struct tailvolt_record_sink tv_record_sink(FILE *file) {
  return (struct tailvolt_record_sink){.context = file, .columns = write_columns, .row = write_row};
}
