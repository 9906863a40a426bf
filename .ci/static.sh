#!/bin/sh
# .ci/build static: the command as one file that needs no library, build-static/tailvolt, and a run of it in an empty root.
#
# Debian has no archive of the sound library, so that is built once from Debian's source, without MP3. Returns 77 where the source is
# not to be had, and says so.
set -eu
cd "$(dirname "$0")/.."
. ./.ci/needs.sh
SOURCES=$PWD/build-static
PREFIX=$SOURCES/prefix
. ./.ci/sources.sh
need $NEEDED_TO_BUILD 'command:dpkg-source|dpkg-dev'
mkdir -p "$SOURCES"

if [ ! -e "$PREFIX/lib/libsndfile.a" ]; then
  fetch libsndfile || { echo "static skipped: the source of libsndfile cannot be had"; exit 77; }
  source=$(echo "$SOURCES"/sources/libsndfile-*/)
  { cmake -S "$source" -B "$SOURCES/sound" -DCMAKE_BUILD_TYPE=Release -DBUILD_SHARED_LIBS=OFF -DENABLE_MPEG=OFF -DBUILD_PROGRAMS=OFF \
    -DBUILD_EXAMPLES=OFF -DBUILD_TESTING=OFF -DENABLE_CPACK=OFF -DENABLE_PACKAGE_CONFIG=OFF -DCMAKE_INSTALL_LIBDIR=lib \
    -DCMAKE_INSTALL_PREFIX="$PREFIX" && cmake --build "$SOURCES/sound" --parallel "$JOBS" --target install; } >"$SOURCES/sound.log" 2>&1 ||
    { tail -n 20 "$SOURCES/sound.log"; exit 1; }
fi
PKG_CONFIG_PATH=$PREFIX/lib/pkgconfig cmake -S . -B "$SOURCES" -DTAILVOLT_STATIC=ON -DTAILVOLT_TESTS=OFF >"$SOURCES/build.log"
cmake --build "$SOURCES" --parallel "$JOBS" --target tailvolt >>"$SOURCES/build.log" 2>&1 || { tail -n 30 "$SOURCES/build.log"; exit 1; }

# nothing but the file, a system and a recording
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
! ldd "$SOURCES/tailvolt" >"$work/ldd" 2>&1 || { cat "$work/ldd"; echo "needs libraries"; exit 1; }
mkdir "$work/root"
cp "$SOURCES/tailvolt" examples/reference/ten-line.ini "$work/root"
if [ "$(id -u)" -eq 0 ]; then
  seen=$(chroot "$work/root" /tailvolt simulate ten-line.ini --spread 0 --time-step 5ms)
else
  seen=$(cd "$work/root" && ./tailvolt simulate ten-line.ini --spread 0 --time-step 5ms)
fi
case $seen in FAILS* | HOLDS* | MARGINAL*) ;; *) echo "$seen"; exit 1 ;; esac
echo "build-static/tailvolt: $(wc -c <"$SOURCES/tailvolt") bytes, needs no library; run in an empty root"
