#!/bin/sh
# Looks at a page in headless Chromium: no message on the console, nothing wider than a phone or a sheet of A4, contrast and size of
# all text, pages when printed. check.sh PAGE.html MOST-PAGES; prints what is wrong. 77 = Chromium is not installed.
page=$1
most_pages=$2
here=$(dirname "$0")
chromium=$(command -v chromium || command -v chromium-browser || command -v google-chrome) || {
  echo "skipped: Chromium is not installed"
  exit 77
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
wrong=0
complain() {
  echo "$page: $*"
  wrong=1
}

# BROWSE ARGUMENTS...: with its own profile, nothing fetched
browse() {
  rm -rf "$work/profile"
  timeout 90 "$chromium" --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
    --disable-component-update --disable-sync --user-data-dir="$work/profile" --virtual-time-budget=4000 "$@"
}

cp "$page" "$work/page.html"
browse --enable-logging=stderr --dump-dom "file://$work/page.html" >"$work/dom" 2>"$work/log" || complain "Chromium ended with $?"
grep -q '</html>' "$work/dom" || complain "Chromium shows nothing"
if grep -q 'CONSOLE' "$work/log"; then complain "console: $(grep CONSOLE "$work/log" | head -3)"; fi

# a phone, and A4 at 96 dots an inch less its margins
for width in 360 711; do
  awk -v width=$width -f "$here/wrap.awk" "$page" >"$work/wrapped.html"
  browse --dump-dom "file://$work/wrapped.html" >"$work/dom" 2>"$work/log" || complain "Chromium ended with $?"
  sed -n '/<pre id="seen">/,/<\/pre>/p' "$work/dom" | sed 's/.*<pre id="seen">//; s/<\/pre>.*//' >"$work/seen"
  grep -q '^texts [1-9]' "$work/seen" || complain "the page could not be looked at, $width px wide"
  awk '$1 == "width" && $4 > $2 { exit 1 }' "$work/seen" || complain "$width px wide: $(head -1 "$work/seen")"
  if grep -E '^(overflow|contrast|small) ' "$work/seen" | head -3 | grep .; then complain "$width px wide: see above"; fi
done

browse --no-pdf-header-footer --print-to-pdf="$work/page.pdf" "file://$work/page.html" 2>"$work/log" || complain "Chromium cannot print it"
if command -v pdfinfo >/dev/null 2>&1; then
  pages=$(pdfinfo "$work/page.pdf" | awk '$1 == "Pages:" { print $2 }')
  [ "$pages" -le "$most_pages" ] || complain "prints on $pages pages, at most $most_pages are wanted"
else
  echo "not checked: pages when printed (pdfinfo is not installed)"
fi
exit $wrong
