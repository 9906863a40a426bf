#!/bin/sh
# Nothing is judged by a name or a sentence: parts, network, simulation and studies compare no text, but for what is
# listed here with its reason. Facts are fields and enums; their words are made in src/text.
cd "$(dirname "$0")/../.."
# file, most calls, what is compared
allowed='
src/simulate/recorder.c      2  the end of a column name that the same file has made
src/simulate/programmes.c    4  whether two descriptions name the same file
src/study/vary.c             5  whether two faults are the same
src/study/vary_values.c      4  the list of values that the user typed
src/study/next_step.c        1  whether the system came from standard input
src/study/remedy_catalogue.c 6  words of the catalogue file
src/study/remedy_compose.c   9  whether a new name is taken, and which fuse of two systems is the same
'
status=0
for file in $(find src/parts src/network src/simulate src/study -name '*.[ch]' | sort); do
  count=$(grep -oE '(^|[^A-Za-z0-9_])(str(n?)(case)?cmp|strstr|strr?chr|memmem|fnmatch) *\(' "$file" | wc -l)
  [ "$count" -gt 0 ] || continue
  most=$(printf '%s' "$allowed" | awk -v file="$file" '$1 == file { print $2 }')
  if [ "$count" -gt "${most:-0}" ]; then
    echo "$file: $count comparisons of text, at most ${most:-0}: judge by a field or an enum"
    grep -nE '(str(n?)(case)?cmp|strstr|strr?chr|memmem|fnmatch) *\(' "$file"
    status=1
  fi
done
[ $status -ne 0 ] || echo "nothing is judged by a name"
exit $status
