#include "command/record.h"

#include <errno.h>
#include <stddef.h>
#include <stdlib.h>

#include "report/csv.h"
#include "text/buffer.h"
#include "text/number.h"

static int write_columns(void *context, const char *const *names, int count) {
  struct tv_output *output = context;
  struct tv_buffer line = {0};
  char *text = NULL;
  for (int k = 0; k < count; k++) {
    if (k > 0) tv_buffer_add(&line, ",");
    tv_csv_text(&line, names[k]);
  }
  tv_buffer_add(&line, "\n");
  if (tv_buffer_finish(&line, &text) != TAILVOLT_OK) {
    output->error = ENOMEM;
    return 1;
  }
  fputs(text, output->file);
  free(text);
  return ferror(output->file) != 0;
}

static int write_row(void *context, const double *cells, int count) {
  FILE *file = ((struct tv_output *)context)->file;
  char text[TV_MICRO_MAX];
  for (int k = 0; k < count; k++) {
    if (k > 0) putc(',', file);
    fwrite(text, 1, tv_micro(text, cells[k]), file);
  }
  putc('\n', file);
  return ferror(file) != 0;
}

struct tailvolt_record_sink tv_record_sink(struct tv_output *output) {
  return (struct tailvolt_record_sink){.context = output, .columns = write_columns, .row = write_row};
}
