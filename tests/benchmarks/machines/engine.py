"""faultodds as a vendor embeds it: the Python binding over the C interface, advice followed to the
letter. Of the answer only public fields are read: causes, advice, tests."""

import copy
import math

import faultodds

from world import (ECONOMICS, HAND_PUMP, LEAK, OUTSIDE, SEAT_SPREAD, SOUND_SEAT, SPOOL_SPREAD, STIFFNESS,
                   VOLUME)


def truth(bench, sound_factor=1.0, limit_factor=1.0):
    """The circuit document with the world's sizes, loads and the makers' limits in it."""
    document = copy.deepcopy(bench.subject.document)
    middle = (LEAK[0] * LEAK[1]) ** 0.5
    # Halves of a log-uniform density, each as the log-normal of the same mean and width.
    worn, failed = (LEAK[0] * middle) ** 0.5, (middle * LEAK[1]) ** 0.5
    width = math.log(middle / LEAK[0]) / 12 ** 0.5
    ml = lambda x: f"{x:.6g} mL/min"
    for component in document["components"]:
        for mode, of, law, odds in zip(bench.circuit.mode_ids, bench.circuit.mode_component,
                                       bench.circuit.mode_law, bench.odds):
            if of != component["id"]:
                continue
            name = mode.split(".")[1]
            component.setdefault("priors", {})[name] = [1 - odds, odds / 2, odds / 2]
            if law == "loss":
                # a log-normal of median 25 %, spread 0.8, cut at its median
                half = lambda x: {"median": f"{x:.3g} %", "spread": 0.48}
                component.setdefault("sizes", {})[name] = {
                    "law": "loss", "worn": half(13.2), "failed": half(47.0)}
                continue
            median, spread = (bench.world_spool, SPOOL_SPREAD) if law == "gap" else (SOUND_SEAT, SEAT_SPREAD)
            component.setdefault("sizes", {})[name] = {
                "law": "laminar" if law == "gap" else "orifice",
                "sound": {"median": ml(median * sound_factor), "spread": spread},
                "worn": {"median": ml(worn), "spread": width},
                "failed": {"median": ml(failed), "spread": width}}
        if component["id"] in bench.subject.loads:
            direction, bar = bench.subject.loads[component["id"]]
            component["load"] = {"pressure": f"{bar:g} bar", "spread": 0.3, "direction": direction}
    # What no document describes is in this world a leak where the load's oil stands, half of them small.
    written = {o["id"]: o for o in document.setdefault("observations", [])}
    derived = faultodds.Model(document).describe()["observations"]
    for o in (o["observation"] for o in derived):
        leaks = o.split("/")[0] in ("static", "drift")
        entry = written.setdefault(o, {"id": o})
        entry["background"] = [1 - OUTSIDE, OUTSIDE / 2, OUTSIDE / 2] if leaks else [1, 0, 0]
    document["observations"] = list(written.values())
    return with_limits(document, bench, limit_factor)


def by_grades(document):
    return {**document, "effects": "grades"}


def with_limits(document, bench, factor=1.0):
    """The maker's drift limit where there is one for the whole circuit: the largest of its cylinders'."""
    document = copy.deepcopy(document)
    limits = [bench.limits[c][0] for c in bench.complaints if c.startswith("drift/")]
    document["drift_limit"] = f"{max(limits) * factor:g} mm/min"
    return document


def load(document):
    """The model; or None where this engine does not know a field of the document yet."""
    try:
        return faultodds.Model(document)
    except faultodds.FaultoddsError as error:
        if error.code in ("invalid_circuit", "invalid_document", "parse_error", "unknown_key") or "unknown" in str(error):
            load.refused = str(error)
            return None
        raise


def menu_of(model, complaints):
    """The tests that the engine offers for any of the complaints, which every policy may choose from, with what
    they take."""
    menu = {}
    for complaint in complaints:
        answer = model.assess({"format": "faultodds-case/1", "detail": "full",
                               "observations": [{"observation": complaint, "outcome": "slow"}]})
        for t in answer["tests"]:
            setup = {s["id"]: s["minutes"] for s in t["setup"]}
            menu.setdefault(t["observation"], {
                "minutes": t["minutes"] - sum(setup.values()), "setup": setup,
                "pressure": float((t["test_pressure"] or "100 bar").split()[0])})
    return menu


class Engine:
    def __init__(self, bench, model, name):
        self.bench, self.model, self.name, self.known = bench, model, name, {}
        self.calls = self.refused = 0
        self.limits = {}  # tests as the engine states them, by observation
        self.not_simulated = set()  # tests it proposed that the bench cannot show

    def answer(self, job, first_reading=None):
        key = (job.key(), job.nothing_said > 0, first_reading, tuple(sorted(job.setup_done)),
               len(self.not_simulated))
        if key not in self.known:
            self.calls += 1
            case = {"format": "faultodds-case/1", "detail": "full" if job.nothing_said else "screen",
                    "observations": self._entries(job, first_reading), "setup_done": sorted(job.setup_done),
                    "focus": job.complaint, "economics": ECONOMICS,
                    "not_possible": [{"observation": o, "reason": "not simulated"} for o in sorted(self.not_simulated)]}
            try:
                self.known[key] = self.model.assess(case)
            except faultodds.FaultoddsError as error:
                if error.code != "limit_exceeded":
                    raise
                self.refused += 1  # no answer: nothing more is said on the job
                self.known[key] = {"causes": [], "tests": []}
        return self.known[key]

    def _entries(self, job, first_reading):
        entries, seen = [], set()
        for kind, what in job.events:
            if kind == "renewed":
                entries.append({"repaired": list(what)})
                seen = set()
                continue
            observation, outcome = what
            entry = {"observation": observation, "outcome": self.bench.names(observation)[outcome]}
            if not entries and first_reading is not None:
                entry = {"observation": observation, "reading": {"speed": first_reading}}
            if observation in seen:
                entry["again"] = True
            seen.add(observation)
            entries.append(entry)
        return entries

    def decide(self, job, first_reading=None):
        advice = self.answer(job, first_reading).get("advice")
        if not advice:
            return "repair", []
        test = advice.get("test")
        if not advice["stop"]:
            if test in self.bench.menu or test == job.complaint:
                return "test", test
            self.not_simulated.add(test)
            return self.decide(job, first_reading)
        parts = advice["repair"]["components"]
        if not parts and job.nothing_said:  # said nothing, and the complaint came again
            options = [a["components"] for a in advice.get("alternatives", []) if a["components"]]
            parts = options[0] if options else []
        return "repair", list(parts)

    def limits_of(self, job, o):
        """The limits that the engine states for a hold's outcomes, as flows of this benchmark, if it does."""
        if o not in self.limits:
            whole = self.model.assess({"format": "faultodds-case/1", "detail": "full", "observations": [
                {"observation": job.complaint, "outcome": self.bench.names(job.complaint)[1]}]})
            self.limits |= {o: {}} | {t["observation"]: t for t in whole["tests"]}
        entry = self.limits[o]
        seconds = (entry.get("limits") or {}).get("seconds")
        if not o.startswith("static/") or seconds is None:
            return None
        half = 0.5 * self.bench.menu[o]["pressure"]
        return 60 * VOLUME / STIFFNESS * half / float(str(seconds).split()[0]), HAND_PUMP

    def causes(self, job):
        """Label -> share, for the complaint: sets of components, by_design, elsewhere, nothing."""
        causes = self.answer(job)["causes"]
        cause = next((c for c in reversed(causes) if c["observation"] == job.complaint), None)
        if cause is None:
            return {}
        shares = {frozenset(s["components"]): s["probability"] for s in cause["shares"]}
        for label in ("by_design", "elsewhere", "nothing"):
            shares[label] = cause[label]
        return shares
