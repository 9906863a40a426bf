# Sourced by examples/first-run.sh and tests/run.sh: installs what a build needs.
#
# need LIST checks a list of lines "probe | Debian package"; only what is missing is installed, and only by
# apt-get. Elsewhere the missing names are printed and the script stops.

JOBS=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)

# need_to_build, need_to_test: probe kinds are command:NAME, module:NAME (pkg-config), header:NAME and file:PATH
NEEDED_TO_BUILD='
command:cc|build-essential
command:make|build-essential
command:cmake|cmake
command:pkg-config|pkg-config
module:gsl|libgsl-dev
header:csv.h|libcsv-dev
module:jansson|libjansson-dev
module:sndfile|libsndfile1-dev
'
NEEDED_TO_TEST='
command:gcc|gcc
module:cmocka|libcmocka-dev
command:clang|clang
command:ngspice|ngspice
command:gnuplot|gnuplot-nox
'
# Tests that need these are visibly skipped where they are not available.
WANTED_TO_TEST='
command:chromium|chromium
command:node|nodejs
command:pdfinfo|poppler-utils
command:valgrind|valgrind
command:ninja|ninja-build
command:lintian|lintian
command:pahole|dwarves
'

has() {
  case $1 in
    command:*) command -v "${1#*:}" >/dev/null 2>&1 ;;
    module:*) pkg-config --exists "${1#*:}" 2>/dev/null ;;
    file:*) [ -e "${1#*:}" ] ;;
    header:*) echo "#include <stddef.h>
#include <${1#*:}>" | cc -E -x c - >/dev/null 2>&1 ;;
  esac
}

as_root() {
  if [ "$(id -u)" -eq 0 ]; then
    "$@"
  elif command -v sudo >/dev/null 2>&1; then
    sudo "$@"
  else
    echo "not root and no sudo here; as root run: $*" >&2
    return 1
  fi
}

# Package lists are fetched once, and only when something is missing.
PACKAGE_LISTS_FRESH=no
apt_install() {
  if ! command -v apt-get >/dev/null 2>&1; then
    echo "missing here (Debian's names): $*" >&2
    echo "install them with your system's own tools, then run this script again" >&2
    return 1
  fi
  echo "installing: $*"
  if [ "$PACKAGE_LISTS_FRESH" = no ]; then
    as_root env DEBIAN_FRONTEND=noninteractive apt-get update -q </dev/null || return 1
    PACKAGE_LISTS_FRESH=yes
  fi
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@" </dev/null
}

# need LIST...: installs what the lists name and this machine lacks.
need() {
  missing=
  for line in "$@"; do
    has "${line%%|*}" && continue
    case " $missing " in
      *" ${line#*|} "*) ;;
      *) missing="$missing ${line#*|}" ;;
    esac
  done
  [ -z "$missing" ] || apt_install $missing || return 1
  for line in "$@"; do
    has "${line%%|*}" && continue
    echo "still missing: ${line%%|*} (package ${line#*|})" >&2
    return 1
  done
}

# want LIST...: installs likewise, but carries on without what is not available.
want() {
  for line in "$@"; do
    has "${line%%|*}" || apt_install "${line#*|}" || echo "without ${line#*|}: what needs it is skipped"
  done
}

# clang's sanitizer and fuzzer runtimes are a separate package, named after clang's version.
need_clang_runtime() {
  probe=$(mktemp -d) || return 1
  echo 'int main(void) { return 0; }' >"$probe/probe.c"
  if ! clang -fsanitize=address "$probe/probe.c" -o "$probe/probe" >/dev/null 2>&1; then
    apt_install "libclang-rt-$(clang -dumpversion | cut -d. -f1)-dev"
  fi
  if ! clang -fopenmp "$probe/probe.c" -o "$probe/probe" >/dev/null 2>&1; then
    apt_install libomp-dev || echo "no OpenMP for clang: its build is single-threaded"
  fi
  rm -r "$probe"
}
