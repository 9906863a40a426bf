#!/bin/sh
# Includes point downward only: command -> report -> study -> simulate -> network, input -> parts -> text, numeric -> public headers.
cd "$(dirname "$0")/../.."
# FILES (a folder below src, or one file): what they may include besides their own folder. A folder means all its
# headers. An entry for a file replaces that of its folder.
allowed='
include/tailvolt      tailvolt
text                  tailvolt/version.h tailvolt/status.h tailvolt/system.h tailvolt/finding.h tailvolt/result.h tailvolt/remedy.h tailvolt/study.h
numeric               numeric
parts                 tailvolt/status.h tailvolt/system.h text numeric
network               tailvolt/status.h tailvolt/system.h text numeric parts
input                 tailvolt/log.h tailvolt/quantity.h tailvolt/status.h tailvolt/system.h tailvolt/profile.h tailvolt/envelope.h tailvolt/drive.h tailvolt/questions.h tailvolt/measure.h text parts
simulate              tailvolt/status.h tailvolt/system.h tailvolt/profile.h tailvolt/finding.h tailvolt/result.h tailvolt/simulate.h text parts network
simulate/programmes.c tailvolt/simulate.h text parts input/programme_read.h
simulate/check.c      tailvolt/simulate.h text parts input/programme_read.h input/faults.h input/assumes.h simulate/places.h
study                 tailvolt text numeric parts network input simulate
report                tailvolt text parts simulate
command               tailvolt text report
page                  tailvolt text report simulate/worst.h
page/trace.c          tailvolt simulate/lamp.h
'
printf '%s' "$allowed" | awk '
  BEGIN { folders = "^(tailvolt|text|numeric|parts|network|input|simulate|study|report|command|page)/" }
  # the table, then every source
  FILENAME == "-" {
    if (NF < 2) next
    known[$1] = 1
    for (k = 2; k <= NF; k++) may[$1, $k] = 1
    next
  }
  FNR == 1 {
    place = FILENAME
    sub(/^src\//, "", place)
    own = place
    sub(/\/[^\/]*$/, "", own)
    rule = (place in known) ? place : own
    if (!(rule in known)) { printf "%s: a folder that tests/style/layers.sh does not know\n", FILENAME; bad = 1 }
    files++
  }
  /^[[:space:]]*#[[:space:]]*include[[:space:]]*["<]/ {
    header = $0
    sub(/^[^"<]*["<]/, "", header)
    sub(/[">].*/, "", header)
    if (header !~ folders) {
      # libraries are in angle brackets
      if ($0 !~ /"/) next
      printf "%s:%d: %s: not by its folder\n", FILENAME, FNR, header
      bad = 1
      next
    }
    count++
    folder = header
    sub(/\/.*/, "", folder)
    if (folder == own && rule == own) next
    # the header of the same name
    twin = place
    if (sub(/\.c$/, ".h", twin) && twin == header) next
    if ((rule, folder) in may || (rule, header) in may) next
    printf "%s:%d: %s must not include %s\n", FILENAME, FNR, rule, header
    bad = 1
  }
  END {
    if (files < 100) { printf "only %d sources were found\n", files; bad = 1 }
    if (!bad) printf "layers: %d includes of %d files point downward\n", count, files
    exit bad
  }
' - $(find include src -name '*.[ch]' | sort)
