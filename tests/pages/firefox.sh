#!/bin/sh
# The page for a browser in headless Firefox, where that is installed: firefox.sh BUILD-FOLDER, after live.sh has built the page.
# 77 = node, Firefox or the page is not there.
for tool in node firefox-esr; do
  command -v $tool >/dev/null 2>&1 || {
    echo "skipped: $tool is not installed"
    exit 77
  }
done
[ -e "$1/tailvolt.html" ] || {
  echo "skipped: the page was not built"
  exit 77
}
exec node tests/pages/firefox.js "$1/tailvolt.html" "$1/tailvolt"
