"""How long the sources are and how long and how branched their functions are, by a scanner of braces that knows no
more of C++ than comments, literals and what stands before a brace. It judges nothing: test_house.py holds the limits.
"""
import argparse
import dataclasses
import pathlib
import re

ROOT = pathlib.Path(__file__).resolve().parents[2]
ROOMS = ("core", "capi", "priors")

LITERALS = re.compile(r'R"(?P<mark>[^(\s]*)\(.*?\)(?P=mark)"|"(?:\\.|[^"\\\n])*"|(?<![0-9a-fA-F])\'(?:\\.|[^\'\\\n])+\''
                      r'|//[^\n]*|/\*.*?\*/', re.DOTALL)
DIRECTIVES = re.compile(r"^[ \t]*#(?:[^\n\\]|\\\n|\\.)*", re.MULTILINE)
# The conditions that McCabe's number counts.
BRANCHES = re.compile(r"\b(?:if|for|while|case|catch)\b|(?<=\s)&&|\|\||\?")  # "T&& t" is no branch
TYPES = re.compile(r"\b(?:class|struct|union|enum)\b[^()]*$")
INITIALISERS = re.compile(r"\)\s*(?:noexcept\s*)?:(?!:)")


@dataclasses.dataclass
class Function:
    path: str
    name: str
    line: int
    lines: int
    branches: int  # McCabe's cyclomatic complexity, lambdas inside counted with it


def blank(match):
    return "".join("\n" if c == "\n" else " " for c in match.group())


def code_of(text):
    """The text without comments, literals and preprocessor directives, each character and line where it was."""
    def kept(match):
        return blank(match) if match.group()[0] == "/" else '"' + blank(match)[1:-1] + '"'
    return DIRECTIVES.sub(blank, LITERALS.sub(kept, text))


def opens(head, around):
    """What a brace opens after `head`: namespace, type, function or other."""
    if around == "function" or around == "other":
        return "other"
    if re.search(r"\bnamespace\b|\bextern\s*\"", head):
        return "namespace"
    template = re.sub(r"^\s*template\s*<[^{;]*?>\s*(?=\b(?:class|struct|union)\b)", "", head)
    if TYPES.search(template) and not re.search(r"\)\s*\w*\s*$", template):
        return "type"
    if "(" not in head:
        return "other"
    if head.count("(") > head.count(")"):
        return "other"  # an argument
    begun = INITIALISERS.search(head)
    if begun and re.search(r"[\w>]\s*$", head) and not re.search(r"\)\s*(?:const|noexcept|override)\s*$", head):
        return "other"  # a member initialised with braces; the body comes later
    if re.search(r"=\s*$", head):
        return "other"
    return "function"


def name_of(head):
    names = re.findall(r"(operator\s*(?:\(\)|[^\s\w(]+)|[\w:~<>]+)\s*\(", re.sub(r"^\s*template\s*<[^()]*?>\s*\n", "", head))
    return names[0] if names else "?"


def functions(path, text):
    code = code_of(text)
    found, scopes, begin = [], [], 0
    for match in re.finditer(r"[{};]", code):
        around = scopes[-1][0] if scopes else "namespace"
        at = match.start()
        if match.group() == "{":
            kind = opens(code[begin:at], around)
            scopes.append((kind, begin, at))
            if kind in ("namespace", "type"):
                begin = at + 1
        elif match.group() == "}":
            if not scopes:
                raise ValueError(f"{path}: a brace closes that none opened")
            kind, head, opened = scopes.pop()
            if kind == "function":
                said = code[head:opened]
                start = head + len(said) - len(re.sub(r"^(?:\s|public:|private:|protected:|template\s*<[^\n]*>\s*\n)*", "", said))
                line = code.count("\n", 0, start) + 1
                lines = code.count("\n", start, at) + 1
                found.append(Function(path, name_of(said), line, lines, 1 + len(BRANCHES.findall(code[head:at]))))
            if (scopes[-1][0] if scopes else "namespace") in ("namespace", "type") and kind != "other":
                begin = at + 1
        elif around in ("namespace", "type"):
            begin = at + 1
    if scopes:
        raise ValueError(f"{path}: {len(scopes)} braces are not closed")
    return found


def sources(root=ROOT):
    return sorted(p for room in ROOMS for p in (root / room).rglob("*") if p.suffix in (".cpp", ".h", ".c"))


def all_functions(paths):
    return [f for p in paths for f in functions(place_of(p), p.read_text(encoding="utf-8"))]


def differences(paths):
    import lizard  # pylint: disable=import-outside-toplevel
    said, out = {}, []
    for path in paths:
        for f in lizard.analyze_file(str(path)).function_list:
            said[place_of(path), f.end_line] = (f.end_line - f.start_line + 1, f.cyclomatic_complexity)
    own = {(f.path, f.line + f.lines - 1): (f.lines, f.branches) for f in all_functions(paths)}
    for place in sorted(said.keys() | own.keys()):
        if said.get(place) != own.get(place):
            out.append(f"{place[0]}:{place[1]}: lizard {said.get(place)}, here {own.get(place)}")
    return out, len(said), len(own)


def place_of(path):
    """As the project names it; as it is outside of the project."""
    return str(path.relative_to(ROOT) if path.is_relative_to(ROOT) else path)


def main():
    parser = argparse.ArgumentParser(description="Prints the longest functions, then the most branched, then the "
                                                 "longest files.")
    parser.add_argument("files", nargs="*", metavar="FILE", type=pathlib.Path,
                        help="instead of the sources of " + ", ".join(ROOMS))
    parser.add_argument("--lizard", action="store_true",
                        help="where it and lizard (PyPI), if that is installed, do not count the same")
    arguments = parser.parse_args()
    for path in arguments.files:
        if not path.is_file():
            parser.error(f"{path}: no such file")
    paths = [p.resolve() for p in arguments.files] or sources()
    if arguments.lizard:
        out, said, own = differences(paths)
        print("\n".join(out))
        print(f"{said} functions by lizard, {own} here, {len(out)} places differ")
        return
    found = all_functions(paths)
    for title, size in (("lines", lambda f: f.lines), ("branches", lambda f: f.branches)):
        for f in sorted(found, key=size, reverse=True)[:12]:
            print(f"{size(f):5} {title}  {f.path}:{f.line} {f.name}")
    for length, path in sorted(((len(p.read_text(encoding='utf-8').splitlines()), p) for p in paths), reverse=True)[:12]:
        print(f"{length:5} lines  {place_of(path)}")


if __name__ == "__main__":
    main()
