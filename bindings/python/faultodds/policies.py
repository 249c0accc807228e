"""``python -m faultodds.policies circuit.json``: what ways of working cost on a circuit's own machines, as JSON and
as one HTML page with plots."""

import argparse
import json
import os
import sys
import tempfile
from html import escape
from typing import Any, Dict, List, Sequence

from ._errors import FaultoddsError
from ._policies import compare_policies

__all__ = ["compare_policies", "policies_page"]

_COLOURS = ("#0057a8", "#c2570c", "#3b7d23", "#7a3b8f")


def _range(of: Dict[str, float], digits: int) -> str:
    return f"{of['mean']:.{digits}f} [{of['low']:.{digits}f}, {of['high']:.{digits}f}]"


def _table(report: Dict[str, Any]) -> str:
    heads = ("", "cost", "above the advice", "minutes of testing", "tests", "parts", "wrong parts", "visits",
             "cured at the first visit", "given up")
    lines = ["<tr>" + "".join(f"<th>{h}</th>" for h in heads) + "</tr>"]
    for row in report["policies"]:
        cells = [escape(row["policy"]), _range(row["cost"], 0), _range(row["dearer_than_advice"], 0),
                 _range(row["minutes"], 1), _range(row["tests"], 2), _range(row["parts"], 2), _range(row["wrong"], 2),
                 _range(row["visits"], 2), f"{100 * row['cured_first']:.0f} %", f"{100 * row['given_up']:.0f} %"]
        lines.append("<tr>" + "".join(f"<td>{c}</td>" for c in cells) + "</tr>")
    return "<table>" + "\n".join(lines) + "</table>"


def _bars(report: Dict[str, Any], key: str, title: str) -> str:
    rows = report["policies"]
    most = max(row[key]["high"] for row in rows) or 1.0
    left, width, tall = 170, 480, 26
    body = []
    for k, row in enumerate(rows):
        y, of = 26 + k * tall, row[key]
        x = [left + width * of[end] / most for end in ("low", "mean", "high")]
        body.append(f'<text x="{left - 8}" y="{y + 12}" text-anchor="end">{escape(row["policy"])}</text>'
                    f'<rect x="{left}" y="{y}" width="{x[1] - left:.1f}" height="16" fill="{_COLOURS[k % 4]}"/>'
                    f'<path d="M{x[0]:.1f} {y + 8}H{x[2]:.1f}M{x[0]:.1f} {y + 4}v8M{x[2]:.1f} {y + 4}v8" stroke="#000"/>'
                    f'<text x="{x[2] + 6:.1f}" y="{y + 12}">{of["mean"]:.2f}</text>')
    height = 34 + len(rows) * tall
    return (f'<svg role="img" viewBox="0 0 740 {height}" width="740"><title>{escape(title)}</title>'
            f'<text x="{left}" y="16" font-weight="bold">{escape(title)}</text>' + "".join(body) + "</svg>")


def _curves(report: Dict[str, Any]) -> str:
    rows = report["policies"]
    most = max(row["costs"][-1] for row in rows) or 1.0
    left, top, width, tall = 60, 30, 600, 260
    body: List[str] = []
    for share in (0, 25, 50, 75, 100):
        y = top + tall * (1 - share / 100)
        body.append(f'<path d="M{left} {y}h{width}" stroke="#ddd"/><text x="{left - 6}" y="{y + 4}" text-anchor="end">'
                    f'{share} %</text>')
    for k in range(5):
        x = left + width * k / 4
        body.append(f'<text x="{x}" y="{top + tall + 16}" text-anchor="middle">{most * k / 4:.0f}</text>')
    for k, row in enumerate(rows):
        path, n = f"M{left} {top + tall}", len(row["costs"])
        for i, cost in enumerate(row["costs"]):
            path += f"H{left + width * cost / most:.1f}V{top + tall * (1 - (i + 1) / n):.1f}"
        body.append(f'<path d="{path}" fill="none" stroke="{_COLOURS[k % 4]}" stroke-width="2"/>'
                    f'<text x="{left + width - 4}" y="{top + tall - 60 + 16 * k}" text-anchor="end" '
                    f'fill="{_COLOURS[k % 4]}">{escape(row["policy"])}</text>')
    title = "Share of jobs that cost no more than this"
    return (f'<svg role="img" viewBox="0 0 700 {top + tall + 30}" width="700"><title>{title}</title>'
            f'<text x="{left}" y="16" font-weight="bold">{title}</text>' + "".join(body) + "</svg>")


def policies_page(report: Dict[str, Any]) -> str:
    """One self-contained HTML page of what ``compare_policies`` found: tables and plots, nothing is fetched."""
    money = "" if report["currency"] == "XXX" else f", {report['currency']}"
    complaints = "".join(f"<li>{escape(o)}: {n}</li>" for o, n in report["complaints"].items())
    cautions = "".join(f"<li>{escape(c)}</li>" for c in report["cautions"])
    return (
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Ways of working: "
        f"{escape(report['title'])}</title><style>body{{font:15px sans-serif;max-width:60em;margin:1em auto;padding:0 1em}}"
        "table{border-collapse:collapse}td,th{border:1px solid #999;padding:.2em .5em;text-align:left}"
        "svg{display:block;margin:1em 0;max-width:100%}svg text{font:12px sans-serif}</style></head><body>\n"
        f"<h1>Ways of working: {escape(report['title'])}</h1>\n"
        f"<p>{report['machines']} machines with a complaint, drawn from the circuit's own network (seed {report['seed']})"
        f"; each way of working on the same machines to the end{money}. Means with 90 % intervals. It compares ways of "
        "working on machines that are as the model says, and does not prove the model.</p>\n"
        f"<h2>Cautions for any of these tests</h2><ul>{cautions}</ul>\n"
        f"<h2>What they cost</h2>{_table(report)}\n{_bars(report, 'cost', 'Cost of a job')}\n{_curves(report)}\n"
        f"{_bars(report, 'wrong', 'Wrong parts fitted in a job')}\n{_bars(report, 'minutes', 'Minutes of testing in a job')}\n"
        f"<h2>Complaints</h2><ul>{complaints}</ul>\n"
        "<p>Cost: testing and exchanging parts at labour and downtime, the parts, the longest wait, and a second visit each "
        "time the complaint comes again. A wrong part was sound when it was taken out. Given up: after five visits, as where "
        "the cause is none that the circuit describes.</p>\n</body></html>\n")


def _write(path: str, text: str) -> None:
    """Beside its place, and moved there once all of it is written."""
    if path == "-":
        sys.stdout.write(text)
        return
    handle, beside = tempfile.mkstemp(dir=os.path.dirname(os.path.abspath(path)), prefix=".policies-")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        os.replace(beside, path)
    except BaseException:
        os.unlink(beside)
        raise


def main(arguments: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m faultodds.policies", description=__doc__)
    parser.add_argument("circuit")
    parser.add_argument("--machines", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--complaint", help="only this symptom")
    parser.add_argument("--flow-chart", metavar="FILE", help='"faultodds-flow-chart/1"')
    parser.add_argument("--economics", metavar="FILE", help="a JSON object as in a case")
    parser.add_argument("--priors", metavar="FILE", help="a prior pack")
    parser.add_argument("--json", metavar="FILE", default=None, help="- is standard output")
    parser.add_argument("--html", metavar="FILE", default=None, help="- is standard output")
    given = parser.parse_args(arguments)
    inputs = {name: path for name in ("circuit", "flow_chart", "economics", "priors")
              if (path := getattr(given, name)) is not None}
    for out in (given.json, given.html):
        if out not in (None, "-") and any(os.path.exists(out) and os.path.samefile(out, p) for p in inputs.values()):
            parser.error(f"{out} is an input of this run; expected another file")
    try:
        read = {}
        for name, path in inputs.items():
            with open(path, encoding="utf-8") as file:
                read[name] = json.load(file)
        report = compare_policies(read["circuit"], machines=given.machines, seed=given.seed, complaint=given.complaint,
                                  flow_chart=read.get("flow_chart"), economics=read.get("economics"),
                                  priors=read.get("priors"))
    except FaultoddsError as problem:
        print(f"{problem.pointer}: {problem.message}", file=sys.stderr)
        return 1
    except (OSError, ValueError) as problem:
        print(problem, file=sys.stderr)
        return 1
    if given.html:
        _write(given.html, policies_page(report))
    if given.json or not given.html:
        _write(given.json or "-", json.dumps(report, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
