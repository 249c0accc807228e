"""The reference site: Doxygen makes it of the headers and the schemas without a warning, and every function, every member
and every key of a document is in it."""
import html
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "bindings"))
from declarations import headers  # noqa: E402


def words_of(page):
    return html.unescape(re.sub(r"<[^>]*>", "", page.read_text(encoding="utf-8")))


@unittest.skipUnless(shutil.which("doxygen"), "doxygen is not installed")
class Reference(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        built = subprocess.run([ROOT / "capi/reference/build", folder.name], text=True, stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT)
        if built.returncode:
            raise AssertionError(built.stdout)
        cls.pages = {page.name: words_of(page) for page in pathlib.Path(folder.name, "html").glob("*.html")}

    def test_every_function_stands_there_with_words_of_its_own(self):
        told = " ".join(text for name, text in self.pages.items() if re.match(r"group__|faultodds_", name))
        for function in headers.read(ROOT / "capi").functions:
            with self.subTest(function.name):
                self.assertRegex(told, rf"◆\s*{function.name}\(\)")

    def test_every_member_of_a_struct_stands_there(self):
        for struct, members in headers.read(ROOT / "capi").structs:
            page = self.pages["struct" + struct.replace("_", "__") + ".html"]
            for member in members:
                with self.subTest(struct=struct, member=member.name):
                    self.assertRegex(page, rf"\b{member.name}\b")

    def test_every_key_of_a_document_stands_there(self):
        page = self.pages["documents.html"]
        described = [json.loads((ROOT / "capi/documents" / name).read_text(encoding="utf-8"))["$defs"]
                     for name in ("schemas.json", "answers.json")]
        self.assertFalse(set(described[0]) & set(described[1]))
        for name, schema in {**described[0], **described[1]}.items():
            section = re.search(rf"^{name.replace('_', ' ')}$", page, re.MULTILINE)
            self.assertTrue(section, name)
            for key in schema.get("properties", {}):
                with self.subTest(document=name, key=key):
                    self.assertIn(key, page[section.start():])


if __name__ == "__main__":
    unittest.main()
