#!/bin/sh
# .ci/page.sh PAGE.html: the module for WebAssembly, and the page with everything in it. Returns 77 where the tools or sources for
# WebAssembly cannot be had, and says which.
set -eu
cd "$(dirname "$0")/.."
page=$1
.ci/wasm.sh build
mkdir -p "$(dirname "$page")"
sh src/page/assemble.sh build-wasm/library/page.wasm "$page"
bytes=$(wc -c <"$page")
echo "$page: $bytes bytes"
[ "$bytes" -lt 1500000 ] || { echo "larger than 1.5 MB" >&2; exit 1; }
