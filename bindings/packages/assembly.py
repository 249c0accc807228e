#!/usr/bin/env python3
"""Takes out of a .NET assembly what Mono's compiler makes anew each time, so that the same sources make the same bytes:
the time in its head, and the id of its module, which becomes a digest of the rest (ECMA-335, II.25.2.2 and II.24.2).

usage: assembly.py FILE.dll
"""
import hashlib
import sys
from pathlib import Path


def number(data, at, size):
    return int.from_bytes(data[at:at + size], "little")


def module_id(data):
    """Where the heap of GUIDs begins, whose first is the module's."""
    root = data.index(b"BSJB")
    version = number(data, root + 12, 4)
    streams = number(data, root + 16 + version + 2, 2)
    at = root + 16 + version + 4
    for _ in range(streams):
        end = data.index(b"\0", at + 8)
        if data[at + 8:end] == b"#GUID":
            return root + number(data, at, 4)
        at = at + 8 + (end - at - 8) // 4 * 4 + 4  # names are padded to four bytes
    raise SystemExit("the assembly has no heap of GUIDs")


def main(path):
    data = bytearray(Path(path).read_bytes())
    head = number(data, 0x3C, 4)
    if data[head:head + 4] != b"PE\0\0":
        raise SystemExit(f"{path} is no assembly")
    data[head + 8:head + 12] = bytes(4)
    at = module_id(data)
    data[at:at + 16] = bytes(16)
    data[at:at + 16] = hashlib.sha256(data).digest()[:16]
    Path(path).write_bytes(data)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    main(sys.argv[1])
