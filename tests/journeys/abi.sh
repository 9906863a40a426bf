#!/bin/sh
# What a program that was built against an earlier libtailvolt relies on: prototypes, sizes of structs, place and type of their
# members, values of enums and macros, as pahole reads them from the debug info of the headers, for each kind of machine.
# `abi.sh COMMAND update` writes the list anew: what it then shows as gone or changed breaks such programs.
set -eu
build=$(cd "$(dirname "$1")" && pwd)
support=tests/journeys/support
compiler=$(sed -n 's/^CMAKE_C_COMPILER:[A-Z]*=//p' "$build/CMakeCache.txt")
command -v pahole >/dev/null 2>&1 || { echo "skipped: no pahole"; exit 77; }
machine=$("$compiler" -dumpmachine)
machine=${machine%%-*}
list=$support/abi-$machine.txt
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT

# enums without a name get one here, or pahole has nothing to ask for; members of one struct show all prototypes
mkdir "$work/tailvolt"
for header in include/tailvolt/*.h; do
  name=$(basename "$header" .h)
  awk -v name="$name" '/^enum \{/ { sub(/^enum/, "enum unnamed_" ++k "_of_" name) } { print }' "$header" >"$work/tailvolt/$name.h"
done
{
  printf '#include <tailvolt/tailvolt.h>\n'
  printf '#include <tailvolt/%s>\n' $(cd "$work/tailvolt" && ls)
  echo 'struct tailvolt_functions {'
  sed 's/.*/  __typeof__(\&&) &;/' $support/symbols.txt
  echo '};'
  echo 'struct tailvolt_functions tailvolt_functions;'
} >"$work/all.c"
"$compiler" -std=c17 -g -fno-eliminate-unused-debug-types -I"$work" -c "$work/all.c" -o "$work/all.o"
names=$(sed -n 's/^struct \(tailvolt_[a-z0-9_]*\) {.*/\1/p; s/^enum \([a-z0-9_]*\) {.*/\1/p' "$work"/tailvolt/*.h)
for name in $names; do
  pahole -C "$name" "$work/all.o" >"$work/one"
  [ -s "$work/one" ] || { echo "pahole finds no $name: is it declared as others are?" >&2; exit 1; }
  cat "$work/one"
done >"$work/raw"
pahole -C tailvolt_functions "$work/all.o" >>"$work/raw"

# "  OFFSET  TYPE NAME"; the size last, since members may come after; functions as they are declared
awk '
  function flat(text) { gsub(/[ \t]+/, " ", text); gsub(/\* \*/, "**", text); sub(/^ /, "", text)
    # gcc and clang name them differently
    gsub(/long long unsigned int/, "unsigned long long", text); gsub(/long unsigned int/, "unsigned long", text)
    gsub(/long long int/, "long long", text); gsub(/long int/, "long", text); return text }
  /^(struct|enum) / { prototypes = $2 == "tailvolt_functions"; name = $1 " " $2; if (prototypes) print "functions"; else print name; next }
  /\/\* size: / { sub(/.*size: /, ""); sub(/,.*/, ""); if (!prototypes) print "  " $0 " bytes"; next }
  /^[ \t]*$/ || /^[ \t]*\/\*/ || /^}/ { next }
  / = .*,$/ { sub(/,$/, ""); print "  " flat($0); next }
  prototypes { sub(/; *\/\*.*/, ""); sub(/\(\*/, ""); sub(/\)/, ""); print "  " flat($0); next }
  { offset = $0; sub(/.*\/\* */, "", offset); sub(/ .*/, "", offset); sub(/; *\/\*.*/, ""); printf "  %5s  %s\n", offset, flat($0) }
' "$work/raw" >"$work/abi"
{
  echo "macros"
  "$compiler" -dM -E -I"$work" "$work/all.c" | sed -n 's/^#define \(TAILVOLT_[A-Z0-9_]* .\)/  \1/p' | grep -vE ' TAILVOLT_(API|CHECKED|VERSION|[A-Z]*_H) ' |
    LC_ALL=C sort
} >>"$work/abi"

if [ "${2:-}" = update ]; then
  [ ! -e "$list" ] || diff -U 3 "$list" "$work/abi" || true
  cp "$work/abi" "$list"
fi
[ -e "$list" ] || { echo "skipped: no list for $machine; \`abi.sh COMMAND update\` writes one"; exit 77; }
diff -U 3 "$list" "$work/abi" || {
  echo "the headers are not those of $list. What is gone or has changed (-) breaks programs that were built before, and must wait for"
  echo "the next major version; what comes after all the rest (+) is added by \`sh tests/journeys/abi.sh $1 update\`"
  exit 1
}
echo "$(grep -c '^struct' "$list") structs, $(grep -c '^enum' "$list") enums, $(sed -n '/^functions/,/^macros/p' "$list" | grep -c '(') functions: as before"
