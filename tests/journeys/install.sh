#!/bin/sh
# Installs into its own folder and builds a small program against the installed library, shared and static.
set -eu
command=$1
build=$(cd "$(dirname "$command")" && pwd)

command -v pkg-config >/dev/null 2>&1 || { echo "skipped: no pkg-config"; exit 77; }
grep -q '^TAILVOLT_MODE:[A-Z]*=release$' "$build/CMakeCache.txt" || { echo "skipped: release builds only"; exit 77; }
compiler=$(sed -n 's/^CMAKE_C_COMPILER:[A-Z]*=//p' "$build/CMakeCache.txt")

work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
cmake --install "$build" --prefix "$work/first" >/dev/null
# an installed tree may be moved
mv "$work/first" "$work/prefix"

cat >"$work/program.c" <<'C'
#include <stdio.h>
#include <string.h>
#include <tailvolt/tailvolt.h>
int main(void) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  const char *text = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
                     "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
  enum tailvolt_status status = tailvolt_system_parse(text, "text", NULL, 0, &system, &faults);
  if (status != TAILVOLT_OK || system->amplifier_count != 1) return 1;
  printf("%s %s %.0f W\n", TAILVOLT_VERSION, system->amplifiers[0].name, system->amplifiers[0].rated_w);
  tailvolt_system_free(system);
  return strcmp(tailvolt_status_text(TAILVOLT_OK), "") == 0;
}
C

PKG_CONFIG_PATH=$(dirname "$(find "$work/prefix" -name tailvolt.pc)")
export PKG_CONFIG_PATH
libraries=$(dirname "$PKG_CONFIG_PATH")
version=$(pkg-config --modversion tailvolt)

"$compiler" -std=c17 $(pkg-config --cflags tailvolt) "$work/program.c" -o "$work/shared" $(pkg-config --libs tailvolt)
shared=$(LD_LIBRARY_PATH="$libraries" "$work/shared")
[ "$shared" = "$version bass 800 W" ] || { echo "shared library: got '$shared'"; exit 1; }

# the example of a host program, as its page says
"$compiler" -std=c17 $(pkg-config --cflags tailvolt) "$work/prefix/share/tailvolt/examples/embed/embed.c" -o "$work/embed" \
  $(pkg-config --libs tailvolt)
embedded=$(LD_LIBRARY_PATH="$libraries" "$work/embed") || { echo "examples/embed does not run"; exit 1; }
[ "$(echo "$embedded" | wc -l)" -eq 4 ] || { echo "examples/embed: got '$embedded'"; exit 1; }
echo "$embedded" | grep -q "^1.51 s  bass " || { echo "examples/embed does not get to 1.51 s: '$embedded'"; exit 1; }

# the archive alone: the shared library is put out of reach
rm -f "$libraries"/libtailvolt.so*
"$compiler" -std=c17 $(pkg-config --cflags tailvolt) "$work/program.c" -o "$work/static" \
  $(pkg-config --static --libs tailvolt)
static=$("$work/static")
[ "$static" = "$version bass 800 W" ] || { echo "static library: got '$static'"; exit 1; }

installed=$("$work/prefix/bin/tailvolt" --version | head -n 1)
[ "$installed" = "tailvolt $version" ] || { echo "installed command: got '$installed'"; exit 1; }
# manual page and completions, as the installed command writes them
for pair in "man/man1/tailvolt.1 --man" "bash-completion/completions/tailvolt --completion bash" \
  "zsh/site-functions/_tailvolt --completion zsh" "fish/vendor_completions.d/tailvolt.fish --completion fish"; do
  file=$work/prefix/share/${pair%% *}
  "$work/prefix/bin/tailvolt" help ${pair#* } | cmp -s - "$file" || { echo "not installed as it should be: $file"; exit 1; }
done
for folder in profiles examples plots; do
  [ -d "$folder" ] || continue
  [ -d "$work/prefix/share/tailvolt/$folder" ] || { echo "not installed: $folder"; exit 1; }
done
echo "installed, moved, and linked both ways"
