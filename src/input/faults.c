#include "input/faults.h"

#include <stdarg.h>
#include <stdio.h>

#include "text/text.h"

void tv_fault_add(struct tailvolt_faults *faults, const char *file, int line, int column,
                  const char *key, const char *value, const char *format, ...) {
  if (faults->count >= TAILVOLT_FAULTS_MAX) {
    faults->dropped++;
    return;
  }
  struct tailvolt_fault *fault = &faults->fault[faults->count++];
  fault->line = line;
  fault->column = column;
  tv_copy_text(fault->file, sizeof fault->file, file);
  tv_copy_text(fault->key, sizeof fault->key, key);
  tv_copy_text(fault->value, sizeof fault->value, value);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(fault->message, sizeof fault->message, format, arguments);
  va_end(arguments);
}
