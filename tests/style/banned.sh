#!/bin/sh
# Functions that overrun, that hide errors, or that read numbers by the locale. Numbers are read in one file.
cd "$(dirname "$0")/../.."
status=0

calls() { # PATTERN FILE...: calls only, not longer names that end alike, not comments at line start
  pattern=$1
  shift
  grep -nE "(^|[^A-Za-z0-9_.>])($pattern)[[:space:]]*\\(" "$@" /dev/null |
    grep -vE '^[^:]*:[0-9]+:[[:space:]]*(\*|/\*|//)'
}

# tests may, on their own texts
sources=$(find src include -name '*.[ch]' | sort)
if calls 'sprintf|vsprintf|strcpy|stpcpy|strcat|strtok|gets|atoi|atol|atoll|atof' $sources; then
  status=1
fi
# text/number.c reads back what it has just written, under the same locale; command/options.c reads whole numbers
sources=$(find src include -name '*.[ch]' ! -path src/text/read_number.c ! -path src/text/number.c \
  ! -path src/command/options.c | sort)
if calls 'strtod|strtof|strtold|strtol|strtoul|strtoll|strtoull|sscanf|fscanf|scanf' $sources; then
  echo "numbers are read by tv_parse_number() in src/text/read_number.c"
  status=1
fi
# numbers become text in one file, whatever the locale
if grep -nE '%[-+ #0-9.*]*l?[efgEFG]([^a-z]|$)' $(find src include \( -name '*.[ch]' -o -name '*.inc' -o -name '*.def' \) ! -path src/text/number.c) /dev/null; then
  echo "numbers are written by src/text/number.c"
  status=1
fi
# the library neither prints, exits, reads the environment nor sets the locale
library=$(find src -name '*.[ch]' ! -path 'src/command/*' ! -path src/page/module.c | sort) # those two are hosts
if calls 'printf|puts|putchar|perror|exit|abort|_Exit|getenv|setlocale|gsl_set_error_handler(_off)?' $library ||
  grep -nE '(^|[^A-Za-z0-9_])(stdout|stderr)[^A-Za-z0-9_]' $library /dev/null |
    grep -vE '^[^:]*:[0-9]+:[[:space:]]*(\*|/\*|//)'; then
  echo "the library does not print, exit, read the environment or set process-wide state"
  status=1
fi
[ $status -ne 0 ] || echo "banned functions: none"
exit $status
