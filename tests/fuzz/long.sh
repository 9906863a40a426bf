#!/bin/sh
# long.sh [SECONDS] [KEEP]: an hour per target by default; finds are kept in KEEP and used the next time.
set -eu
seconds=${1:-3600}
keep=${2:-}
cd "$(dirname "$0")/../.."
exec sh tests/fuzz/run.sh build-dev "$seconds" "${keep:-build-dev/corpus}"
