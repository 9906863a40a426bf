#!/bin/sh
# The page in one file: assemble.sh MODULE.wasm PAGE.html puts markup, style, scripts, examples and the module together. The
# scripts and the style are named by their hashes in the page's content security policy. Needs gzip, base64, sha256sum and awk.
set -eu
module=$1
out=$2
here=$(dirname "$0")
root=$here/../..
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# sha256 in base64, as a policy wants it
hash() { printf "$(sha256sum "$1" | cut -c1-64 | sed 's/../&\n/g' | awk 'NF { a = index("0123456789abcdef", substr($1, 1, 1)) - 1
  b = index("0123456789abcdef", substr($1, 2, 1)) - 1; printf "\\%03o", a * 16 + b }')" | base64; }

{
  printf '"use strict";(() => {\n'
  for part in lanes job answer fields loop beat song compare remedy vary take_away start questions main; do cat "$here/script/$part.js"; done
  printf '})();\n'
} >"$work/script"
cp "$here/page.css" "$work/style"
gzip -9nc "$module" | base64 | tr -d '\n' >"$work/module"
# text between tags that hold data is taken as it stands, up to the next "</script"
guard() { ! grep -liE '</script|<!--' "$@" || { echo "cannot be put into a page as it stands: see above" >&2; exit 1; }; }
guard "$work/script" "$here/worker.js"
printf '%s' "$(cat "$work/script")" >"$work/script.plain"
printf '%s' "$(cat "$work/style")" >"$work/style.plain"

while IFS='|' read -r system profile title; do
  [ -n "$system" ] || continue
  guard "$root/$system"
  printf '<script type="text/plain" class="example" data-title="%s" data-system="%s" data-profile="%s">' "$title" "$system" "$profile"
  cat "$root/$system"
  printf '</script>\n'
  [ -n "$profile" ] || continue
  guard "$root/$profile"
  printf '<script type="text/plain" class="profile" data-profile="%s">' "$profile"
  cat "$root/$profile"
  printf '</script>\n'
done <"$here/examples.txt" >"$work/examples"

script_hash=$(hash "$work/script.plain")
style_hash=$(hash "$work/style.plain")
awk -v work="$work" -v worker="$here/worker.js" -v script_hash="$script_hash" -v style_hash="$style_hash" '
  function all(path,  line, text) { text = ""; while ((getline line < path) > 0) text = text line "\n"; close(path); return text }
  function put(mark, text,  at) { at = index($0, mark); if (at) $0 = substr($0, 1, at - 1) text substr($0, at + length(mark)) }
  function chomp(text) { sub(/\n$/, "", text); return text }
  { put("@SCRIPT_HASH@", script_hash); put("@STYLE_HASH@", style_hash)
    put("@STYLE@", chomp(all(work "/style.plain"))); put("@EXAMPLES@", chomp(all(work "/examples")))
    put("@WORKER@", all(worker)); put("@MODULE@", chomp(all(work "/module"))); put("@SCRIPT@", chomp(all(work "/script.plain")))
    print }' "$here/page.html" >"$work/page"
mv "$work/page" "$out"
