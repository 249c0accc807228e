#!/usr/bin/env python3
"""Doxygen's filter for the C headers, whose comments are written for people who read the header: says which of them
belong to what is declared, and to how much of it. The words are not touched.

usage: header.py HEADER
"""
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bindings"))
from declarations import headers  # noqa: E402

INTERFACE = headers.read(Path(__file__).resolve().parents[1])
FUNCTIONS = {function.name for function in INTERFACE.functions}
TYPES = {callback.name for callback in INTERFACE.callbacks} | {name for name, _ in INTERFACE.structs} | headers.OPAQUE


def prose(text):
    """Words of a comment as Doxygen reads them: no markup but code and links."""
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    text = re.sub(r"([@\\#%])", r"\\\1", text)
    text = re.sub(r"`([^`]+)`", r"<code>\1</code>", text)
    return re.sub(r"\b(faultodds_\w+)(\(\))?", link, text)


def link(found):
    return found[1] + "()" if found[1] in FUNCTIONS else "#" + found[1] if found[1] in TYPES else found[1]


def plain(comment):
    """A comment without its stars."""
    return "\n".join(re.sub(r"^ \*? ?", "", line) for line in comment[2:-2].split("\n")).strip()


def declarations_after(lines):
    """How many lines the declarations have that follow without an empty one, and how many they are."""
    taken = count = depth = 0
    for line in lines:
        if depth == 0 and (not line.strip() or line.startswith(("/*", "#"))):
            break
        taken += 1
        code = re.sub(r"/\*.*?(\*/|$)", "", line)
        depth += code.count("{") + code.count("(") - code.count("}") - code.count(")")
        count += depth == 0 and code.rstrip().endswith(";")
    return taken, count


def members(text):
    """Comments behind members, and what the length of a text is."""
    text = re.sub(r"(?<=[;,{\d\w] )( *)/\* (.*?)\*/", lambda m: f"{m[1]}/**< {prose(m[2])}*/", text, flags=re.DOTALL)
    return re.sub(r"^(  size_t (\w+)_len;)$", r"\1 /**< bytes of <code>\2</code> */", text, flags=re.MULTILINE)


def main(path):
    text = Path(path).read_text(encoding="utf-8")
    first = text.index("*/") + 2
    out = [f"/** @file\n@verbatim\n{plain(text[:first])}\n@endverbatim */"]
    lines, at, group = text[first:].split("\n"), 0, False
    while at < len(lines):
        line = lines[at]
        section = re.fullmatch(r"/\* -+ (.*?) -+ \*/", line)
        if section:
            title = section[1]
            out.append("/** @} */" if group else "")
            out.append(f"/** @defgroup {re.sub(r'[^a-z]+', '_', title)} {title[0].upper()}{title[1:]}\n@{{ */")
            group = True
            at += 1
        elif line.startswith("/* "):
            end = at
            while "*/" not in lines[end]:
                end += 1
            words = prose(plain("\n".join(lines[at:end + 1])))
            taken, count = declarations_after(lines[end + 1:])
            block = members("\n".join(lines[end + 1:end + 1 + taken]))
            # One comment for several functions stands at each of them.
            out.append(f"/** {words}{' @{' if count > 1 else ''} */\n{block}" + ("\n/** @} */" if count > 1 else ""))
            at = end + 1 + taken
        elif line.startswith("#ifdef __cplusplus") and group and "}" in lines[at + 1]:
            out.append("/** @} */")
            group = False
        else:
            taken = declarations_after(lines[at:])[0] if line.startswith(("typedef ", "FAULTODDS_API ")) else 1
            out.append(members("\n".join(lines[at:at + taken])))
            at += taken
    print("\n".join(out))


if __name__ == "__main__":
    main(sys.argv[1])
