#!/bin/sh
# check_abi.sh notices what it is there for: each change below of a copy of the header must be refused.
# usage: check_abi_notices.sh <faultodds_network.h> <faultodds.abi> [<cc>]
set -eu
header=$1 recorded=$2 cc=${3:-cc}
here=$(dirname "$0") main=$(dirname "$header")/faultodds.h
command -v abidw >/dev/null || { echo "skipped: abigail-tools is not installed"; exit 77; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
refused() {  # refused <what> <sed expression> <words of the refusal>
  cp "$(dirname "$header")"/faultodds_*.h "$work"
  sed "$2" "$main" >"$work/faultodds.h"
  if cmp -s "$main" "$work/faultodds.h"; then echo "$1: the header has nothing to change" >&2; exit 1; fi
  if sh "$here/check_abi.sh" "$work/faultodds_network.h" "$recorded" "$cc" >"$work/log" 2>&1; then
    echo "not noticed: $1" >&2
    exit 1
  fi
  grep -q "$3" "$work/log" || { echo "$1: expected '$3' in:" >&2; cat "$work/log" >&2; exit 1; }
}
refused "an enumerator with another value" 's/FAULTODDS_NOTE_HTML = 2/FAULTODDS_NOTE_HTML = 3/' "changed type"
refused "an enumerator added" 's/FAULTODDS_NOTE_HTML = 2/&, FAULTODDS_NOTE_MORE = 3/' "FAULTODDS_NOTE_MORE"
refused "a member of another type" 's/^  double minutes;/  float minutes;/' "faultodds_ranked_test"
refused "a parameter added" 's/faultodds_version(void);/faultodds_version(int32_t more);/' "faultodds_version"
refused "a function gone" 's/^FAULTODDS_API void faultodds_free(char\* text);//' "Removed function"
refused "a function added" 's/^FAULTODDS_API void faultodds_free(/FAULTODDS_API void faultodds_more(void);\n&/' "Added function"
