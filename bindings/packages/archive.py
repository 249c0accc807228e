#!/usr/bin/env python3
"""Puts a folder into a zip file (a jar, a NuGet package) so that the same files make the same bytes: sorted, with one
time, SOURCE_DATE_EPOCH if it is set, and without who may read them.

usage: archive.py ARCHIVE FOLDER
"""
import os
import sys
import time
import zipfile
from pathlib import Path


def main(archive, folder):
    made = max(int(os.environ.get("SOURCE_DATE_EPOCH", "315532800")), 315532800)  # zip begins in 1980
    folder = Path(folder)
    files = sorted((p for p in folder.rglob("*") if p.is_file()), key=lambda p: p.relative_to(folder).as_posix())
    files.sort(key=lambda p: p.name != "MANIFEST.MF")  # which readers of jars expect first
    Path(archive).unlink(missing_ok=True)
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
        for file in files:
            entry = zipfile.ZipInfo(file.relative_to(folder).as_posix(), time.gmtime(made)[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            packed.writestr(entry, file.read_bytes())


if __name__ == "__main__":
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    main(*sys.argv[1:])
