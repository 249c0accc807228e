"""The pages of the repository show files as they are, and name only what exists."""

import re
import unittest

from adapter import SOURCE

SHOWN = re.compile(r"<!-- file: (\S+) -->\n```\w*\n(.*?)```\n", re.DOTALL)
PAGES = [page for page in SOURCE.rglob("*.md")
         if not re.match(r"build|node_modules|\.", page.relative_to(SOURCE).parts[0])
         and "node_modules" not in page.parts]


def text_of(page):
    return page.read_text(encoding="utf-8")


class Pages(unittest.TestCase):
    def test_show_the_embedding_programs_as_they_are(self):
        shown = [pair for page in PAGES for pair in SHOWN.findall(text_of(page))]
        self.assertLessEqual({"examples/embed.c", "examples/embed.py", "examples/http.sh"}, {name for name, _ in shown})
        for name, text in shown:
            with self.subTest(name):
                self.assertEqual(text, (SOURCE / name).read_text(encoding="utf-8"))

    def test_links_lead_to_files(self):
        for page in PAGES:
            # Code in prose may look like a link: `[](Var v)`.
            for target in re.findall(r"\]\((?!https?:)([^)#\s]*[./][^)#\s]*)", re.sub(r"```.*?```|`[^`]*`", "", text_of(page), flags=re.DOTALL)):
                with self.subTest(page=page.relative_to(SOURCE), target=target):
                    self.assertTrue((page.parent / target).exists())

    def test_the_readers_walk_is_of_eight_files_that_have_what_is_said_of_them(self):
        walk = re.search(r"### A reader's walk\n(.*?)\n## ", text_of(SOURCE / "DEVELOPERS.md"), re.DOTALL).group(1)
        steps = re.findall(r"^\| \[(\S+)\]\(\S+\) \| `(\w+)`", walk, re.MULTILINE)
        self.assertEqual(len(steps), 8)
        for file, name in steps:
            with self.subTest(file):
                self.assertRegex((SOURCE / file).read_text(encoding="utf-8"), rf"\b{name}\b[(:<]")


if __name__ == "__main__":
    unittest.main()
