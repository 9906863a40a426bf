#!/bin/sh
# The Debian package: made, looked at, unpacked into an empty root and run there.
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
dpkg-deb -c "$package" | awk '{ print $6 }' >"$work/files"
for file in bin/tailvolt include/tailvolt/tailvolt.h share/man/man1/tailvolt.1 share/tailvolt/examples/reference/ten-line.ini \
  share/tailvolt/profiles/catalogue.csv share/bash-completion/completions/tailvolt share/doc/tailvolt/copyright; do
  grep -qx "./usr/$file" "$work/files" || { echo "the package lacks /usr/$file"; exit 1; }
done
for end in libtailvolt.so libtailvolt.a pkgconfig/tailvolt.pc cmake/tailvolt/tailvolt-config.cmake; do
  grep -q "/$end\$" "$work/files" || { echo "the package lacks $end"; exit 1; }
done
dpkg-deb -c "$package" | awk '$2 != "root/root" { print; bad = 1 } END { exit bad }' || { echo "files above belong not to root"; exit 1; }
dpkg-deb -x "$package" "$work/root"
seen=$("$work/root/usr/bin/tailvolt" simulate "$work/root/usr/share/tailvolt/examples/reference/ten-line.ini" --spread 0 --time-step 5ms | head -n 1)
case $seen in FAILS* | HOLDS* | MARGINAL*) ;; *) echo "the unpacked command says: $seen"; exit 1 ;; esac
echo "$(basename "$package"): $(wc -l <"$work/files") entries, $(wc -c <"$package") bytes; unpacked and run"
