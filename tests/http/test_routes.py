"""What each route answers, and how each kind of bad input is refused."""

import copy
import json
import re
import os
import threading
import unittest

from adapter import DRIFTS, LIFT, LIFT_TEXT, Adapter, AdapterTest, case
from bad_documents import bad_inputs, good_documents


class Health(AdapterTest):
    def test_livez_and_healthz_tell_the_version(self):
        for path in ("/livez", "/healthz"):
            answer = self.adapter.get(path)
            self.assertEqual(answer.status, 200)
            self.assertEqual(
                answer.json(), {"status": "ok", "version": os.environ["FAULTODDS_VERSION"]}
            )

    def test_readyz_says_ready(self):
        answer = self.adapter.get("/readyz")
        self.assertEqual((answer.status, answer.json()), (200, {"status": "ready"}))

    def test_head_gives_the_headers_alone(self):
        answer = self.adapter.request("HEAD", "/livez")
        self.assertEqual((answer.status, answer.body), (200, b""))
        self.assertGreater(int(answer.headers["Content-Length"]), 0)


class Description(AdapterTest):
    def test_openapi_is_of_this_version(self):
        answer = self.adapter.get("/openapi.json")
        self.assertEqual(answer.status, 200)
        document = answer.json()
        self.assertEqual(document["openapi"], "3.1.0")
        self.assertEqual(document["info"]["version"], os.environ["FAULTODDS_VERSION"])

    def test_every_method_it_describes_is_offered_and_no_other(self):
        document = self.adapter.get("/openapi.json").json()
        for path, item in document["paths"].items():
            while "$ref" in item:
                item = self._follow(document, item["$ref"])
            described = {m.upper() for m in item} & {"GET", "PUT", "POST", "DELETE", "PATCH"}
            allowed = self.adapter.request("PATCH", path.replace("{id}", "lift"), "{}")
            self.assert_problem(allowed, 405, "method_not_allowed")
            offered = set(allowed.headers["Allow"].split(", ")) - {"HEAD"}
            self.assertEqual(offered, described, path)

    def test_every_reference_in_it_leads_somewhere(self):
        document = self.adapter.get("/openapi.json").json()
        followed = 0
        todo = [document]
        while todo:
            node = todo.pop()
            if isinstance(node, dict):
                if "$ref" in node:
                    self.assertIsNotNone(self._follow(document, node["$ref"]))
                    followed += 1
                todo.extend(node.values())
            elif isinstance(node, list):
                todo.extend(node)
        self.assertGreater(followed, 50)

    def _follow(self, document, reference):
        self.assertTrue(reference.startswith("#/"))
        for key in reference[2:].split("/"):
            document = document[key]
        return document


class Assess(AdapterTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.adapter.put("/v1/circuits/lift", LIFT_TEXT)

    def test_a_circuit_sent_along_is_assessed(self):
        answer = self.adapter.assess(LIFT, DRIFTS)
        self.assertEqual(answer.status, 200)
        self.assertEqual(answer.headers["Content-Type"], "application/json")
        self.assertEqual(answer.headers["Cache-Control"], "no-store")
        self.assertEqual(answer.json()["format"], "faultodds-assessment/1")
        self.assertEqual(answer.json()["complaint"], ["drift/cylinder/retract"])

    def test_a_stored_circuit_gives_the_same_answer(self):
        self.assertEqual(
            self.adapter.assess("lift", DRIFTS).body, self.adapter.assess(LIFT, DRIFTS).body
        )

    def test_priors_of_the_request_rule(self):
        priors = {
            "format": "faultodds-priors/1",
            "id": "yard",
            "modes": [
                {"type": "port_relief", "mode": "seat_leak", "grades": [0.5, 0.25, 0.25]}
            ],
        }
        for circuit in ("lift", LIFT):
            answer = self.adapter.assess(circuit, case(), priors=priors)
            self.assertEqual(answer.status, 200, answer.body)
            odds = {f["mode"]: f["prior_odds"] for f in answer.json()["faults"]}
            self.assertAlmostEqual(odds["cap_relief.seat_leak"], 1, places=12)

    def test_an_asset_class_chooses_among_the_priors_of_the_program(self):
        own = case(asset={"class": "no-such-class"})
        for circuit in ("lift", LIFT):
            answer = self.adapter.assess(circuit, own)
            self.assertEqual(answer.status, 200, answer.body)
            self.assertEqual(
                answer.json()["faults"], self.adapter.assess(circuit, case()).json()["faults"]
            )

    def test_members_may_come_in_any_order_with_any_white_space(self):
        body = '\n{ "case" :\t%s ,\r\n "circuit": "lift" } ' % json.dumps(DRIFTS, indent=3)
        answer = self.adapter.request("POST", "/v1/assess", body)
        self.assertEqual(answer.body, self.adapter.assess("lift", DRIFTS).body)

    def test_a_charset_parameter_of_the_content_type_is_fine(self):
        answer = self.adapter.request(
            "POST",
            "/v1/assess",
            {"circuit": "lift", "case": DRIFTS},
            {"Content-Type": "Application/JSON; charset=utf-8"},
        )
        self.assertEqual(answer.status, 200)

    def test_an_unknown_circuit_is_404(self):
        problem = self.assert_problem(
            self.adapter.assess("hoist", DRIFTS), 404, "unknown_circuit", "/circuit"
        )
        self.assertIn("hoist", problem["detail"])

    def test_pointers_lead_into_the_body(self):
        broken = copy.deepcopy(LIFT)
        broken["components"][3]["type"] = "teapot"
        self.assert_problem(
            self.adapter.assess(broken, DRIFTS),
            422,
            "invalid_circuit",
            "/circuit/components/3/type",
        )
        for circuit in ("lift", LIFT):
            tepid = case(("drift/cylinder/retract", "tepid"))
            self.assert_problem(
                self.adapter.assess(circuit, tepid),
                422,
                "invalid_case",
                "/case/observations/0/outcome",
            )
            self.assert_problem(
                self.adapter.assess(circuit, DRIFTS, priors={"format": "nonsense"}),
                422,
                "invalid_document",
                "/priors/format",
            )

    def test_conflicting_evidence_is_422_and_names_the_observations(self):
        impossible = case()
        impossible["observations"] = [
            {"observation": "drift/cylinder/retract", "likelihood": [1, 0, 0]},
            {"observation": "drift/cylinder/retract", "likelihood": [0, 0, 1]},
        ]
        problem = self.assert_problem_of_code(
            self.adapter.assess("lift", impossible), 422, "conflicting_evidence"
        )
        self.assertIn("drift/cylinder/retract", problem["detail"])

    def assert_problem_of_code(self, answer, status, code):
        self.assertEqual(answer.status, status, answer.body)
        self.assertEqual(answer.json()["code"], code)
        return answer.json()

    def test_a_missing_or_unknown_member_is_named(self):
        post = lambda body: self.adapter.request("POST", "/v1/assess", body)
        self.assert_problem(post({"case": DRIFTS}), 422, "invalid_document", "/circuit")
        self.assert_problem(post({"circuit": "lift"}), 422, "invalid_document", "/case")
        extra = {"circuit": "lift", "case": DRIFTS, "a/b~": 1}
        self.assert_problem(post(extra), 422, "invalid_document", "/a~1b~0")

    def test_what_is_no_json_object_is_400(self):
        bodies = ["", "[]", "1", "null", "{", "{]", '{"circuit":"lift"', '{"a" 1}', "{,}"]
        bodies += ['{"circuit":"lift","case":{}} x', '{"circuit":}', '{"circuit":"lift",}']
        bodies += ['{"circuit":"lift","circuit":"lift","case":{}}', b"\xff\xfe{", '{"cas']
        for body in bodies:
            with self.subTest(body):
                self.assert_problem(
                    self.adapter.request("POST", "/v1/assess", body), 400, "invalid_json"
                )

    def test_broken_json_inside_a_document_is_400_at_its_place(self):
        answer = self.adapter.request("POST", "/v1/assess", '{"circuit":"lift","case":{"a" 1}}')
        self.assert_problem(answer, 400, "invalid_json", "/case/a")
        answer = self.adapter.request("POST", "/v1/assess", '{"circuit":"li\\q","case":{}}')
        self.assert_problem(answer, 400, "invalid_json", "/circuit")

    def test_every_test_of_an_answer_has_cautions(self):
        tests = self.adapter.assess("lift", DRIFTS).json()["tests"]
        self.assertGreater(len(tests), 0)
        for test in tests:
            self.assertGreater(len(test["cautions"]), 0, test["observation"])

    def test_many_clients_at_once_get_the_same_answer(self):
        expected = self.adapter.assess("lift", DRIFTS).body
        wrong = []

        def work():
            for _ in range(25):
                if self.adapter.assess("lift", DRIFTS).body != expected:
                    wrong.append(1)

        threads = [threading.Thread(target=work) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        self.assertEqual(wrong, [])


class Refusals(AdapterTest):
    options = ["--max-body", "4096"]

    def test_an_unknown_path_is_404(self):
        paths = ["/", "/v1", "/v1/assess/", "/v1/circuits/", "/v1/circuits/a/b", "/v1/circuits//model"]
        for path in paths:
            self.assert_problem(self.adapter.get(path), 404, "not_found")

    def test_an_unknown_path_with_any_bytes_is_quoted_as_valid_json(self):
        problem = self.assert_problem(self.adapter.get("/%ff%00%0a%22"), 404, "not_found")
        self.assertIn("nothing at", problem["detail"])

    def note(self, case, **headers):
        return self.adapter.request("POST", "/v1/note", {"circuit": LIFT, "case": case}, headers)

    def test_a_note_is_plain_text_or_html_as_accepted_and_begins_with_cautions(self):
        marked = {**DRIFTS, "note": "<i>"}
        plain = self.note(marked)
        self.assertEqual(plain.status, 200, plain.body)
        self.assertEqual(plain.headers["Content-Type"], "text/plain; charset=utf-8")
        text = plain.body.decode("utf-8")
        self.assertLess(text.index("Cautions"), text.index("Suspects"))
        html = self.note(marked, Accept="text/html,*/*")
        self.assertEqual(html.headers["Content-Type"], "text/html; charset=utf-8")
        self.assertIn("default-src 'none'", html.headers["Content-Security-Policy"])
        self.assertIn("&lt;i&gt;", html.body.decode("utf-8"))
        self.assert_problem(
            self.note({**DRIFTS, "circuit": "hoist"}), 422, "invalid_case", "/case/circuit"
        )

    def test_a_plan_is_json_or_a_card_as_accepted_and_begins_with_cautions(self):
        body = {"circuit": LIFT, "case": DRIFTS}
        plan = self.adapter.request("POST", "/v1/plan", body)
        self.assertEqual(plan.status, 200, plan.body)
        self.assertEqual(plan.headers["Content-Type"], "application/json")
        advised = self.adapter.request("POST", "/v1/assess", body).json()["advice"]["test"]
        self.assertEqual(plan.json()["tree"]["test"], advised)
        card = self.adapter.request("POST", "/v1/plan", body, {"Accept": "text/html"})
        self.assertEqual(card.headers["Content-Type"], "text/html; charset=utf-8")
        text = card.body.decode("utf-8")
        self.assertLess(text.index("Lock out"), text.index("<svg"))

    def test_words_of_a_complaint_propose_symptoms_and_those_for_nothing_do_not(self):
        def propose(**body):
            return self.adapter.request("POST", "/v1/propose", {"circuit": LIFT, **body})

        sinks = propose(text="the cylinder sinks")
        self.assertEqual(sinks.status, 200, sinks.body)
        self.assertEqual(sinks.json()["format"], "faultodds-proposals/1")
        self.assertEqual(propose(text="radio dead", language="en").json()["proposals"], [])
        for body, pointer in (({}, "/text"), ({"text": 7}, "/text"), ({"text": "x", "language": "it"}, "/language"),
                              ({"text": "x", "colour": "red"}, "/colour")):
            self.assert_problem(propose(**body), 422, "invalid_document", pointer)

    def test_a_circuit_is_checked_explained_compared_and_drawn_for_its_author(self):
        wrong = copy.deepcopy(LIFT)
        wrong["components"][0]["type"] = "hoose"
        found = self.adapter.request("POST", "/v1/check", {"circuit": wrong})
        self.assertEqual(found.status, 200, found.body)
        self.assertGreater(found.json()["errors"], 0)
        self.assertEqual(self.adapter.request("POST", "/v1/check", {"circuit": LIFT}).json()["errors"], 0)
        observation = DRIFTS["observations"][0]["observation"]
        why = self.adapter.request("POST", "/v1/explain", {"circuit": LIFT, "observation": observation}).json()
        self.assertTrue(why["sets"] and why["cautions"])
        same = self.adapter.request("POST", "/v1/diff", {"before": LIFT, "after": LIFT, "case": DRIFTS}).json()
        self.assertEqual(same["observations"], {"added": [], "removed": [], "changed": []})
        drawn = self.adapter.request("POST", "/v1/draw", {"circuit": LIFT, "case": DRIFTS})
        self.assertEqual(drawn.headers["Content-Type"], "image/svg+xml")
        self.assertLess(drawn.body.index(b"Lock out"), drawn.body.index(b"Next test"))
        parts = {"format": "faultodds-parts/1", "id": "x", "parts": [{"id": "pump", "type": "fixed_pump"}]}
        self.assertEqual(self.adapter.request("POST", "/v1/new", {"parts": parts}).json()["id"], "x")
        schema = self.adapter.get("/v1/schemas/faultodds-case")
        self.assertEqual(schema.json()["title"], "faultodds-case/1")
        self.assertIn("anyOf", self.adapter.get("/v1/schemas/faultodds-assessment").json())
        self.assert_problem(self.adapter.get("/v1/schemas/nothing"), 404, "not_found")

    def test_what_a_case_concerns_is_drawn_as_wide_as_is_asked(self):
        drawn = self.adapter.request("POST", "/v1/drawing", {"circuit": LIFT, "case": DRIFTS, "width": 360, "language": "de"})
        self.assertEqual((drawn.status, drawn.headers["Content-Type"]), (200, "image/svg+xml"))
        self.assertLessEqual(float(re.search(rb'viewBox="0 0 ([\d.]+) ', drawn.body)[1]), 360)
        self.assertIn(b'class="suspect"', drawn.body)
        nothing = self.adapter.request("POST", "/v1/drawing", {"circuit": LIFT, "case": {"format": "faultodds-case/1"}})
        self.assertEqual((nothing.status, nothing.body), (200, b""))
        for body, pointer in (
            ({"circuit": LIFT}, "/case"), ({"case": DRIFTS}, "/circuit"),
            ({"circuit": LIFT, "case": DRIFTS, "width": "wide"}, "/width"),
            ({"circuit": LIFT, "case": DRIFTS, "width": 1e9}, "/width"),
            ({"circuit": LIFT, "case": DRIFTS, "language": 7}, "/language"),
            ({"circuit": LIFT, "case": DRIFTS, "colour": "red"}, "/colour"),
        ):
            self.assert_problem(self.adapter.request("POST", "/v1/drawing", body), 422, "invalid_document", pointer)

    def test_bodies_for_authors_are_refused_at_their_member(self):
        for path, body, status, code, pointer in (
            ("/v1/check", {}, 422, "invalid_document", "/circuit"),
            ("/v1/check", {"circuit": "nowhere"}, 404, "unknown_circuit", "/circuit"),
            ("/v1/explain", {"circuit": LIFT, "observation": 7}, 422, "invalid_document", "/observation"),
            ("/v1/explain", {"circuit": LIFT, "observation": "drift"}, 422, "invalid_case", "/observation"),
            ("/v1/draw", {"circuit": LIFT, "case": {"format": 7}}, 422, "invalid_document", "/case/format"),
            ("/v1/draw", {"circuit": LIFT, "colour": "red"}, 422, "invalid_document", "/colour"),
        ):
            answer = self.adapter.request("POST", path, body)
            self.assert_problem(answer, status, code, pointer)

    def test_a_method_that_is_not_offered_is_405_with_allow(self):
        rows = {
            "/v1/assess": "POST",
            "/v1/note": "POST",
            "/v1/plan": "POST",
            "/v1/propose": "POST",
            "/v1/circuits": "GET, HEAD",
            "/v1/circuits/lift": "GET, HEAD, PUT",
            "/v1/circuits/lift/model": "GET, HEAD",
            "/livez": "GET, HEAD",
            "/openapi.json": "GET, HEAD",
        }
        for path, allow in rows.items():
            for method in ("DELETE", "OPTIONS", "PATCH", "TRACE"):
                answer = self.adapter.request(method, path)
                self.assert_problem(answer, 405, "method_not_allowed")
                self.assertEqual(answer.headers["Allow"], allow)
        self.assert_problem(self.adapter.get("/v1/assess"), 405, "method_not_allowed")
        for method in ("BREW", "QUERY"):
            answer = self.adapter.request(method, "/v1/assess")
            self.assert_problem(answer, 405, "method_not_allowed")
            self.assertEqual(answer.headers["Allow"], "POST")

    def test_a_body_that_is_not_declared_as_json_is_415(self):
        for kind in ("text/plain", "application/xml", "multipart/form-data; boundary=x", ""):
            answer = self.adapter.request("POST", "/v1/assess", "{}", {"Content-Type": kind})
            self.assert_problem(answer, 415, "unsupported_media_type")
        answer = self.adapter.put("/v1/circuits/lift", "{}", Content_Type="text/json")
        self.assert_problem(answer, 415, "unsupported_media_type")

    def test_a_body_over_the_limit_is_413(self):
        answer = self.adapter.request("POST", "/v1/assess", " " * 4097)
        self.assert_problem(answer, 413, "body_too_large")
        answer = self.adapter.request("POST", "/v1/assess", " " * 4096)
        self.assert_problem(answer, 400, "invalid_json")


class BadDocuments(unittest.TestCase):
    """The shared table of bad input, over HTTP."""

    @classmethod
    def setUpClass(cls):
        cls.adapter = Adapter("--max-body", str(64 << 20))

    @classmethod
    def tearDownClass(cls):
        cls.adapter.stop()

    @staticmethod
    def body(documents):
        # By hand: what is not JSON goes as it is.
        parts = [b'"%s":%s' % (name.encode(), text) for name, text in documents.items()]
        return b"{" + b",".join(parts) + b"}"

    def test_the_documents_are_good_before_they_are_spoilt(self):
        answer = self.adapter.request("POST", "/v1/assess", self.body(good_documents()))
        self.assertEqual(answer.status, 200, answer.body)

    def test_each_is_refused_with_its_code_and_its_place(self):
        replayed = 0
        for entry in bad_inputs():
            with self.subTest(entry.name):
                answer = self.adapter.request("POST", "/v1/assess", self.body(entry.documents))
                self.assertEqual(answer.headers["Content-Type"], "application/problem+json")
                problem = answer.json()
                self.assertEqual(problem["code"], entry.code)
                self.assertEqual(answer.status, 400 if entry.code == "invalid_json" else 422)
                # A document whose brackets do not close spoils the body around it.
                if problem["pointer"] == "" and entry.as_written:
                    self.assertIn("not a JSON object", problem["detail"])
                    continue
                if entry.pointer is not None:
                    self.assertEqual(problem["pointer"], entry.pointer)
                for words in entry.message:
                    self.assertIn(words, problem["detail"])
            replayed += 1
        self.assertGreater(replayed, 50)

    def test_no_bad_circuit_is_stored(self):
        for entry in bad_inputs():
            if entry.bad != "circuit":
                continue
            with self.subTest(entry.name):
                answer = self.adapter.put("/v1/circuits/baler-ram", entry.documents["circuit"])
                problem = answer.json()
                self.assertEqual(problem["code"], entry.code)
                if entry.pointer is not None:
                    self.assertEqual("/circuit" + problem["pointer"], entry.pointer)
        self.assertEqual(self.adapter.get("/v1/circuits").json(), {"circuits": []})


if __name__ == "__main__":
    unittest.main()
