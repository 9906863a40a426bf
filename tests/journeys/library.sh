#!/bin/sh
# The library as others see it: its symbols, each documented; an outside project finds it by find_package, in C and in C++.
# `library.sh COMMAND update` writes the list of symbols anew.
set -eu
build=$(cd "$(dirname "$1")" && pwd)
library=$build/libtailvolt.so
list=tests/journeys/support/symbols.txt
[ -e "$library" ] || { echo "skipped: no shared library"; exit 77; }
grep -q '^TAILVOLT_MODE:[A-Z]*=release$' "$build/CMakeCache.txt" || { echo "skipped: release builds only"; exit 77; }
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT

nm -D --defined-only "$library" | awk '$2 ~ /^[TDRBVW]$/ { print $3 }' | LC_ALL=C sort >"$work/symbols"
[ "${2:-}" != update ] || cp "$work/symbols" "$list"
if grep -v '^tailvolt_' "$work/symbols"; then echo "the symbols above lack the prefix tailvolt_"; exit 1; fi
diff "$list" "$work/symbols" || { echo "the symbols are not those of $list: none may go within a major version; new ones are added there"; exit 1; }
# declared and explained: a comment before the declaration or before the group that it is in
awk 'FNR == 1 { told = 0 } /^[[:space:]]*$/ { told = 0 } /\/\*\*/ { told = 1 }
  /^TAILVOLT_API/ && !told { print FILENAME ":" FNR ": no comment: " $0; bad = 1 } END { exit bad }' include/tailvolt/*.h
while read -r symbol; do
  grep -qE "(^|[^a-z_])$symbol\(" include/tailvolt/*.h || { echo "$symbol is exported and in no header"; exit 1; }
done <"$list"

cmake --install "$build" --prefix "$work/first" >/dev/null
mv "$work/first" "$work/prefix"
mkdir "$work/outside"
cat >"$work/outside/program.c" <<'C'
#include <stdio.h>
#include <string.h>
#include <tailvolt/tailvolt.h>
int main(void) {
  struct tailvolt_options options = tailvolt_default_options();
  printf("%s\n", tailvolt_version());
  return options.settle_s > 0 && strcmp(tailvolt_version(), TAILVOLT_VERSION) == 0 ? 0 : 1;
}
C
cp "$work/outside/program.c" "$work/outside/program.cpp"
language=
! command -v c++ >/dev/null 2>&1 || language=CXX
cat >"$work/outside/CMakeLists.txt" <<C
cmake_minimum_required(VERSION 3.18)
project(outside LANGUAGES C $language)
find_package(tailvolt 0.1 REQUIRED)
add_executable(shared program.c)
target_link_libraries(shared PRIVATE tailvolt::tailvolt)
add_executable(static program.c)
target_link_libraries(static PRIVATE tailvolt::static)
if("$language" STREQUAL "CXX")
  add_executable(plus program.cpp)
  target_compile_options(plus PRIVATE -Wall -Wextra -Werror)
  target_link_libraries(plus PRIVATE tailvolt::tailvolt)
endif()
C
{ cmake -S "$work/outside" -B "$work/outside/build" -DCMAKE_PREFIX_PATH="$work/prefix" &&
  cmake --build "$work/outside/build"; } >"$work/log" 2>&1 || { tail -n 20 "$work/log"; exit 1; }
for program in shared static ${language:+plus}; do
  "$work/outside/build/$program" >"$work/out" || { echo "$program does not run"; exit 1; }
done
echo "$(wc -l <"$list") symbols, each in a header and explained; found and linked by an outside project${language:+, in C++ too}"
