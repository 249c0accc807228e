"""What a way of working costs on a circuit: machines are drawn from the circuit's own network, as ``Model.describe``
lists it, and the advice, two ways of exchanging parts without testing, and a given flow chart are played on the
same machines to the end.

The machines are as the model says they are: a comparison of ways of working, not a proof of the model."""

import random
from typing import Any, Callable, Dict, FrozenSet, List, NamedTuple, Optional, Sequence, Tuple

from ._documents import Document, decoded, encoded
from ._errors import FaultoddsError
from ._model import Model

MOST_VISITS = 5  # then the job is given up
MOST_TESTS = 40  # on one job
MOST_TRIES = 200_000  # draws of a machine until one has a complaint

Event = Tuple[str, Any]  # ("seen", (observation, outcome)) or ("repaired", parts)
Decision = Tuple[str, Any]  # ("test", observation) or ("repair", parts)

ECONOMICS = {
    "currency": "XXX",
    "labour_per_hour": 80.0,
    "downtime_per_hour": 60.0,
    "downtime_hours_per_day": 8.0,
    "second_visit": 600.0,
    "part_cost": 150.0,
    "repair_minutes": 60.0,
    "lead_days": 0.0,
    "bad_new_part": 0.01,
}


def _refuse(pointer: str, message: str) -> None:
    raise FaultoddsError("invalid_argument", message, pointer)


class _Network:
    """The network that a model's description lists."""

    def __init__(self, described: "dict[str, Any]") -> None:
        self.modes = {m["mode"]: m for m in described["modes"]}
        for m in self.modes.values():
            m.setdefault("states", [{"grade": g, "share": 1.0} for g in range(3)])
        self.of_component: Dict[str, List[str]] = {}
        for name, m in self.modes.items():
            self.of_component.setdefault(m["component"], []).append(name)
        self.observations = {o["observation"]: o for o in described["observations"]}
        self.conditions = described.get("conditions", [])
        self.steps = {s["id"]: s["minutes"] for s in described["setup"]}
        self.symptoms = [o for o, d in self.observations.items() if d["symptom"] and d["sets"]]

    def looked_at(self, observation: str) -> List[str]:
        """Components in a minimal set of it."""
        of = self.observations[observation]["sets"]
        return sorted({self.modes[m]["component"] for s in of for m in s["modes"]})


class _Machine:
    """One machine in its course. What a set shows is drawn once, and again where a part of it is new."""

    def __init__(self, network: _Network, name: str, bad_new_part: float) -> None:
        self.network, self.name, self.bad = network, name, bad_new_part
        draw = random.Random(name)
        factor = {m: 1.0 for m in network.modes}
        for condition in network.conditions:
            if draw.random() < condition["probability"]:
                for mode, raised in condition["raises"].items():
                    factor[mode] *= raised
        self.state: Dict[str, int] = {}
        for name_, m in network.modes.items():
            prior = m["prior"]
            odds = [prior[0], prior[1] * factor[name_], prior[2] * factor[name_]]
            grade = draw.choices(range(3), odds)[0]
            self.state[name_] = self._state(draw, m, grade)
        self.renewed: Dict[str, int] = {}
        self.looks: Dict[str, int] = {}
        self.shown: Dict[Tuple[str, int, Tuple[int, ...]], int] = {}

    @staticmethod
    def _state(draw: random.Random, mode: "dict[str, Any]", grade: int) -> int:
        of_grade = [(i, s["share"]) for i, s in enumerate(mode["states"]) if s["grade"] == grade]
        return draw.choices([i for i, _ in of_grade], [w for _, w in of_grade])[0]

    def grade(self, mode: str) -> int:
        grade: int = self.network.modes[mode]["states"][self.state[mode]]["grade"]
        return grade

    def faulty(self, component: str, among: Sequence[str]) -> bool:
        return any(self.grade(m) > 0 for m in self.network.of_component[component] if m in among)

    def effect(self, observation: str) -> int:
        """The class of effect that the observation sees: the largest of its sets and of what is not modelled."""
        of = self.network.observations[observation]
        largest = 0
        for k, one in enumerate(of["sets"]):
            renewed = tuple(self.renewed.get(self.network.modes[m]["component"], 0) for m in one["modes"])
            key = (observation, k, renewed)
            if key not in self.shown:
                u = random.Random(f"{self.name}/{observation}/{k}/{renewed}").random()
                self.shown[key] = sum(u < p for p in self.chances(one))
            largest = max(largest, self.shown[key])
        other = random.Random(f"{self.name}/{observation}/other").choices(range(3), of["background"])[0]
        return max(largest, other)

    def chances(self, one: "dict[str, Any]") -> List[float]:
        """Of a set, as its modes are: that it shows anything, and that it shows much."""
        if "link" not in one:
            least = min(self.grade(m) for m in one["modes"])
            return [one["probability"] if least > limit else 0.0 for limit in (0, 1)]
        chances = []
        for limit in (0, 1):
            p = 0.0
            for level, weight in enumerate(one["link"]["weight"]):
                for i, m in enumerate(one["modes"]):
                    weight *= one["link"]["exceeds"][i][level][limit][self.state[m]]
                p += weight
            chances.append(p)
        return chances

    def look(self, observation: str) -> str:
        of = self.network.observations[observation]
        count = self.looks[observation] = self.looks.get(observation, 0) + 1
        draw = random.Random(f"{self.name}/{observation}/look {count}")
        outcome: str = draw.choices(of["outcomes"], of["matrix"][self.effect(observation)])[0]
        return outcome

    def renew(self, component: str) -> None:
        count = self.renewed[component] = self.renewed.get(component, 0) + 1
        draw = random.Random(f"{self.name}/{component}/new {count}")
        modes = self.network.of_component[component]
        bad = draw.choices(modes, [max(1e-12, 1 - self.network.modes[m]["prior"][0]) for m in modes])[0]
        grade = draw.choices((1, 2), (0.7, 0.3))[0] if draw.random() < self.bad else 0
        for m in modes:
            self.state[m] = self._state(draw, self.network.modes[m], grade if m == bad else 0)


class Job(NamedTuple):
    """What a policy knows when it decides."""

    complaint: str
    events: Tuple[Event, ...]
    setup_done: FrozenSet[str]

    def case(self, economics: "dict[str, Any]") -> "dict[str, Any]":
        entries: List[Dict[str, Any]] = []
        seen = set()
        for kind, what in self.events:
            if kind == "repaired":
                if what:  # else it was left as it is
                    entries.append({"repaired": list(what)})
                    seen.clear()
                continue
            entries.append({"observation": what[0], "outcome": what[1]})
            if what[0] in seen:
                entries[-1]["again"] = True
            seen.add(what[0])
        return {
            "format": "faultodds-case/1",
            "detail": "full",
            "observations": entries,
            "setup_done": sorted(self.setup_done),
            "focus": self.complaint,
            "economics": economics,
        }

    def replaced(self) -> List[str]:
        return [c for kind, what in self.events if kind == "repaired" for c in what]

    def visits(self) -> int:
        return 1 + sum(kind == "repaired" for kind, _ in self.events)


class _Asked:
    """The engine's answers, each case asked once."""

    def __init__(self, model: Model, economics: "dict[str, Any]") -> None:
        self.model, self.economics = model, economics
        self.known: Dict[Job, "dict[str, Any]"] = {}

    def __call__(self, job: Job) -> "dict[str, Any]":
        if job not in self.known:
            self.known[job] = self.model.assess(job.case(self.economics))
        return self.known[job]

    def shares(self, job: Job) -> Dict[str, float]:
        """P(a component is in the cause), by component."""
        result: Dict[str, float] = {}
        for of in self(job)["causes"]:
            if of["observation"] == job.complaint:
                result = {}
                for share in of["shares"]:
                    for c in share["components"]:
                        result[c] = result.get(c, 0.0) + share["probability"]
        return result


Policy = Callable[[Job], Decision]


def _advised(asked: _Asked) -> Policy:
    def decide(job: Job) -> Decision:
        advice = asked(job).get("advice")
        if not advice:
            return "repair", ()
        if advice["test"]:
            return "test", advice["test"]
        parts = advice["repair"]["components"]
        if not parts and job.visits() > 1:  # it came again: the next best that orders something
            parts = next((a["components"] for a in advice["alternatives"] if a["components"]), [])
        return "repair", tuple(parts)

    return decide


def _by(order: Callable[[Job], List[str]]) -> Policy:
    """One part after the other, without a test."""

    def decide(job: Job) -> Decision:
        done = set(job.replaced())
        left = [c for c in order(job) if c not in done]
        return "repair", tuple(left[:1])

    return decide


class _FlowChart:
    """"faultodds-flow-chart/1": what follows each outcome. Where it ends, the likeliest part is next."""

    def __init__(self, chart: "dict[str, Any]", network: _Network, fallback: Policy) -> None:
        if chart.get("format") != "faultodds-flow-chart/1":
            _refuse("/format", f"`format` is `{chart.get('format')}`; expected faultodds-flow-chart/1")
        self.start, self.steps, self.fallback = chart.get("start"), chart.get("steps") or {}, fallback
        if self.start not in self.steps:
            _refuse("/start", f"`start` is `{self.start}`; expected the name of one of `steps`")
        for name, step in self.steps.items():
            self._check(f"/steps/{name}", step, network)

    def _check(self, at: str, step: "dict[str, Any]", network: _Network) -> None:
        if ("test" in step) == ("replace" in step):
            _refuse(at, "a step has both or none of `test` and `replace`; expected one of them")
        following = []
        if "test" in step:
            of = network.observations.get(step["test"])
            if of is None:
                _refuse(f"{at}/test", f"unknown observation `{step['test']}`; expected one of the circuit")
                return
            for outcome, to in (step.get("then") or {}).items():
                if outcome not in of["outcomes"]:
                    known = ", ".join(of["outcomes"])
                    _refuse(f"{at}/then/{outcome}", f"unknown outcome `{outcome}`; expected one of {known}")
                following.append((f"{at}/then/{outcome}", to))
        else:
            for i, c in enumerate(step["replace"]):
                if c not in network.of_component:
                    _refuse(f"{at}/replace/{i}", f"unknown component `{c}`; expected one of the circuit")
            if "again" in step:
                following.append((f"{at}/again", step["again"]))
        for pointer, to in following:
            if to not in self.steps:
                _refuse(pointer, f"`{to}` is no step; expected the name of one of `steps`")

    def __call__(self, job: Job) -> Decision:
        at, seen, used = self.start, list(job.events[1:]), 0
        while at is not None and used <= len(job.events) + len(self.steps):
            step = self.steps[at]
            used += 1
            if "test" in step:
                made = [w for k, w in seen if k == "seen" and w[0] == step["test"]]
                if not made:
                    return "test", step["test"]
                at = (step.get("then") or {}).get(made[-1][1])
                continue
            parts = tuple(step["replace"])
            mark = next((i for i, (k, w) in enumerate(seen) if k == "repaired" and tuple(w) == parts), None)
            if mark is None:
                return "repair", parts
            seen = seen[mark + 1:]
            at = step.get("again")
        return self.fallback(job)


class _Course(NamedTuple):
    minutes: float
    cost: float
    parts: int
    wrong: int
    tests: int
    visits: int
    cured: bool


class _Prices:
    def __init__(self, circuit: "dict[str, Any]", network: _Network, economics: "dict[str, Any]") -> None:
        self.e = {**ECONOMICS, **economics}
        self.minute = (self.e["labour_per_hour"] + self.e["downtime_per_hour"]) / 60
        own = self.e.get("components", {})
        self.of: Dict[str, Tuple[float, float]] = {}
        for c in circuit["components"]:
            said = own.get(c["id"], {})
            part = said.get("part_cost", c.get("part_cost", self.e["part_cost"]))
            minutes = said.get("minutes", c.get("minutes", self.e["repair_minutes"]))
            days = said.get("lead_days", c.get("lead_days", self.e["lead_days"]))
            if not isinstance(minutes, (int, float)):
                minutes = _minutes(minutes)
            wait = days * self.e["downtime_hours_per_day"] * self.e["downtime_per_hour"]
            self.of[c["id"]] = (part + minutes * self.minute, wait)

    def repair(self, parts: Sequence[str]) -> float:
        return sum(self.of[c][0] for c in parts) + max((self.of[c][1] for c in parts), default=0.0)


def _minutes(text: str) -> float:
    value, unit = text.split()
    return float(value) * {"s": 1 / 60, "min": 1, "h": 60, "d": 1440}[unit]


def _play(network: _Network, prices: _Prices, name: str, complaint: str, first: str, decide: Policy) -> _Course:
    machine = _Machine(network, name, prices.e["bad_new_part"])
    machine.looks[complaint] = 1  # how it was reported
    among = {m for s in network.observations[complaint]["sets"] for m in s["modes"]}
    job = Job(complaint, (("seen", (complaint, first)),), frozenset())
    minutes = cost = 0.0
    parts = wrong = tests = 0
    while True:
        kind, what = decide(job)
        if kind == "test" and tests < MOST_TESTS:
            of = network.observations[what]
            takes = of["minutes"] + sum(network.steps[s] for s in of["setup"] if s not in job.setup_done)
            minutes += takes
            cost += takes * prices.minute
            tests += 1
            job = job._replace(events=job.events + (("seen", (what, machine.look(what))),),
                               setup_done=job.setup_done | set(of["setup"]))
            continue
        fitted = tuple(what) if kind == "repair" else ()
        cost += prices.repair(fitted)
        for c in fitted:
            parts += 1
            wrong += not machine.faulty(c, among)
            machine.renew(c)
        if machine.effect(complaint) == 0:
            return _Course(minutes, cost, parts, wrong, tests, job.visits(), True)
        if job.visits() == MOST_VISITS:
            return _Course(minutes, cost, parts, wrong, tests, job.visits(), False)
        cost += prices.e["second_visit"]
        again = machine.look(complaint)
        outcomes = network.observations[complaint]["outcomes"]
        if again == outcomes[0]:
            again = outcomes[1]  # whoever comes again has seen it
        job = job._replace(events=job.events + (("repaired", fitted), ("seen", (complaint, again))),
                           setup_done=frozenset())


def _interval(values: Sequence[float], name: str) -> Tuple[float, float, float]:
    """Mean, with the 5 % and 95 % quantiles of its bootstrap."""
    n = len(values)
    mean = sum(values) / n
    draw = random.Random(name)
    means = sorted(sum(draw.choices(values, k=n)) / n for _ in range(400))
    return mean, means[20], means[379]


def compare_policies(
    circuit: Document,
    *,
    machines: int = 200,
    seed: int = 1,
    complaint: Optional[str] = None,
    flow_chart: Optional[Document] = None,
    economics: Optional["dict[str, Any]"] = None,
    priors: Optional[Document] = None,
    asset_class: str = "",
    progress: Optional[Callable[[int], Any]] = None,
) -> "dict[str, Any]":
    """Plays the advice, most likely part first, cheapest part first and a flow chart on ``machines`` machines
    that have a complaint, drawn from the circuit's own network; a "faultodds-policies/1" document. The same
    arguments give the same document. ``complaint``: only this symptom. ``flow_chart``: a
    "faultodds-flow-chart/1" document. ``economics``: as in a case. ``progress`` is given the number of machines
    played; returning False ends the run with those."""
    document = decoded(encoded(circuit))
    money = dict(economics or {})
    if machines < 2:
        _refuse("/machines", f"`machines` is {machines}; expected 2 or more")
    with Model(document, priors, asset_class=asset_class) as model:
        described = model.describe()
        network, prices = _Network(described), _Prices(document, _Network(described), money)
        if complaint is not None and complaint not in network.symptoms:
            known = ", ".join(network.symptoms)
            _refuse("/complaint", f"`complaint` is `{complaint}`; expected a symptom of the circuit: {known}")
        asked = _Asked(model, money)
        likeliest = _by(lambda job: sorted(asked.shares(job), key=lambda c: -asked.shares(job)[c]))
        cheapest = _by(lambda job: sorted(network.looked_at(job.complaint),
                                          key=lambda c: (prices.of[c][0] + prices.of[c][1], c)))
        policies: Dict[str, Policy] = {
            "advice": _advised(asked),
            "most likely part first": likeliest,
            "cheapest part first": cheapest,
        }
        if flow_chart is not None:
            policies["flow chart"] = _FlowChart(decoded(encoded(flow_chart)), network, likeliest)
        courses: Dict[str, List[_Course]] = {name: [] for name in policies}
        complaints: Dict[str, int] = {}
        tries = 0
        for k in range(machines):
            while True:
                tries += 1
                if tries > MOST_TRIES:
                    _refuse("/complaint", f"of {MOST_TRIES} machines only {k} had the complaint; expected one that is met "
                                          "more often")
                name = f"{seed}/{tries}"
                machine = _Machine(network, name, prices.e["bad_new_part"])
                shown = [(o, machine.look(o)) for o in ([complaint] if complaint else network.symptoms)]
                shown = [(o, i) for o, i in shown if i != network.observations[o]["outcomes"][0]]
                if shown:
                    break
            of, first = random.Random(f"{name}/complaint").choice(shown)
            complaints[of] = complaints.get(of, 0) + 1
            for policy, decide in policies.items():
                courses[policy].append(_play(network, prices, name, of, first, decide))
            if progress is not None and progress(k + 1) is False:
                break
    return _report(described, seed, complaints, courses, prices)


def _report(described: "dict[str, Any]", seed: int, complaints: Dict[str, int], courses: Dict[str, List[_Course]],
            prices: _Prices) -> "dict[str, Any]":
    rows = []
    base = courses["advice"]
    for name, list_ in courses.items():
        row: Dict[str, Any] = {"policy": name}
        for key in ("minutes", "cost", "parts", "wrong", "tests", "visits"):
            mean, low, high = _interval([float(getattr(c, key)) for c in list_], f"{seed}/{key}")
            row[key] = {"mean": mean, "low": low, "high": high}
        row["cured_first"] = sum(c.cured and c.visits == 1 for c in list_) / len(list_)
        row["given_up"] = sum(not c.cured for c in list_) / len(list_)
        mean, low, high = _interval([c.cost - b.cost for c, b in zip(list_, base)], f"{seed}/difference")
        row["dearer_than_advice"] = {"mean": mean, "low": low, "high": high}
        row["costs"] = sorted(c.cost for c in list_)
        rows.append(row)
    return {
        "format": "faultodds-policies/1",
        "circuit": described["circuit"],
        "title": described["title"],
        "seed": seed,
        "machines": len(base),
        "complaints": dict(sorted(complaints.items())),
        "currency": prices.e["currency"],
        "policies": rows,
        "cautions": described["cautions"],
    }
