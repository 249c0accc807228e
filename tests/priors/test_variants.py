"""test_variants.py FAULTODDS-PRIORS EXAMPLES: fifty everyday ways to write one table of work orders.

Each is given to `inspect`, and what inspect proposes to `learn`, as somebody would who edits nothing. It is read
right: every order is used and the pack is that of the plain table; or refused in words that say what to do. None ends
in success without a row.
"""

import csv
import io
import json
import unittest
from datetime import date, timedelta

from test_command import CommandTest

NAMES = ["Work order", "Closed", "Machine", "Component", "Finding", "Grade", "Hours", "Remark"]
OTHER_NAMES = {
    "german": ["Auftragsnummer", "Abgeschlossen am", "Maschine", "Bauteil", "Befund", "Zustand", "Betriebsstunden",
               "Bemerkung"],
    "french": ["Ordre de travail", "Date de cl\u00f4ture", "Engin", "Composant", "D\u00e9faut", "Gravit\u00e9", "Heures",
               "D\u00e9signation"],
    "spanish": ["Orden de trabajo", "Fecha de cierre", "Equipo", "Componente", "Falla", "Gravedad", "Horas",
                "Observaciones"],
}
FOUND = [("hose", "external_leak", "failed"), ("single_rod_cylinder", "rod_seal_leak", "worn"),
         ("single_rod_cylinder", "piston_seal_leak", "failed"), ("variable_pump", "internal_wear", "worn"),
         ("return_filter", "clogged", "failed"), ("rotary_motor", "internal_wear", "worn"), ("port_relief", "none", "")]
WORDS = {"hose": "Hydraulic hose", "single_rod_cylinder": "Cylinder", "variable_pump": "Piston pump",
         "return_filter": "Return filter", "rotary_motor": "Hydraulic motor", "port_relief": "Port relief valve"}
FINDINGS = {"external_leak": "leaking", "rod_seal_leak": "rod seal leaking", "piston_seal_leak": "piston seal leaking",
            "internal_wear": "worn", "clogged": "blocked", "none": "none"}


def days(only_small=False):
    first = date(2024, 1, 5)
    if only_small:  # every day could be a month as well
        return [date(2024, 1 + i % 12, 1 + i % 11 + (1 if i % 11 == i % 12 else 0)) for i in range(40)]
    return [first + timedelta(days=5 * i) for i in range(40)]


def orders(day="%Y-%m-%d", number="{:.1f}", text="{}", component=str, finding=str, when=None, hours=None):
    rows = []
    for i, d in enumerate(when or days()):
        kind, mode, grade = FOUND[i % len(FOUND)]
        cell = d.strftime(day) if isinstance(day, str) else day(d)
        run = hours[i] if hours else 1200.5 + 137.25 * i
        rows.append([f"W-{i}", cell, f"T{i % 4}", component(kind), finding(mode), grade,
                     number(run) if callable(number) else number.format(run), text.format(i)])
    return rows


def table(rows, names=NAMES, delimiter=",", end="\r\n", quoting=csv.QUOTE_MINIMAL):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=end, quoting=quoting)
    writer.writerow(names)
    writer.writerows(rows)
    return text.getvalue()


def grouped(sign, decimal):
    return lambda v: f"{v:,.1f}".replace(",", "\0").replace(".", decimal).replace("\0", sign)


def serial(d):
    return str((d - date(1899, 12, 30)).days)


def page_breaks(text):
    lines = text.split("\r\n")
    return "\r\n".join(lines[:15] + [lines[0]] + lines[15:30] + [lines[0]] + lines[30:])


def reordered(rows, order):
    return [[row[i] for i in order] for row in rows]


ORDER = [7, 1, 3, 0, 4, 6, 5, 2]
BIG = [1e6 - 1000 - 137 * i for i in range(40)]
READ = "read"
# name: (bytes, READ or the words that the refusal holds)
VARIANTS = {
    "plain": (table(orders()), READ),
    "semicolons": (table(orders(), delimiter=";"), READ),
    "tabs": (table(orders(), delimiter="\t"), READ),
    "bars": (table(orders(), delimiter="|"), READ),
    "line feeds": (table(orders(), end="\n"), READ),
    "carriage returns": (table(orders(), end="\r"), READ),
    "byte order mark": ("\ufeff" + table(orders()), READ),
    "utf-16 little endian": (("\ufeff" + table(orders())).encode("utf-16-le"), READ),
    "utf-16 big endian": (("\ufeff" + table(orders())).encode("utf-16-be"), READ),
    "utf-16 without a mark": (table(orders()).encode("utf-16-le"), READ),
    "unicode text of a spreadsheet": (("\ufeff" + table(orders(), delimiter="\t")).encode("utf-16-le"), READ),
    "windows-1252": (table(orders(text="Zylinder \u00fcberpr\u00fcft {}")).encode("cp1252"), READ),
    "windows-1252 with semicolons": (table(orders(text="v\u00e9rin \u2013 {}"), delimiter=";").encode("cp1252"), READ),
    "umlauts in utf-8": (table(orders(text="Zylinder \u00fcberpr\u00fcft {}")), READ),
    "everything quoted": (table(orders(), quoting=csv.QUOTE_ALL), READ),
    "delimiters in a text": (table(orders(text="left, right, {}")), READ),
    "lines in a text": (table(orders(text="first\nsecond {}")), READ),
    "quotes in a text": (table(orders(text='the "big" one {}')), READ),
    "day.month.year": (table(orders("%d.%m.%Y"), delimiter=";"), READ),
    "day/month/year": (table(orders("%d/%m/%Y")), READ),
    "month/day/year": (table(orders("%m/%d/%Y")), READ),
    "day-month-year": (table(orders("%d-%m-%Y")), READ),
    "a day that could be a month": (table(orders("%d/%m/%Y", when=days(True))), "day_month_year"),
    "days of a spreadsheet": (table(orders(serial)), READ),
    "days and time": (table(orders("%Y-%m-%d 07:30:00")), READ),
    "days and time with T": (table(orders("%Y-%m-%dT07:30:00Z")), READ),
    "American days and time": (table(orders("%m/%d/%Y 7:30 AM")), READ),
    "months in letters": (table(orders("%d-%b-%Y")), READ),
    "months in letters first": (table(orders("%b %d, %Y")), READ),
    "eight digits": (table(orders("%Y%m%d")), READ),
    "years of two digits": (table(orders("%d/%m/%y")), "closed"),
    "decimal comma": (table(orders("%d.%m.%Y", lambda v: f"{v:.1f}".replace(".", ",")), delimiter=";"), READ),
    "decimal comma, points between": (table(orders("%d.%m.%Y", grouped(".", ",")), delimiter=";"), READ),
    "decimal comma, blanks between": (table(orders("%d/%m/%Y", grouped("\u00a0", ",")), delimiter=";"), READ),
    "decimal point, commas between": (table(orders(number=grouped(",", "."))), READ),
    "decimal point, apostrophes between": (table(orders(number=grouped("'", "."))), READ),
    "numbers that could be either": (
        table(orders(number="{:.3f}", hours=[1.001 + i / 1000 for i in range(40)]), delimiter=";"), "decimal_comma"),
    "a title before": ("Closed orders of the municipal fleet\r\n\r\n" + table(orders()), READ),
    "a padded title before": ("Closed orders,,,,,,,\r\nPrinted 2024-09-01,,,,,,,\r\n" + table(orders()), READ),
    "sep= before": ("sep=;\r\n" + table(orders(), delimiter=";"), READ),
    "blank lines": ("\r\n\r\n" + table(orders()).replace("W-7,", "\r\nW-7,"), READ),
    "totals after": (table(orders()) + "Total,,,,,,158000.5,\r\n", READ),
    "a footer after": (table(orders()) + "Printed by the office\r\n", READ),
    "header on every page": (page_breaks(table(orders())), READ),
    "empty rows after": (table(orders()) + ",,,,,,,\r\n" * 5, READ),
    "a delimiter at each end": (table(orders()).replace("\r\n", ",\r\n"), READ),
    "a delimiter at the end of rows": (
        table(orders()).replace("\r\n", ",\r\n").replace("Remark,\r\n", "Remark\r\n"), READ),
    "German names": (table(orders("%d.%m.%Y"), OTHER_NAMES["german"], ";").encode("cp1252"), READ),
    "French names": (table(orders("%d/%m/%Y"), OTHER_NAMES["french"], ";"), READ),
    "Spanish names": (table(orders("%d/%m/%Y"), OTHER_NAMES["spanish"], ";").encode("utf-16"), READ),
    "names in capitals": (table(orders(), [name.upper() for name in NAMES]), READ),
    "names with units": (table(orders(), [n + " (h)" if n == "Hours" else n for n in NAMES]), READ),
    "blanks around everything": (table([[f" {cell} " for cell in row] for row in orders()], [f" {n} " for n in NAMES]),
                                 READ),
    "columns in another order": (table(reordered(orders(), ORDER), reordered([NAMES], ORDER)[0]), READ),
    "more columns": (table([row + ["120.50", "A. N. Other"] for row in orders()], NAMES + ["Cost", "Fitter"]), READ),
    "a shop's own words": (table(orders(component=WORDS.get, finding=FINDINGS.get)), READ),
    "empty": ("", "header"),
    "a header alone": (table([]), "row"),
    "no header": (table(orders()).split("\r\n", 1)[1], "columns"),
    "a spreadsheet named csv": (b"PK\x03\x04" + b"\0" * 100, "CSV"),
    "other orders altogether": (table([[f"{i}", "2024-01-05"] for i in range(9)], ["Invoice", "Paid"]), "columns"),
}


class Variants(CommandTest):
    def pack(self, path):
        with open(path, encoding="utf-8") as file:
            pack = json.load(file)
        return {"components": pack.get("components"), "statistics": pack["learning"]["statistics"]}

    def outcome(self, name, content):
        """READ, or what the refusal said; the test fails where it is neither."""
        orders_file, mapping, pack = self.path("orders.csv"), self.path("mapping.json"), self.path("pack.json")
        with open(orders_file, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8"))
        looked = self.any_command("inspect", "--orders", orders_file, "--mapping-out", mapping)
        if looked.returncode:
            self.assertTrue(looked.stderr.strip(), name)
            return looked.stderr
        learned = self.any_command("learn", "--quiet", "--orders", orders_file, "--mapping", mapping, "--source", "x",
                                   "--out", pack)
        if learned.returncode:
            return learned.stderr
        used = int(learned.stdout.split(" rows, ")[1].split(" used")[0])
        self.assertGreater(used, 0, f"{name} ends in success with no row")
        if used == 40 and self.pack(pack) == self.plain:
            return READ
        return f"read wrong: {learned.stdout}"

    def any_command(self, *arguments):
        return self.run_command(*arguments, expect=None)

    def setUp(self):
        super().setUp()
        self.plain = None
        orders_file, pack = self.path("orders.csv"), self.path("pack.json")
        with open(orders_file, "w", newline="", encoding="utf-8") as file:
            file.write(table(orders(), ["work_order", "closed", "asset", "component", "finding", "grade", "hours",
                                        "text"]))
        self.run_command("learn", "--quiet", "--orders", orders_file, "--source", "x", "--out", pack)
        self.plain = self.pack(pack)

    def test_every_variant_is_read_right_or_refused_with_what_to_do(self):
        self.assertGreaterEqual(len(VARIANTS), 50)
        as_expected, other = [], []
        for name, (content, expected) in VARIANTS.items():
            outcome = self.outcome(name, content)
            good = outcome == READ if expected == READ else outcome != READ and expected in outcome
            (as_expected if good else other).append(f"{name}: {outcome.strip()[:300]}")
        print(f"\n{len(as_expected)} of {len(VARIANTS)} variants read right or refused with what to do")
        self.assertEqual(other, [])


if __name__ == "__main__":
    unittest.main(argv=["test_variants"])
