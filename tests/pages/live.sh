#!/bin/sh
# The page for a browser: builds it into the build folder and looks at it in headless Chromium. live.sh BUILD-FOLDER [MODE], modes as in
# live.js. 77 = node, Chromium or the tools for WebAssembly cannot be had.
folder=$1
mode=${2:-short}
for tool in node chromium; do
  command -v $tool >/dev/null 2>&1 || {
    echo "skipped: $tool is not installed"
    exit 77
  }
done
sh .ci/page.sh "$folder/tailvolt.html" || exit
exec node tests/pages/live.js "$folder/tailvolt.html" "$folder/tailvolt" "$mode"
