#!/usr/bin/env python3
"""Finds mutants of the engine, picks some, and writes all of them into one copy of the sources.

usage: choose.py SOURCES COMPILE_COMMANDS COUNT SEED LIST

SOURCES is a copy of the repository, changed in place. Each chosen place becomes a call of
mutants.h, which acts as written unless FAULTODDS_MUTANT names it: so all are compiled once.
LIST gets a JSON array of the mutants: number, file, line, kind, what is changed, the source line.
"""
import hashlib
import json
import pathlib
import re
import shlex
import subprocess
import sys

import clang.cindex as clang
from clang.cindex import CursorKind as Kind
from clang.cindex import TypeKind

FOLDERS = ("core/network/", "core/circuit/", "core/diagnosis/")

COMPARE = {"<": "less", "<=": "less_equal", ">": "greater", ">=": "greater_equal",
           "==": "equal", "!=": "unequal"}
ARITHMETIC = {"+": "plus", "-": "minus", "*": "times", "/": "divided"}
ASSIGN = {"+=": "plus_assign", "-=": "minus_assign", "*=": "times_assign", "/=": "divided_assign"}
BECOMES = {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==", "+": "-", "-": "+",
           "*": "/", "/": "*", "+=": "-=", "-=": "+=", "*=": "/=", "/=": "*=", "&&": "||", "||": "&&"}
FUNCTIONS = (Kind.FUNCTION_DECL, Kind.CXX_METHOD, Kind.CONSTRUCTOR, Kind.LAMBDA_EXPR,
             Kind.FUNCTION_TEMPLATE, Kind.CONVERSION_FUNCTION)
NUMBERS = (TypeKind.INT, TypeKind.UINT, TypeKind.LONG, TypeKind.ULONG, TypeKind.LONGLONG,
           TypeKind.ULONGLONG, TypeKind.SHORT, TypeKind.USHORT, TypeKind.SCHAR, TypeKind.UCHAR,
           TypeKind.CHAR_S, TypeKind.DOUBLE, TypeKind.FLOAT, TypeKind.LONGDOUBLE)


def within(root, name):
    """The path of a file relative to the sources; empty if it is elsewhere."""
    path = pathlib.Path(name).resolve()
    return str(path.relative_to(root)) if path.is_relative_to(root) else ""


def is_number(cursor):
    return cursor.type.get_canonical().kind in NUMBERS


class Finder:
    """The mutants of one translation unit, as edits of its files."""

    def __init__(self, root):
        self.root = root
        self.texts = {}
        self.found = {}  # (file, start, end, kind) -> mutant

    def text(self, file):
        if file not in self.texts:
            self.texts[file] = (self.root / file).read_bytes()
        return self.texts[file]

    def place(self, location):
        name = within(self.root, location.file.name) if location.file else ""
        return name if name.startswith(FOLDERS) else None

    def span(self, cursor):
        return cursor.extent.start.offset, cursor.extent.end.offset

    def add(self, file, cursor_span, kind, what, before, after, swap=None):
        """`before` and `after` go around the span; `swap` = (from, to, text) replaces within."""
        begin, end = cursor_span
        key = (file, begin, end, kind)
        if key in self.found:
            return
        text = self.text(file)
        line = text.count(b"\n", 0, begin if swap is None else swap[0]) + 1
        row = text.split(b"\n")[line - 1].decode().strip()
        self.found[key] = {"file": file, "line": line, "kind": kind, "what": what, "row": row,
                           "begin": begin, "end": end, "before": before, "after": after,
                           "swap": swap}

    def walk(self, cursor, parents, inside, constant):
        file = self.place(cursor.location)
        if not parents and file is None:
            return
        if file is not None:
            text = self.text(file)
            begin, end = self.span(cursor)
            own = text[begin:end].decode(errors="replace")
            if cursor.kind in FUNCTIONS:
                head = own.split("{")[0]
                inside = True
                constant = constant or bool(re.search(r"\b(constexpr|consteval)\b", head))
            elif cursor.kind in (Kind.VAR_DECL, Kind.FIELD_DECL, Kind.STATIC_ASSERT, Kind.ENUM_DECL):
                constant = constant or "constexpr" in own.split("=")[0].split("{")[0] or (
                    cursor.kind in (Kind.STATIC_ASSERT, Kind.ENUM_DECL))
            if inside and not constant:
                self.look(file, cursor, own, parents)
        for child in cursor.get_children():
            self.walk(child, parents + [cursor], inside, constant)

    def look(self, file, cursor, own, parents):
        parent = parents[-1]
        kind = cursor.kind
        span = self.span(cursor)
        text = self.text(file)
        children = list(cursor.get_children())
        if kind in (Kind.BINARY_OPERATOR, Kind.COMPOUND_ASSIGNMENT_OPERATOR, Kind.CALL_EXPR):
            if kind == Kind.CALL_EXPR:
                if not cursor.spelling.startswith("operator"):
                    self.call(file, cursor, own, span, text)
                    sides = []
                else:
                    sides = list(cursor.get_arguments())
            else:
                sides = children
            if len(sides) == 2 and all(side is not None for side in sides):
                self.operator(file, sides, span, text)
        if kind == Kind.UNARY_OPERATOR and own.startswith("!"):
            self.add(file, span, "negation", "! left out", "(mutants::on({n}) != ", ")")
        if kind in (Kind.IF_STMT, Kind.WHILE_STMT, Kind.CONDITIONAL_OPERATOR) and children:
            condition = children[0]
            if condition.kind != Kind.VAR_DECL and condition.kind != Kind.DECL_STMT:
                around = self.span(condition)
                if around[0] >= span[0] and around[1] <= span[1]:
                    self.add(file, around, "condition", "condition negated",
                             "(static_cast<bool>(", ") != mutants::on({n}))")
        if kind == Kind.INTEGER_LITERAL or kind == Kind.FLOATING_LITERAL:
            before = text[:span[0]].rstrip()[-1:]
            declared = parent.kind in (Kind.VAR_DECL, Kind.FIELD_DECL, Kind.PARM_DECL) and (
                span[0] < parent.location.offset or before == b"[")
            if (re.fullmatch(r"[0-9.'e+-]+[uUlLzZ]*", own) and not declared and before != b"<"
                    and parent.kind != Kind.CASE_STMT and is_number(cursor)):
                whole = kind == Kind.INTEGER_LITERAL
                value = float(re.sub(r"['uUlLzZ]", "", own))
                what = f"{own} becomes " + ("1" if value == 0 else "1 more" if whole else "its double")
                self.add(file, span, "constant", what, "mutants::constant({n}, ", ")")
        if parent.kind == Kind.COMPOUND_STMT and text[span[1]:].lstrip()[:1] == b";":
            assignment = kind in (Kind.CALL_EXPR, Kind.COMPOUND_ASSIGNMENT_OPERATOR, Kind.BINARY_OPERATOR,
                                  Kind.UNARY_OPERATOR, Kind.CONTINUE_STMT, Kind.BREAK_STMT)
            wrapped = kind == Kind.UNEXPOSED_EXPR and children
            if assignment or wrapped:
                self.add(file, (span[0], span[1]), "statement", "statement left out",
                         "if (!mutants::on({n})) ", "")

    def call(self, file, cursor, own, span, text):
        match = re.match(r"std::(min|max)\(", own)
        arguments = list(cursor.get_arguments())
        if match is None or len(arguments) != 2 or own[match.end():].lstrip().startswith("{"):
            return
        name = {"min": "smaller", "max": "larger"}[match.group(1)]
        other = {"min": "max", "max": "min"}[match.group(1)]
        self.add(file, span, "bound", f"std::{match.group(1)} becomes std::{other}", "", "",
                 (span[0], span[0] + match.end() - 1, f"mutants::{name}<{{n}}>"))

    def operator(self, file, sides, span, text):
        left, right = self.span(sides[0]), self.span(sides[1])
        between = text[left[1]:right[0]].decode(errors="replace")
        sign = between.strip()
        if left[0] != span[0] or right[1] != span[1]:
            return
        at = left[1] + between.find(sign) if sign else 0
        swap = (at, at + len(sign), ",")
        what = f"{sign} becomes {BECOMES.get(sign)}"
        if sign in COMPARE:
            self.add(file, span, "comparison", what, f"mutants::{COMPARE[sign]}({{n}}, ", ")", swap)
        elif sign in ARITHMETIC and is_number(sides[0]) and is_number(sides[1]):
            self.add(file, span, "arithmetic", what, f"mutants::{ARITHMETIC[sign]}({{n}}, ", ")", swap)
        elif sign in ASSIGN and is_number(sides[0]) and is_number(sides[1]):
            self.add(file, span, "arithmetic", what, f"mutants::{ASSIGN[sign]}({{n}}, ", ")", swap)
        elif sign in ("&&", "||"):
            # By De Morgan's law, so that the right side is still looked at only when it must be.
            on = "mutants::on({n})"
            self.add(file, span, "logic", what, f"((({on} != static_cast<bool>(", f"))) != {on})",
                     (at, at + len(sign), f")) {sign} ({on} != static_cast<bool>("))


def key_of(mutant, seed):
    told = "|".join(str(mutant[k]) for k in ("file", "kind", "what", "row"))
    return hashlib.sha256(f"{seed}|{told}|{mutant['nth']}".encode()).hexdigest()


def write(root, mutants):
    """Writes the mutants into their files. Outer ones open first and close last."""
    for file in {m["file"] for m in mutants}:
        text = (root / file).read_bytes()
        opens, closes, swaps = [], [], []
        for m in (m for m in mutants if m["file"] == file):
            number = str(m["number"])
            length = m["end"] - m["begin"]
            rank = 0 if m["kind"] == "statement" else 1 if m["kind"] == "condition" else 2
            opens.append((m["begin"], 1, -length, rank, m["before"].replace("{n}", number)))
            closes.append((m["end"], 0, length, -rank, m["after"].replace("{n}", number)))
            if m["swap"]:
                start, end, new = m["swap"]
                swaps.append((start, end, new.replace("{n}", number)))
        inserts = sorted(opens + closes)
        out, at = [], 0
        pieces = [(i[0], i[0], i[4], 0) for i in inserts] + [(s, e, t, 1) for s, e, t in swaps]
        for start, end, new, _ in sorted(pieces, key=lambda p: (p[0], p[3])):
            out.append(text[at:start])
            out.append(new.encode())
            at = max(at, end)
        out.append(text[at:])
        (root / file).write_bytes(b'#include "tests/mutation/mutants.h"  //\n#line 1\n' + b"".join(out))


def wrong_lines(root, commands, files):
    """The (file, line) that the compiler complains of."""
    wrong = set()
    for command in commands:
        arguments = shlex.split(command["command"])
        arguments[arguments.index("-o"):arguments.index("-o") + 2] = ["-fsyntax-only"]
        told = subprocess.run(arguments, cwd=command["directory"], capture_output=True, text=True)
        for name, line in re.findall(r"^(?:In file included from )?(\S+?):(\d+):", told.stderr, re.M):
            if told.returncode:
                # What #line leaves of a path is as the compiler was given it.
                wrong.add((within(root, pathlib.Path(command["directory"], name)), int(line)))
    return wrong


def main():
    root = pathlib.Path(sys.argv[1]).resolve()
    commands = [c for c in json.loads(pathlib.Path(sys.argv[2]).read_text())
                if within(root, c["file"]).startswith(FOLDERS)]
    count, seed = int(sys.argv[3]), sys.argv[4]
    finder = Finder(root)
    index = clang.Index.create()
    for command in commands:
        arguments = [a for a in shlex.split(command["command"])[1:]
                     if a.startswith(("-I", "-isystem", "-D", "-std"))]
        unit = index.parse(command["file"], args=arguments + ["-w"])
        errors = [d for d in unit.diagnostics if d.severity >= clang.Diagnostic.Error]
        if errors:
            sys.exit(f"{command['file']}: {errors[0]}")
        for top in unit.cursor.get_children():
            finder.walk(top, [], False, False)
    mutants = sorted(finder.found.values(), key=lambda m: (m["file"], m["begin"], m["end"], m["kind"]))
    nth = {}
    for m in mutants:  # of several alike in one line
        told = (m["file"], m["kind"], m["what"], m["row"])
        m["nth"] = nth[told] = nth.get(told, 0) + 1
    chosen = sorted(mutants, key=lambda m: key_of(m, seed))[:count]
    for number, m in enumerate(sorted(chosen, key=lambda m: (m["file"], m["begin"])), 1):
        m["number"] = number
    originals = {m["file"]: (root / m["file"]).read_bytes() for m in chosen}
    while True:
        for file, text in originals.items():
            (root / file).write_bytes(text)
        write(root, chosen)
        wrong = wrong_lines(root, commands, originals)
        left = [m for m in chosen if not any(
            (m["file"], line) in wrong
            for line in range(m["line"], m["line"] + 1 + originals[m["file"]].count(
                b"\n", m["begin"], m["end"])))]
        if len(left) == len(chosen):
            if wrong:
                sys.exit(f"The mutated sources do not compile: {sorted(wrong)[:5]}")
            break
        chosen = left
    pathlib.Path(sys.argv[5]).write_text(json.dumps(
        [{k: m[k] for k in ("number", "file", "line", "kind", "what", "row", "nth")}
         for m in sorted(chosen, key=lambda m: m["number"])], indent=1))
    print(f"{len(mutants)} mutants found, {len(chosen)} written")


if __name__ == "__main__":
    main()
