"""Reads the C headers as they are written, and no other C: structs by typedef, FAULTODDS_API before each function,
constants in enum { ... } without a name, callbacks by typedef. What it does not know it refuses."""
import re
from typing import List, NamedTuple, Tuple

HEADERS = ["faultodds.h", "faultodds_circuit.h", "faultodds_network.h"]
OPAQUE = {"faultodds_error", "faultodds_model", "faultodds_case", "faultodds_cancel", "faultodds_network",
          "faultodds_network_case"}
INTEGERS = {"faultodds_status": "int32_t", "faultodds_kind": "int32_t", "faultodds_network_format": "int32_t"}
NUMBERS = {"int32_t", "uint32_t", "uint64_t", "size_t", "double"}
# Pointers to one number that a function gives; every other pointer to numbers is to an array.
ONE_NUMBER = {"index", "count", "written", "log_evidence", "state", "variable"}


class Declared(NamedTuple):
    """A member or a parameter. An array is a pointer."""

    kind: str  # `faultodds_model**`, without const
    name: str
    const: bool

    @property
    def bare(self):
        return self.kind.rstrip("*")

    @property
    def stars(self):
        return len(self.kind) - len(self.bare)


class Function(NamedTuple):
    result: str
    name: str
    parameters: List[Declared]

    @property
    def short(self):
        return self.name.removeprefix("faultodds_")


class Interface(NamedTuple):
    """In the order of the headers."""

    structs: List[Tuple[str, List[Declared]]]
    functions: List[Function]
    callbacks: List[Function]
    constants: List[Tuple[str, int]]  # names without FAULTODDS_

    def is_struct(self, kind):
        return any(kind == name for name, _ in self.structs)

    def is_callback(self, kind):
        return any(kind == callback.name for callback in self.callbacks)

    def is_filled(self, struct):
        """Whether a function fills it rather than reads it."""
        return any(p.kind == struct + "*" and not p.const for f in self.functions for p in f.parameters)


def read(folder):
    structs, functions, callbacks, constants = [], [], [], []
    for name in HEADERS:
        text = re.sub(r"/\*.*?\*/", "", (folder / name).read_text(encoding="utf-8"), flags=re.DOTALL)
        text = re.sub(r"^\s*#.*$", "", text, flags=re.MULTILINE)
        for members, struct in re.findall(r"typedef struct \w+ \{(.*?)\} (\w+);", text, re.DOTALL):
            structs.append((struct, [declared(m) for m in members.split(";") if m.strip()]))
        for line in re.findall(r"FAULTODDS_API ([^;]*);", text):
            begin, parameters = " ".join(line.split()).rstrip(")").split("(", 1)
            functions.append(Function(*declared(begin)[:2], listed(parameters)))
        for result, callback, parameters in re.findall(r"typedef (\w+) \(\*(\w+)\)\(([^)]*)\);", text):
            callbacks.append(Function(result, callback, listed(parameters)))
        for body in re.findall(r"^enum \{(.*?)\};", text, re.DOTALL | re.MULTILINE):
            for entry in body.split(","):
                constant = re.fullmatch(r"\s*FAULTODDS_(\w+) = (\d+)\s*", entry)
                if not constant:
                    raise SystemExit(f"cannot read the constant `{entry.strip()}`")
                constants.append((constant[1], int(constant[2])))
    return Interface(structs, functions, callbacks, constants)


def listed(parameters):
    return [] if parameters == "void" else [declared(p) for p in parameters.split(",")]


def declared(text):
    """`const char* id` as its type and name."""
    plain = " ".join(re.sub(r"\bconst\b", "", re.sub(r"(\w+)\[\d*\]", r"* \1", text)).split())
    words = plain.replace("*", " ").split()
    if len(words) != 2:
        raise SystemExit(f"cannot read the declaration `{text}`")
    return Declared(INTEGERS.get(words[0], words[0]) + "*" * plain.count("*"), words[1], bool(re.search(r"\bconst\b", text)))


def texts_and_others(members):
    """Members of a struct, a `char*` and the `size_t` of its length as one: (name, None) or (name, member)."""
    names = [m.name for m in members]
    given = []
    for member in members:
        if member.name.endswith("_len") and member.name.removesuffix("_len") in names:
            continue
        is_text = member.kind == "char*" and member.name + "_len" in names
        if is_text and names[names.index(member.name) + 1] != member.name + "_len":
            raise SystemExit(f"`{member.name}_len` does not follow `{member.name}`")
        given.append((member.name, None if is_text else member))
    return given


def capitalised(name):
    """`faultodds_case_summary` as CaseSummary."""
    return "".join(word.capitalize() for word in name.removeprefix("faultodds_").lower().split("_"))


def camel(name):
    """`case_document` as caseDocument, with Length for _len and without _or_null."""
    whole = capitalised(re.sub(r"_or_null$", "", re.sub(r"_len$", "_length", name)))
    return "theCase" if whole == "Case" else whole[0].lower() + whole[1:]  # `case` is a word of theirs


def wrapped(head, parts, tail, indent, most=112):
    """One line if it fits, else the parts below the head, as many to a line as fit."""
    whole = head + ", ".join(parts) + tail
    if len(whole) <= most:
        return [whole]
    lines, line = [head.rstrip()], indent
    for i, part in enumerate(parts):
        text = part + ("," if i + 1 < len(parts) else tail)
        if len(line) > len(indent) and len(line) + 1 + len(text) > most:
            lines.append(line)
            line = indent
        line += text if line == indent else " " + text
    return lines + [line]
