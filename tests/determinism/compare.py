"""Compares the answers of several builds of the library with the first one's, byte for byte.

usage: compare.py NAME LIBRARY [NAME LIBRARY]...

Each library answers in a process of its own, first one by one, then by four threads at once.
"""
import ctypes
import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def questions():
    """(name, circuit, case) as bytes."""
    table = json.loads((ROOT / "tests/vectors/assessments.json").read_text(encoding="utf-8"))
    for vector in table["vectors"]:
        yield vector["name"], (ROOT / vector["circuit"]).read_bytes(), json.dumps(vector["case"]).encode()
    for machine in ("refuse_truck", "veneer_press"):
        folder = ROOT / "examples" / machine
        for case in sorted(folder.glob("*.json")):
            if case.name != "circuit.json":
                yield case.stem, (folder / "circuit.json").read_bytes(), case.read_bytes()


def answers(library):
    """Of one library, in this process: name -> answer or error."""
    call = ctypes.CDLL(library)
    call.faultodds_assess_json.argtypes = [
        ctypes.c_char_p, ctypes.c_size_t, ctypes.c_char_p, ctypes.c_size_t, ctypes.c_char_p,
        ctypes.c_size_t, ctypes.c_void_p, ctypes.POINTER(ctypes.c_void_p), ctypes.POINTER(ctypes.c_void_p)]
    call.faultodds_free.argtypes = [ctypes.c_void_p]

    def ask(question):
        name, circuit, case = question
        answer, error = ctypes.c_void_p(), ctypes.c_void_p()
        call.faultodds_assess_json(circuit, len(circuit), case, len(case), None, 0, None,
                                   ctypes.byref(answer), ctypes.byref(error))
        text = ctypes.string_at(answer.value or error.value).decode()
        call.faultodds_free(answer)
        call.faultodds_free(error)
        return name, text

    asked = list(questions())
    first = [ask(question) for question in asked]
    with ThreadPoolExecutor(4) as threads:
        again = list(threads.map(ask, asked + asked))
    if again != first + first:
        raise SystemExit(f"{library}: threads are answered otherwise than one caller")
    return dict(first)


def largest_difference(one, other):
    """Of the numbers, relative to 1 or the larger; infinite where anything else differs."""
    if isinstance(one, dict) and isinstance(other, dict) and list(one) == list(other):
        pairs = [(one[key], other[key]) for key in one]
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = list(zip(one, other))
    elif isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return abs(one - other) / max(1, abs(one), abs(other))
    else:
        return 0.0 if one == other else float("inf")
    return max((largest_difference(a, b) for a, b in pairs), default=0.0)


def main(arguments):
    named = list(zip(arguments[::2], arguments[1::2]))
    texts = []
    for name, library in named:
        runs = [subprocess.run([sys.executable, __file__, "--answers", library], check=True,
                               capture_output=True, text=True).stdout for _ in range(2)]
        if runs[0] != runs[1]:
            raise SystemExit(f"{name}: two processes answer differently")
        texts.append((name, json.loads(runs[0])))
    reference_name, reference = texts[0]
    differing = 0
    print(f"{len(reference)} answers, {sum(map(len, reference.values()))} bytes; against {reference_name}:")
    for name, got in texts[1:]:
        if got.keys() != reference.keys():
            raise SystemExit(f"{name}: other questions")
        others = [key for key in reference if got[key] != reference[key]]
        differing += len(others)
        worst = max((largest_difference(json.loads(got[key]), json.loads(reference[key]))
                     for key in others), default=0.0)
        print(f"  {name:20} {len(others)} differ" + (f", by {worst:.2g} at most" if others else ""))
    return 1 if differing else 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--answers"]:
        json.dump(answers(sys.argv[2]), sys.stdout)
    elif len(sys.argv) >= 3 and len(sys.argv) % 2 == 1:
        sys.exit(main(sys.argv[1:]))
    else:
        raise SystemExit(__doc__)
