"""--site: the files of one directory, and nothing else, under /site/."""

import tempfile
import unittest
from pathlib import Path

from adapter import Adapter


class Site(unittest.TestCase):
    def setUp(self):
        self.scratch = tempfile.TemporaryDirectory()
        self.addCleanup(self.scratch.cleanup)
        self.root = Path(self.scratch.name)
        site = self.root / "site"
        (site / "parts").mkdir(parents=True)
        (site / "index.html").write_text("<!doctype html><title>Werkstatt – ü</title>", encoding="utf-8")
        (site / "parts" / "panel.js").write_text("export {};", encoding="utf-8")
        (self.root / "secret").write_text("not for anybody", encoding="utf-8")
        (self.root / "token").write_text("read a-token-of-sixteen", encoding="utf-8")

    def adapter(self, *options):
        return Adapter("--site", str(self.root / "site"), *options)

    def test_files_are_served_with_their_type_and_kept_to_their_origin(self):
        with self.adapter() as adapter:
            page = adapter.get("/site/")
            self.assertEqual(page.status, 200)
            self.assertIn("Werkstatt – ü", page.body.decode("utf-8"))
            self.assertTrue(page.headers["Content-Type"].startswith("text/html"))
            self.assertIn("default-src 'self'", page.headers["Content-Security-Policy"])
            self.assertEqual(page.headers["X-Content-Type-Options"], "nosniff")
            script = adapter.get("/site/parts/panel.js")
            self.assertEqual((script.status, script.body), (200, b"export {};"))
            self.assertEqual(script.headers["Content-Type"], "text/javascript")

    def test_a_page_may_compute_with_webassembly_and_run_no_other_code_than_its_own(self):
        (self.root / "site" / "engine.wasm").write_bytes(b"\0asm")
        with self.adapter() as adapter:
            engine = adapter.get("/site/engine.wasm")
            self.assertEqual(engine.headers["Content-Type"], "application/wasm")
            policy = engine.headers["Content-Security-Policy"]
            self.assertIn("script-src 'self' 'wasm-unsafe-eval';", policy)
            self.assertNotIn("'unsafe-eval'", policy)

    def test_what_is_outside_of_the_directory_is_not_there(self):
        with self.adapter() as adapter:
            for path in ("/site/../secret", "/site/%2e%2e/secret", "/site/parts/../../secret",
                         "/site/..%2fsecret", "/site//etc/hostname", "/site/%00", "/site/index.html%00", "/site/%0a", "/site/index.html%7f",
                         "/site/nothing.js",
                         "/site/../v1/circuits", "/secret", "/index.html"):
                with self.subTest(path):
                    answer = adapter.get(path)
                    self.assertEqual(answer.status, 404)
                    self.assertNotIn(b"anybody", answer.body)
                    self.assertEqual(answer.json()["code"], "not_found")

    def test_files_can_only_be_read(self):
        with self.adapter() as adapter:
            for method in ("PUT", "POST", "DELETE"):
                self.assertEqual(adapter.request(method, "/site/index.html", {}).status, 405)
            self.assertEqual(adapter.request("HEAD", "/site/index.html").body, b"")

    def test_pages_need_no_token_but_the_routes_they_call_do(self):
        with self.adapter("--tokens", str(self.root / "token")) as adapter:
            self.assertEqual(adapter.get("/site/index.html").status, 200)
            for path in ("/v1/circuits", "/site/../v1/circuits", "/site"):
                self.assertNotEqual(adapter.get(path).status, 200)
            self.assertEqual(adapter.get("/v1/circuits").status, 401)

    def test_without_the_option_there_is_no_site(self):
        with Adapter() as adapter:
            self.assertEqual(adapter.get("/site/index.html").status, 404)


if __name__ == "__main__":
    unittest.main()
