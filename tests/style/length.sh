#!/bin/sh
# Functions of at most 100 lines, files of at most 800, lines of at most 140 characters (110 are wanted).
cd "$(dirname "$0")/../.."
find src include tests -name '*.[ch]' | sort | xargs awk '
  function finish() {
    if (file != "" && lines > 800) { printf "%s: %d lines, at most 800\n", file, lines; bad = 1 }
  }
  FNR == 1 { finish(); file = FILENAME; open = 0; start = 0 }
  {
    lines = FNR
    if (length($0) > 140) { printf "%s:%d: %d characters, at most 140\n", FILENAME, FNR, length($0); bad = 1 }
    # a function starts at the left margin with its name and ends with a brace at the left margin
    if (!open && $0 ~ /^[A-Za-z_].*\(/ && $0 !~ /;[[:space:]]*$/) start = FNR
    if (!open && start && $0 ~ /\{[[:space:]]*$/) { open = 1; count++ }
    if (!open && start && $0 ~ /;[[:space:]]*$/) start = 0
    if ($0 ~ /^}/) {
      if (open && FNR - start + 1 > 100) {
        printf "%s:%d: function of %d lines, at most 100\n", FILENAME, start, FNR - start + 1
        bad = 1
      }
      open = 0
      start = 0
    }
  }
  END { finish(); if (!bad) printf "lengths: %d functions within bounds\n", count; exit bad }
'
