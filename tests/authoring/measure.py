"""What `check` finds of seeded mistakes, and what it warns of in correct circuits. Through the command.

measure.py COMMAND PROJECT [--verbose]
"""

import json
import pathlib
import subprocess
import sys

from families import correct_circuits
from mistakes import authoring, good, units_and_scale


def check(command, doc):
    text = json.dumps(doc, ensure_ascii=False)
    run = subprocess.run([command, "check", "-", "--json"], input=text, capture_output=True, text=True)
    if run.returncode not in (0, 2):
        raise RuntimeError(run.stderr)
    return json.loads(run.stdout)


def serious(found):
    return [one for one in found["findings"] if one["severity"] != "note"]


def is_found(found, places):
    """A finding at one of the places, or within it, that says what its author has probably done."""
    for one in serious(found):
        at = [one["pointer"], *one.get("also", [])]
        for place in places:
            if any(p == place or p.startswith(place + "/") for p in at) and one.get("cause"):
                return True
    return False


def measure(command, project):
    truck = json.loads((pathlib.Path(project) / "examples/refuse_truck/circuit.json").read_text())
    doc = good(truck)
    result = {"good": serious(check(command, doc)), "missed": {}, "found": {}, "false": {}}
    for name, cases in (("authoring", authoring(doc)), ("units and scale", units_and_scale(doc))):
        missed = [(case, serious(check(command, changed))) for case, changed, places in cases
                  if not is_found(check(command, changed), places)]
        result["missed"][name] = missed
        result["found"][name] = (len(cases) - len(missed), len(cases))
    for circuit in correct_circuits():
        result["false"][circuit["id"]] = serious(check(command, circuit))
    return result


def main():
    command, project = sys.argv[1:3]
    verbose = "--verbose" in sys.argv
    result = measure(command, project)
    print(f"good circuit: {len(result['good'])} warnings")
    for one in result["good"]:
        print("   ", one["pointer"], one["rule"], one["message"])
    for name, (found, of) in result["found"].items():
        print(f"{name}: {found} of {of} found, {100 * found / of:.1f} %")
        for case, findings in result["missed"][name]:
            print("    missed:", case)
            for one in findings if verbose else []:
                print("       ", one["pointer"], one["rule"], one["message"])
    worst = max(len(findings) for findings in result["false"].values())
    warned = sum(bool(findings) for findings in result["false"].values())
    print(f"correct circuits: {len(result['false'])}, warned of {warned}, at most {worst} times")
    for circuit, findings in result["false"].items():
        for one in findings:
            print("   ", circuit, one["pointer"], one["rule"], one["message"])


if __name__ == "__main__":
    main()
