# Sourced: `fetch PACKAGE` brings the source of a Debian package into $SOURCES/sources. Its own list of sources, so the system's stays
# untouched.

fetch() { # PACKAGE
  ls -d "$SOURCES/sources/$1"-*/ >/dev/null 2>&1 && return
  mkdir -p "$SOURCES/apt/parts" "$SOURCES/apt/lists/partial" "$SOURCES/apt/cache/archives/partial" "$SOURCES/sources"
  if [ ! -e "$SOURCES/apt/fetched" ]; then
    {
      sed 's/^Types:.*/Types: deb-src/' /etc/apt/sources.list.d/debian.sources 2>/dev/null || true
    } >"$SOURCES/apt/parts/source.sources"
    sed -n 's/^deb /deb-src /p' /etc/apt/sources.list >"$SOURCES/apt/parts/source.list" 2>/dev/null || true
    from_sources update && : >"$SOURCES/apt/fetched"
  fi
  (cd "$SOURCES/sources" && from_sources source "$1")
  ls -d "$SOURCES/sources/$1"-*/ >/dev/null 2>&1
}

from_sources() {
  apt-get -q -o APT::Sandbox::User=root -o Dir::Etc::SourceList=/dev/null -o "Dir::Etc::SourceParts=$SOURCES/apt/parts" \
    -o "Dir::State::Lists=$SOURCES/apt/lists" -o "Dir::Cache=$SOURCES/apt/cache" "$@" >"$SOURCES/apt/log" 2>&1 ||
    { tail -n 3 "$SOURCES/apt/log" >&2; return 1; }
}
