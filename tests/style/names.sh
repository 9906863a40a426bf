#!/bin/sh
# Nothing is judged by a name or a sentence: parts, network, simulation and studies compare no text, except as listed
# here with the reason. Facts are fields and enums; their words are made in src/text.
cd "$(dirname "$0")/../.."
# file, most calls, what is compared
allowed='
src/simulate/programmes.c    4  whether two descriptions name the same file
src/study/vary.c             5  whether two faults are the same
src/study/vary_values.c      4  the list of values that the user typed
src/study/remedy_catalogue.c 6  words of the catalogue file
src/study/remedy_compose.c   8  whether a new name is taken
src/study/remedy_fuses.c     1  which conductor of two systems is the same
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

# One word for one thing, the trade's or circuit simulation's own: beside each refused name is the word to use.
refused='
tv_(way|path|loop)[a-z_]*     feed path: tv_feed_path, and tv_feed_drops for the volts along it
tv_draw(_[a-z]*)?             load law
(tv_)?(rungs?|ladder)         size step
[a-z_]*(_tell|told)(_[a-z]+)? progress, stated, asked
[a-z_]*glide[a-z_]*           slow advance
hopeless[a-z_]*               collapsed load
tv_vehicle                    a search
tv_mode                       active set
(field_x|x_low|x_high)        field fraction
'
sources=$(find src include \( -name '*.[ch]' -o -name '*.inc' \) | sort)
while read -r pattern words; do
  [ -n "$pattern" ] || continue
  # identifiers only: comments and texts are taken out
  if sed -E 's#"([^"\\]|\\.)*"##g; s#/\*.*\*/##; s#^[[:space:]]*(/\*|\*).*##; s#/\*.*##; s#//.*##' $sources |
    grep -nwE "$pattern"; then
    echo "refused name; the word for it is: $words"
    status=1
  fi
done <<EOF
$refused
EOF
[ $status -ne 0 ] || echo "nothing is judged by a name, and one word for one thing"
exit $status
