#!/bin/sh
# The Debian package: made, looked at, linted, unpacked into an empty root and run there.
set -eu
build=$(cd "$(dirname "$1")" && pwd)
for tool in cpack dpkg-deb dpkg-shlibdeps; do
  command -v $tool >/dev/null 2>&1 || { echo "skipped: no $tool"; exit 77; }
done
grep -q '^TAILVOLT_MODE:[A-Z]*=release$' "$build/CMakeCache.txt" || { echo "skipped: release builds only"; exit 77; }
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
(cd "$build" && cpack -G DEB -B "$work/made") >"$work/log" 2>&1 || { tail -n 20 "$work/log"; exit 1; }
package=$(ls "$work"/made/tailvolt_*.deb)
field() { dpkg-deb -f "$package" "$1"; }
version=$("$1" --version | sed -n '1s/tailvolt //p')
[ "$(field Package)" = tailvolt ] && [ "$(field Version)" = "$version" ] || { echo "package and version: $(field Package) $(field Version)"; exit 1; }
for library in libgsl libjansson libsndfile libcsv; do
  field Depends | grep -q "$library" || { echo "depends not on $library: $(field Depends)"; exit 1; }
done

# every kind of file that is installed, and each example and header of the source folder
dpkg-deb -c "$package" | awk '{ print $6 }' >"$work/files"
for file in bin/tailvolt share/man/man1/tailvolt.1.gz share/bash-completion/completions/tailvolt share/zsh/site-functions/_tailvolt \
  share/fish/vendor_completions.d/tailvolt.fish share/doc/tailvolt/copyright share/doc/tailvolt/changelog.gz \
  $(find include -name '*.h') $(find examples profiles plots -type f ! -name first-run.sh | sed 's|^|share/tailvolt/|'); do
  grep -qx "./usr/$file" "$work/files" || { echo "the package lacks /usr/$file"; exit 1; }
done
for end in libtailvolt.so libtailvolt.so.0 libtailvolt.a pkgconfig/tailvolt.pc cmake/tailvolt/tailvolt-config.cmake; do
  grep -q "/$end\$" "$work/files" || { echo "the package lacks $end"; exit 1; }
done
dpkg-deb -c "$package" | awk '$2 != "root/root" { print; bad = 1 } END { exit bad }' || { echo "files above belong not to root"; exit 1; }

root=$work/root/usr
dpkg-deb -x "$package" "$work/root"
seen=$("$root/bin/tailvolt" simulate "$root/share/tailvolt/examples/reference/ten-line.ini" --spread 0 --time-step 5ms | head -n 1)
case $seen in FAILS* | HOLDS* | MARGINAL*) ;; *) echo "the unpacked command says: $seen"; exit 1 ;; esac
gzip -dc "$root/share/man/man1/tailvolt.1.gz" >"$work/page.1"
"$root/bin/tailvolt" help --man | cmp -s - "$work/page.1" || { echo "the manual page is not the unpacked command's"; exit 1; }
gzip -dc "$root/share/doc/tailvolt/changelog.gz" | head -n 1 | grep -q "^tailvolt ($version) " || { echo "the changelog is of another version"; exit 1; }

# the page for a browser: where it was built, with the licences of what is compiled into it; else the package is said to lack it
if [ -e "$build/tailvolt.html" ]; then
  cmp "$build/tailvolt.html" "$root/share/tailvolt/tailvolt.html"
  "$root/bin/tailvolt" live "$root/share/tailvolt/examples/reference/ten-line.ini" >"$work/live.html"
  grep -q '"name":"ten-line.ini"' "$work/live.html" || { echo "the unpacked command does not find its page"; exit 1; }
  for package_of in libgsl-dev libjansson-dev libcsv-dev wasi-libc; do
    grep -q "what $package_of says of it" "$root/share/doc/tailvolt/copyright" || { echo "no licence of $package_of"; exit 1; }
  done
  with="with the page"
else
  [ ! -e "$root/share/tailvolt/tailvolt.html" ] || { echo "a page from nowhere"; exit 1; }
  grep -q "without the page for a browser" "$work/log" || { echo "the page is missing and nobody says so"; exit 1; }
  with="without the page, which is not built"
fi

# what is overridden is explained: a comment above each
awk '/^#/ { told = 1; next } /./ && !told { print "not explained: " $0; bad = 1 } { told = 0 } END { exit bad }' .ci/debian/overrides
echo "$(basename "$package"): $(wc -l <"$work/files") entries, $(wc -c <"$package") bytes, $with; unpacked and run"
command -v lintian >/dev/null 2>&1 || { echo "skipped: no lintian (the rest is right)"; exit 77; }
# a folder configured before libraries went by architecture keeps their old place
grep -q '^CMAKE_INSTALL_LIBDIR:[A-Z]*=lib/.*-' "$build/CMakeCache.txt" || {
  echo "skipped: lintian wants libraries by architecture; configure afresh (the rest is right)"
  exit 77
}
lintian --allow-root --fail-on error,warning --tag-display-limit 0 "$package" >"$work/lint" 2>&1 || { cat "$work/lint"; exit 1; }
