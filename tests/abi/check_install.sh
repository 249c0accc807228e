#!/bin/sh
# Installs the library to a scratch prefix and builds a C program against it twice: as a CMake
# package and by pkg-config. usage: check_install.sh <cmake> <build directory> <consumer> <cc>
set -eu
cmake=$1 build=$2 consumer=$3 cc=$4
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
for component in runtime development; do
  "$cmake" --install "$build" --prefix "$work/prefix" --component "$component" >"$work/log" 2>&1 ||
    { tail -n 40 "$work/log" >&2; exit 1; }
done
libdir=$(dirname "$(find "$work/prefix" -name 'libfaultodds.*' | head -n 1)")
export LD_LIBRARY_PATH="$libdir"

# The build's own generator: its build program is there for certain.
generator=$(sed -n 's/^CMAKE_GENERATOR:INTERNAL=//p' "$build/CMakeCache.txt")
"$cmake" -G "$generator" -S "$consumer" -B "$work/by_cmake" -DCMAKE_PREFIX_PATH="$work/prefix" \
  -DCMAKE_C_COMPILER="$cc" >"$work/log" 2>&1 && "$cmake" --build "$work/by_cmake" \
  >>"$work/log" 2>&1 || { tail -n 40 "$work/log" >&2; exit 1; }
"$work/by_cmake/consumer"

if command -v pkg-config >/dev/null; then
  # The prefix is the one configured; the scratch one takes its place.
  export PKG_CONFIG_PATH="$libdir/pkgconfig"
  static=
  if [ -e "$libdir/libfaultodds.a" ]; then static=--static; fi
  # shellcheck disable=SC2086
  flags=$(pkg-config $static --define-variable=prefix="$work/prefix" --cflags --libs faultodds)
  # shellcheck disable=SC2086
  "$cc" -std=c99 "$consumer/consumer.c" $flags -o "$work/by_pkg_config"
  "$work/by_pkg_config"
fi
