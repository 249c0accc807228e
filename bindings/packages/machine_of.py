#!/usr/bin/env python3
"""Where a package of each language keeps a library for the machine that it is for, read off the library's own head.

usage: machine_of.py wheel|node|java|csharp|name LIBRARY
"""
import sys

# ELF and PE numbers of machines; the platform of a wheel, the folders of the others, and what the file is called.
KNOWN = {
    ("ELF", 62): {"wheel": "manylinux_2_17_x86_64.manylinux2014_x86_64", "node": "linux-x64", "java": "linux-x86-64",
                  "csharp": "linux-x64", "name": "libfaultodds.so.2"},
    ("ELF", 183): {"wheel": "manylinux_2_17_aarch64.manylinux2014_aarch64", "node": "linux-arm64",
                   "java": "linux-aarch64", "csharp": "linux-arm64", "name": "libfaultodds.so.2"},
    ("PE", 0x8664): {"wheel": "win_amd64", "node": "win32-x64", "java": "win32-x86-64", "csharp": "win-x64",
                     "name": "faultodds-2.dll"},
}


def machine(head):
    if head[:4] == b"\x7fELF":
        return "ELF", int.from_bytes(head[18:20], "little")
    at = int.from_bytes(head[0x3C:0x40], "little")
    if head[:2] == b"MZ" and head[at:at + 4] == b"PE\0\0":
        return "PE", int.from_bytes(head[at + 4:at + 6], "little")
    return None


def main(kind, library):
    with open(library, "rb") as file:
        found = machine(file.read(4096))
    if found not in KNOWN:
        raise SystemExit(f"{library} is no library of a machine that packages are made for: Linux on x86-64 and "
                         "aarch64, Windows on x86-64")
    print(KNOWN[found][kind])


if __name__ == "__main__":
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    main(*sys.argv[1:])
