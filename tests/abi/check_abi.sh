#!/bin/sh
# The C interface has not changed under those who use it: what its headers say now, every function's
# signature, every struct's layout and every enumerator's value, against faultodds.abi. What was there must
# be as it was; a struct that grows at its end, by design, is renewed with --renew, and so is an addition.
# Needs abigail-tools; exits 77 without. usage: check_abi.sh [--renew] <faultodds_network.h> <faultodds.abi> [<cc>]
# (the other headers stand beside it)
set -eu
renew=no
if [ "$1" = --renew ]; then renew=yes; shift; fi
header=$1 recorded=$2 cc=${3:-cc}
command -v abidw >/dev/null || { echo "skipped: abigail-tools is not installed"; exit 77; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# A library of every function declared and nothing else: the interface without what is behind it, the same
# for every compiler and C++ library. A declaration is FAULTODDS_API, a type, a name and parameters.
cp "$(dirname "$header")"/faultodds*.h "$work"
{
  echo '#include "faultodds_circuit.h"'; echo '#include "faultodds_network.h"'
  for each in "$work"/faultodds*.h; do "$cc" -w -fpreprocessed -dD -E -P "$each"; done | sed '/^#/d' | tr '\n' ' ' |  # without comments
    grep -o 'FAULTODDS_API [^;]*;' | sed 's/^FAULTODDS_API //; s/;$/ { for (;;) {} }/'
} >"$work/interface.c"
# -w: parameters are not used.
(cd "$work" && "$cc" -std=c99 -g -w -fPIC -fno-eliminate-unused-debug-types -shared \
  -Wl,-soname,libfaultodds.so.2 interface.c -o libfaultodds.so.2)
abidw --load-all-types --no-corpus-path --no-comp-dir-path --no-show-locs --no-elf-needed \
  --no-parameter-names "$work/libfaultodds.so.2" >"$work/now.abi"
if [ "$renew" = yes ]; then cp "$work/now.abi" "$recorded"; exit 0; fi

# abidiff calls a new enumerator or a new function harmless; the record is to be renewed with them all the same.
abidiff --harmless --non-reachable-types --no-show-locs "$recorded" "$work/now.abi" || {
  echo "The interface is not the recorded one. If callers compiled before go on working (functions and
enumerators added, structs grown at their end), renew the record with symbols.txt:
  tests/abi/check_abi.sh --renew capi/faultodds_network.h tests/abi/faultodds.abi
Else SOVERSION rises." >&2
  exit 1
}
