#!/bin/sh
# No machine-specific path, no trailing blanks, no tabs in C, every script parses, nothing new at the top.
cd "$(dirname "$0")/../.."
status=0
files=$(find . \( -name .git -o -name 'build*' \) -prune -o -type f ! -name LICENSE ! -name '*.wav' -print | sort)

# /dev/null and its like, #! lines, mkdtemp() patterns, the ${TMPDIR:-...} default and where Debian keeps licences are not
# machine-specific
if grep -InE '(^|[^A-Za-z0-9_.:}/-])/(home|root|work|mnt|opt|srv|usr|var|tmp|Users|private)/[A-Za-z0-9_.]' $files |
  grep -vE '^[^:]*:1:#!|^\./tests/style/paths\.sh:|/tmp/[a-z-]*XXXXXX|/usr/share/common-licenses/'; then
  echo "absolute paths of a machine"
  status=1
fi
if grep -InE '[[:space:]]+$' $files | grep -vE '^\./tests/fuzz/seeds/|^\./tests/.*/data/|\.csv:'; then
  echo "trailing blanks"
  status=1
fi
tab=$(printf '\t')
if grep -In "$tab" $(find src include tests -name '*.[ch]'); then
  echo "tabs"
  status=1
fi
# what stands at the top is settled
if git ls-files 2>/dev/null | sed 's|/.*||' | sort -u |
  grep -vE '^(\..*|README\.md|DEVELOPERS\.md|LICENSE|CMakeLists\.txt|src|include|tests|profiles|examples|plots)$'; then
  echo "does not belong at the top"
  status=1
fi
for script in .ci/run .ci/build .ci/coverage $(find . -path './build*' -prune -o -name '*.sh' -print); do
  sh -n "$script" || status=1
done
[ $status -ne 0 ] || echo "paths and blanks: clean"
exit $status
