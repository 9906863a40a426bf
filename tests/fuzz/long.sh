#!/bin/sh
# long.sh [SECONDS] [KEEP]: an hour per target by default; finds are kept in KEEP and used the next time.
set -eu
seconds=${1:-3600}
keep=${2:-}
cd "$(dirname "$0")/../.."
# a build of its own: what is compared is watched too, which the short runs beside the tests do without
WATCH_COMPARES=yes exec sh tests/fuzz/run.sh build-fuzz "$seconds" "${keep:-build-fuzz/corpus}"
