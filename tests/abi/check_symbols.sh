#!/bin/sh
# The library exports exactly the functions of symbols.txt, and those are exactly what the headers
# declare. usage: check_symbols.sh <library> <symbols.txt> <header>...
set -eu
library=$1 expected=$2
shift 2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
nm -D --defined-only "$library" | awk '$2 != "A" { sub(/@.*/, "", $3); print $3 }' |
  LC_ALL=C sort >"$work/exported"
# A declaration is FAULTODDS_API, a type and the name before the parenthesis.
cat "$@" | tr '\n' ' ' | grep -o 'FAULTODDS_API [a-z][^;(]*(' |
  sed 's/.*[ *]\(faultodds_[a-z_]*\)($/\1/' | LC_ALL=C sort >"$work/declared"
LC_ALL=C sort "$expected" >"$work/expected"
diff -u "$work/expected" "$work/exported"
diff -u "$work/expected" "$work/declared"
if nm -D --defined-only "$library" | awk '$2 != "A"' | grep -qv '@@FAULTODDS_2$'; then
  echo "a symbol without the version FAULTODDS_2" >&2
  exit 1
fi
