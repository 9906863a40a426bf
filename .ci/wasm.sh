#!/bin/sh
# .ci/build wasm: the library for WebAssembly (wasm32-wasi) in build-wasm, and the smoke run: the van in node must give
# the native program's results, to the last bit. `.ci/wasm.sh build` stops before the run.
#
# GSL, jansson and libcsv are built once, from Debian's sources, into build-wasm/prefix; about 40 s of processor time.
# Returns 77 where the packages, the sources or node are not available, and says which.
set -eu
cd "$(dirname "$0")/.."
. ./.ci/needs.sh

WASM=build-wasm
PREFIX=$WASM/prefix
CC="clang --target=wasm32-wasi"
FLAGS="-O2 -ffp-contract=off -w"
# what the library uses of GSL, and what that uses: whole folders, and files of others
GSL_FOLDERS='err sys block vector matrix cblas blas'
GSL_FILES='linalg/cholesky linalg/condest linalg/householder linalg/invtri linalg/qr linalg/symmtd linalg/trimult eigen/symm
eigen/symmv roots/brent roots/fsolver statistics/median statistics/quantiles statistics/select sort/sortvec qrng/inline
qrng/qrng qrng/sobol fit/linear cdf/beta cdf/chisq cdf/gamma cdf/gauss cdf/gaussinv cdf/tdist cdf/tdistinv permutation/init
permutation/permutation complex/math'
NEEDED_FOR_WASM='
command:clang|clang
command:wasm-ld|lld
command:llvm-ar|llvm
command:dpkg-source|dpkg-dev
file:/usr/include/wasm32-wasi/stdio.h|wasi-libc
'

skip() {
  echo "WebAssembly skipped: $*"
  exit 77
}

SOURCES=$PWD/$WASM
. ./.ci/sources.sh

# The .c files that make up the library of a GSL folder; the others are included by them, or tests.
gsl_files() { # FOLDER
  awk '/_la_SOURCES/ { on = 1 } on { print } on && !/\\$/ { on = 0 }' "$1/Makefile.am" | tr ' \\=\t' '\n\n\n\n' |
    grep -E '^[A-Za-z0-9_]+\.c$'
}

build_gsl() {
  source=$(echo "$SOURCES"/sources/gsl-*/)
  cat >"$source/config.h" <<'CONFIG'
#define HAVE_C99_INLINE 1
#define HAVE_INLINE 1
#define HAVE_DECL_ACOSH 1
#define HAVE_DECL_ASINH 1
#define HAVE_DECL_ATANH 1
#define HAVE_DECL_EXPM1 1
#define HAVE_DECL_FEENABLEEXCEPT 0
#define HAVE_DECL_FESETTRAPENABLE 0
#define HAVE_DECL_FINITE 1
#define HAVE_DECL_FPRND_T 0
#define HAVE_DECL_FREXP 1
#define HAVE_DECL_HYPOT 1
#define HAVE_DECL_ISFINITE 1
#define HAVE_DECL_ISINF 1
#define HAVE_DECL_ISNAN 1
#define HAVE_DECL_LDEXP 1
#define HAVE_DECL_LOG1P 1
#define HAVE_EXIT_SUCCESS_AND_FAILURE 1
#define HAVE_IEEE_COMPARISONS 1
#define HAVE_IEEE_DENORMALS 1
#define HAVE_MEMCPY 1
#define HAVE_MEMMOVE 1
#define HAVE_PRINTF_LONGDOUBLE 1
#define HAVE_STRDUP 1
#define HAVE_STRTOL 1
#define HAVE_STRTOUL 1
#define HAVE_VPRINTF 1
#define STDC_HEADERS 1
#define RELEASED
#define GSL_COERCE_DBL(x) (x)
#define RETURN_IF_NULL(x) if (!x) { return ; }
#define DISCARD_POINTER(p) do { ; } while (p ? 0 : 0);
CONFIG
  mkdir -p "$PREFIX/include/gsl"
  cp "$source"/gsl_*.h "$source"/*/gsl_*.h "$PREFIX/include/gsl"
  for folder in $(echo $GSL_FOLDERS $GSL_FILES | tr ' ' '\n' | sed 's|/.*||' | sort -u); do
    mkdir -p "$WASM/objects/$folder"
    files=$(echo $GSL_FILES | tr ' ' '\n' | sed -n "s|^$folder/\(.*\)|\1.c|p")
    (
      cd "$WASM/objects/$folder"
      { [ -z "$files" ] && gsl_files "$source$folder" || echo "$files"; } | sed "s|^|$source$folder/|" |
        xargs -n 12 -P "$JOBS" $CC $FLAGS -DHAVE_CONFIG_H -I"$source" -I"$SOURCES/prefix/include" -I"$source$folder" -c
    ) || return 1
  done
  llvm-ar qcs "$PREFIX/lib/libgsl.a.new" "$WASM"/objects/*/*.o && mv "$PREFIX/lib/libgsl.a.new" "$PREFIX/lib/libgsl.a"
}

build_small() {
  csv=$(echo "$WASM"/sources/libcsv-*/)
  cp "$csv/csv.h" "$PREFIX/include"
  $CC $FLAGS -I"$csv" -c "$csv/libcsv.c" -o "$WASM/objects/libcsv.o"
  llvm-ar qcs "$PREFIX/lib/libcsv.a" "$WASM/objects/libcsv.o"
  jansson=$(echo "$SOURCES"/sources/jansson-*/)
  cat >"$PREFIX/include/jansson_config.h" <<'CONFIG'
#ifndef JANSSON_CONFIG_H
#define JANSSON_CONFIG_H
#define JSON_INLINE inline
#define JSON_INTEGER_IS_LONG_LONG 1
#define JSON_HAVE_LOCALECONV 1
#define JSON_HAVE_ATOMIC_BUILTINS 1
#define JSON_HAVE_SYNC_BUILTINS 0
#define JSON_PARSER_MAX_DEPTH 2048
#endif
CONFIG
  cp "$jansson/src/jansson.h" "$PREFIX/include"
  mkdir -p "$WASM/objects/json"
  printf '#define HAVE_%s 1\n' STDINT_H LOCALE_H UNISTD_H SYS_TYPES_H SYS_STAT_H FCNTL_H CLOSE OPEN READ STRTOLL \
    LOCALECONV >"$WASM/objects/json/jansson_private_config.h"
  (cd "$WASM/objects/json" && $CC $FLAGS -DHAVE_CONFIG_H -I. -I"$SOURCES/prefix/include" -c "$jansson"/src/*.c)
  llvm-ar qcs "$PREFIX/lib/libjansson.a" "$WASM"/objects/json/*.o
}

describe() { # NAME LIBRARY
  printf 'Name: %s\nDescription: %s for WebAssembly\nVersion: 1\nLibs: -L%s/lib -l%s\nCflags: -I%s/include\n' \
    "$1" "$1" "$SOURCES/prefix" "$2" "$SOURCES/prefix" >"$PREFIX/lib/pkgconfig/$1.pc"
}

build_needs() {
  [ "$(cat "$PREFIX/complete" 2>/dev/null)" = "$GSL_FOLDERS $GSL_FILES" ] && return
  mkdir -p "$WASM/objects" "$PREFIX/lib/pkgconfig"
  for package in gsl libcsv jansson; do
    fetch "$package" || skip "the source of $package cannot be had"
  done
  build_gsl
  build_small
  describe gsl gsl
  describe jansson jansson
  # this build has no threads and no recordings; CMakeLists.txt asks for them all the same
  printf 'Name: none\nDescription: none\nVersion: 1\n' | tee "$PREFIX/lib/pkgconfig/sndfile.pc" >"$PREFIX/lib/pkgconfig/inih.pc"
  mkdir -p "$PREFIX/cmake"
  printf 'add_library(Threads::Threads INTERFACE IMPORTED)\nset(Threads_FOUND TRUE)\n' >"$PREFIX/cmake/FindThreads.cmake"
  echo "$GSL_FOLDERS $GSL_FILES" >"$PREFIX/complete"
}

need $NEEDED_FOR_WASM || skip "see above"
echo '#include <stdio.h>
int main(void) { volatile long double x = 1; return printf("%d", (int)(x * 2)) != 1; }' |
  $CC -x c - -o /dev/null 2>/dev/null || apt_install "libclang-rt-$(clang -dumpversion | cut -d. -f1)-dev-wasm32" ||
  skip "clang has no runtime for it"
mkdir -p "$WASM"
build_needs
PKG_CONFIG_LIBDIR=$SOURCES/prefix/lib/pkgconfig cmake -S . -B "$WASM/library" -DTAILVOLT_WERROR=ON \
  -DCMAKE_TOOLCHAIN_FILE="$PWD/.ci/wasm32-wasi.cmake" >"$WASM/log" || { tail -n 30 "$WASM/log"; exit 1; }
cmake --build "$WASM/library" --parallel "$JOBS" >"$WASM/log" 2>&1 ||
  { grep -A 6 -E "error|undefined" "$WASM/log" | head -n 60; exit 1; }
ls -l "$WASM/library/wasm_smoke.wasm" | awk '{ print "wasm_smoke.wasm: " $5 " bytes" }'
[ "${1:-run}" = build ] && exit

want 'command:node|nodejs'
has command:node || skip "no node to run it"
native=${1:-}
[ -x "$native" ] || skip "built; give the native smoke program to compare with: .ci/wasm.sh build-gcc/tests/smoke"
van=examples/van-800w-8awg
"$native" $van/system.ini $van/profile.csv >"$WASM/native.txt"
NODE_NO_WARNINGS=1 node tests/wasm/run.js "$WASM/library/wasm_smoke.wasm" . /$van/system.ini /$van/profile.csv >"$WASM/wasm.txt"
cat "$WASM/wasm.txt"
diff "$WASM/native.txt" "$WASM/wasm.txt" && echo "the same bits natively and in WebAssembly"
