"""README.md shows files of this repository as they are, and names only what exists."""

import re
import unittest

from adapter import SOURCE

README = (SOURCE / "README.md").read_text(encoding="utf-8")
SHOWN = re.compile(r"<!-- file: (\S+) -->\n```\w*\n(.*?)```\n", re.DOTALL)


class Readme(unittest.TestCase):
    def test_shows_the_embedding_programs_as_they_are(self):
        shown = dict(SHOWN.findall(README))
        self.assertIn("examples/embed.c", shown)
        self.assertIn("examples/embed.py", shown)
        self.assertIn("examples/http.sh", shown)
        for name, text in shown.items():
            with self.subTest(name):
                self.assertEqual(text, (SOURCE / name).read_text(encoding="utf-8"))

    def test_links_lead_to_files(self):
        for target in re.findall(r"\]\((?!https?:)([^)#]+)", README):
            with self.subTest(target):
                self.assertTrue((SOURCE / target).exists())


if __name__ == "__main__":
    unittest.main()
