"""Prints the shell commands of README.md's section "Quick start", word by word: quick_starts.py README.md"""

import re
import sys

readme = open(sys.argv[1], encoding="utf-8").read()
section = re.search(r"^## Quick start\n(.*?)^## ", readme, re.MULTILINE | re.DOTALL)
if not section:
    sys.exit(f"{sys.argv[1]}: there is no section `Quick start`")
blocks = re.findall(r"^```sh\n(.*?)^```$", section.group(1), re.MULTILINE | re.DOTALL)
if not blocks:
    sys.exit(f"{sys.argv[1]}: the section `Quick start` has no commands")
print("\n".join(blocks), end="")
