#!/bin/sh
# From a fresh clone to an answer: installs what is missing, builds, runs the van that fails at idle.
set -eu
cd "$(dirname "$0")/.."
. ./.ci/needs.sh

need $NEEDED_TO_BUILD
cmake -S . -B build -DTAILVOLT_TESTS=OFF >/dev/null
cmake --build build --parallel "$JOBS"

job=examples/van-800w-8awg
echo
echo "\$ build/tailvolt simulate --settle 60s $job/system.ini $job/profile.csv | head -n 5"
echo
build/tailvolt simulate --settle 60s "$job/system.ini" "$job/profile.csv" | head -n 5
echo
echo "The rest of the report shows why: the same command without head. The example is told in $job/README.md."
echo "Next: build/tailvolt check examples/reference/ten-line.ini, or build/tailvolt help"
