#!/bin/sh
# .ci/package.sh FOLDER: a Debian package of the release build in FOLDER, with the page for a browser where its tools can be had.
set -eu
cd "$(dirname "$0")/.."
. ./.ci/needs.sh
folder=$1
sh .ci/page.sh "$folder/tailvolt.html" || {
  [ $? -eq 77 ] || exit 1
  rm -f "$folder/tailvolt.html" # of an older build
  echo "the package is made without the page"
}
(cd "$folder" && cpack -G DEB)
want 'command:lintian|lintian'
has command:lintian || exit 0
lintian --fail-on error,warning "$folder"/tailvolt_*.deb
