#!/bin/sh
# Compiles the locales of locale_test.cpp into a directory of its own; exits 77 where their sources are
# not installed (Debian package locales). usage: make_locales.sh <directory>
set -eu
command -v localedef >/dev/null && [ -e /usr/share/i18n/locales/de_DE ] || {
  echo "skipped: the package locales is not installed"; exit 77; }
mkdir -p "$1"
for name in de_DE hi_IN de_CH; do
  [ -d "$1/$name.UTF-8" ] || localedef -c -i "$name" -f UTF-8 "$1/$name.UTF-8" || [ -d "$1/$name.UTF-8" ]
done
