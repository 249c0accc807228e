"""Records from spreadsheets, Parquet files, data frames and Arrow tables give what the same records give as CSV. Where
openpyxl, pyarrow or pandas is not installed, its tests are skipped by name."""

import importlib.util
import tempfile
import unittest
from datetime import date, datetime, timezone
from decimal import Decimal
from pathlib import Path

import faultodds

ROWS = [{"work_order": f"W-{i}", "closed": date(2024, 3, 1 + i % 28), "component": "port_relief",
         "finding": "seat_leak" if i % 3 == 0 else "none", "grade": "failed" if i % 3 == 0 else None,
         "hours": 1200.5 + i} for i in range(30)]
NAMES = list(ROWS[0])
CSV = ",".join(NAMES) + "\n" + "".join(
    ",".join("" if value is None else str(value) for value in row.values()) + "\n" for row in ROWS)


def needs(*packages):
    missing = [name for name in packages if importlib.util.find_spec(name) is None]
    return unittest.skipIf(missing, f"{', '.join(missing)} not installed")


class Tables(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)
        self.expected = faultodds.learn_priors(CSV, source="depot")
        self.assertEqual(self.expected.summary["work_orders"]["used"], 30)

    def same(self, source):
        learned = faultodds.learn_priors(source, source="depot")
        self.assertEqual(learned.summary["work_orders"]["used"], 30)
        self.assertEqual(learned.pack["learning"]["statistics"], self.expected.pack["learning"]["statistics"])

    def workbook(self, sheets):
        from openpyxl import Workbook

        book = Workbook()
        book.remove(book.active)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        path = self.folder / "orders.xlsx"
        book.save(path)
        return path

    def rows(self):
        return [NAMES] + [list(row.values()) for row in ROWS]

    @needs("openpyxl")
    def test_a_spreadsheet(self):
        self.same(self.workbook({"Orders": self.rows()}))

    @needs("openpyxl")
    def test_a_spreadsheet_with_a_title_and_empty_rows(self):
        self.same(self.workbook({"Orders": [["Closed orders"], []] + self.rows() + [[], []], "Empty": []}))

    @needs("openpyxl")
    def test_which_of_several_sheets_is_asked_about(self):
        path = self.workbook({"Orders": self.rows(), "Prices": [["part", "cost"], ["hose", 5]]})
        with self.assertRaisesRegex(ValueError, "'Orders', 'Prices'.*sheet="):
            faultodds.learn_priors(path, source="depot")
        self.same(faultodds.read_table(path, sheet="Orders"))
        with self.assertRaisesRegex(ValueError, "'Order'"):
            faultodds.read_table(path, sheet="Order")

    @needs("pyarrow")
    def test_an_arrow_table_and_a_parquet_file(self):
        import pyarrow
        import pyarrow.parquet

        table = pyarrow.Table.from_pylist(ROWS)
        self.same(table)
        self.same(table.to_batches()[0])
        path = self.folder / "orders.parquet"
        pyarrow.parquet.write_table(table, path)
        self.same(path)

    @needs("pandas")
    def test_a_data_frame(self):
        import pandas

        frame = pandas.DataFrame(ROWS)
        frame["closed"] = pandas.to_datetime(frame["closed"])
        self.same(frame)
        frame["grade"] = frame["grade"].astype("string")  # whose missing value is NA
        self.same(frame)

    def test_a_list_of_dictionaries(self):
        self.same(ROWS)

    def test_cells_are_written_in_one_way(self):
        text = faultodds.read_table([{"a": datetime(2024, 3, 1), "b": datetime(2024, 3, 1, 7, 30, tzinfo=timezone.utc),
                                      "c": Decimal("1.50"), "d": 3.0, "e": float("nan"), "f": 'x,"y', "g": True}])
        self.assertEqual(text, 'a,b,c,d,e,f,g\r\n2024-03-01,2024-03-01T07:30:00,1.50,3,,"x,""y",true\r\n')

    def test_what_is_no_table_is_refused_with_what_is(self):
        with self.assertRaisesRegex(TypeError, "expected a path ending in .xlsx or .parquet"):
            faultodds.read_table(5)


if __name__ == "__main__":
    unittest.main()
