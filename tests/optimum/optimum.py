"""The least expected cost of testing and then repairing on a small circuit, by dynamic programming over every
outcome of every test, and what following the engine's advice to the end costs. It shares no code with the engine:
the network is what `describe` lists, enumerated state by state; of the engine only the next test and the parts
to order are read.

The problem is the one that the advice states (capi/documents/README.md, `advice`): a test costs its minutes with the setup not yet
done; in the end a set of parts is replaced, and coming again costs a flat price where that does not cure the
complaint. The complaint may be looked at once more, any other test is made once. What a set shows in an observation
is drawn once: a second look sees the same."""

import itertools
from functools import lru_cache

import numpy as np

LOOKS = 2  # at the complaint
PRUNED = 1e-7  # probability of a branch that is not followed to the end; its share is counted as it is then


class Circuit:
    """Joint states of all modes and conditions that `describe` lists, with what every observation shows."""

    def __init__(self, described, document, complaint, economics):
        self.economics = economics
        modes = described["modes"]
        self.states = [m.get("states") or [{"grade": g, "share": 1.0} for g in range(3)] for m in modes]
        index = {m["mode"]: i for i, m in enumerate(modes)}
        observations = {o["observation"]: o for o in described["observations"]}
        self.complaint = complaint
        used = {index[m] for o in observations.values() for s in o["sets"] for m in s["modes"]}
        self.used = sorted(used)
        position = {m: k for k, m in enumerate(self.used)}
        axes = [range(len(self.states[m])) for m in self.used]
        joint = np.array(list(itertools.product(*axes)))
        weight = np.zeros(len(joint))
        conditions = described.get("conditions", [])
        for holds in itertools.product((0, 1), repeat=len(conditions)):
            p = np.ones(len(joint))
            factor = np.ones(len(modes))
            for on, condition in zip(holds, conditions):
                p *= condition["probability"] if on else 1 - condition["probability"]
                for name, f in condition["raises"].items():
                    factor[index[name]] *= f if on else 1
            for k, m in enumerate(self.used):
                prior = modes[m]["prior"]
                total = prior[0] + factor[m] * (prior[1] + prior[2])
                own = np.array([prior[s["grade"]] * (factor[m] if s["grade"] else 1) / total * s["share"]
                                for s in self.states[m]])
                p = p * own[joint[:, k]]
            weight += p
        keep = weight > 1e-13
        self.joint, self.prior = joint[keep], weight[keep]
        self.observations, self.index, self.position = observations, index, position
        self.component = [m["component"] for m in modes]
        self.parts = sorted({self.component[index[m]] for s in observations[complaint]["sets"] for m in s["modes"]})
        self.cost, self.new = self._costs(document), [self._new(c) for c in self.parts]

    def _shows(self, one):
        """P(the set shows more than limit t | states), t = 0 and 1."""
        rows = [self.joint[:, self.position[self.index[m]]] for m in one["modes"]]
        if "link" in one:
            result = np.zeros((2, len(self.joint)))
            for level, w in enumerate(one["link"]["weight"]):
                for t in (0, 1):
                    p = np.full(len(self.joint), w)
                    for i, row in enumerate(rows):
                        p = p * np.array(one["link"]["exceeds"][i][level][t])[row]
                    result[t] += p
            return result
        least = np.full(len(self.joint), 2)
        for m, row in zip(one["modes"], rows):
            grades = np.array([s["grade"] for s in self.states[self.index[m]]])
            least = np.minimum(least, grades[row])
        return np.array([(least > t) * one["probability"] for t in (0, 1)])

    def shown(self, o, without=(), with_background=True):
        """P(S = s | states), sets that hold one of those components left out."""
        at_most = np.ones((3, len(self.joint)))
        for one in self.observations[o]["sets"]:
            if any(self.component[self.index[m]] in without for m in one["modes"]):
                continue
            shows = self._shows(one)
            for t in (0, 1):
                at_most[t] *= 1 - shows[t]
        grades = np.array([at_most[0], at_most[1] - at_most[0], at_most[2] - at_most[1]])
        return self._larger(grades, self.observations[o]["background"]) if with_background else grades

    @staticmethod
    def _larger(grades, background):
        result = np.zeros_like(grades)
        for s in range(3):
            for b in range(3):
                result[max(s, b)] += grades[s] * background[b]
        return result

    def seen(self, o, outcomes):
        """P(these outcomes, one look after the other | states)."""
        matrix = np.array(self.observations[o]["matrix"])
        p = self.shown(o)
        return sum(p[s] * np.prod(matrix[s][list(outcomes)]) for s in range(3))

    def cured(self, outcomes, replaced):
        """P(these looks at the complaint, and it is cured once those parts are new | states)."""
        of = self.observations[self.complaint]
        matrix = np.array(of["matrix"])
        left, touched = np.ones(len(self.joint)), np.ones((3, len(self.joint)))
        for one in of["sets"]:
            shows = self._shows(one)
            if any(self.component[self.index[m]] in replaced for m in one["modes"]):
                for t in (0, 1):
                    touched[t] *= 1 - shows[t]
            else:
                left *= 1 - shows[0]
        grades = np.array([touched[0], touched[1] - touched[0], touched[2] - touched[1]])
        looked = sum(grades[s] * np.prod(matrix[s][list(outcomes)]) for s in range(3))
        good = np.prod([self.new[self.parts.index(c)] for c in replaced]) if replaced else 1.0
        return of["background"][0] * left * looked * good

    def _new(self, part):
        """P(a new part shows nothing in the complaint), its partners as large as they may be."""
        good = 1 - self.economics.get("bad_new_part", 0.01)
        for one in self.observations[self.complaint]["sets"]:
            own = [i for i, m in enumerate(one["modes"]) if self.component[self.index[m]] == part]
            if not own or "link" not in one:
                continue
            shows = 0
            for level, w in enumerate(one["link"]["weight"]):
                for i in own:
                    states = self.states[self.index[one["modes"][i]]]
                    sound = [(s["share"], e) for s, e in zip(states, one["link"]["exceeds"][i][level][0])
                             if s["grade"] == 0]
                    w = w * sum(a * b for a, b in sound) / sum(a for a, _ in sound)
                shows += w
            good *= 1 - shows
        return good

    def _costs(self, document):
        e, result = self.economics, {}
        minute = (e["labour_per_hour"] + e["downtime_per_hour"]) / 60
        of = {c["id"]: c for c in document["components"]}
        for part in self.parts:
            c = of[part]
            result[part] = (c.get("part_cost", e["part_cost"]) + c.get("minutes", e["repair_minutes"]) * minute,
                            c.get("lead_days", 0) * 8 * e["downtime_per_hour"])
        return result


class Problem:
    def __init__(self, circuit, tests, setup):
        """`tests`: those that may be made besides the complaint, each with its minutes and steps."""
        self.circuit, self.tests, self.setup = circuit, tests, setup
        self.minute = (circuit.economics["labour_per_hour"] + circuit.economics["downtime_per_hour"]) / 60
        self.come_back = circuit.economics["come_back"]
        parts = circuit.parts
        self.sets = [frozenset(c) for n in range(len(parts) + 1) for c in itertools.combinations(parts, n)]
        self.price = []
        for s in self.sets:
            waits = [circuit.cost[c][1] for c in s]
            self.price.append(sum(circuit.cost[c][0] for c in s) + max(waits, default=0))
        self.price = np.array(self.price)

    def outcomes(self, o):
        return range(len(self.circuit.observations[o]["outcomes"]))

    def _alike(self, first):
        """Rows of states that answer everything alike become one."""
        c, looks = self.circuit, [(first,)] + [(first, i) for i in self.outcomes(self.circuit.complaint)]
        columns = [c.prior * c.seen(c.complaint, look) for look in looks]
        cured = [[c.prior * c.cured(look, s) for s in self.sets] for look in looks]
        answers = {o: np.array([c.seen(o, (i,)) for i in self.outcomes(o)]) for o in self.tests}
        stacked = np.vstack([np.vstack(list(answers.values())) if answers else np.zeros((0, len(c.prior)))])
        _, inverse = np.unique(np.round(stacked, 12), axis=1, return_inverse=True)
        inverse = inverse.ravel()
        n = inverse.max() + 1
        gather = lambda x: np.bincount(inverse, weights=x, minlength=n)
        self.weight = [gather(x) for x in columns]  # by look
        self.cure = [np.array([gather(x) for x in rows]) for rows in cured]
        pick = np.array([np.flatnonzero(inverse == k)[0] for k in range(n)])
        self.answers = {o: a[:, pick] for o, a in answers.items()}
        total = self.weight[0].sum()
        self.weight = [x / total for x in self.weight]
        self.cure = [x / total for x in self.cure]

    def minutes(self, o, done):
        needed = self.setup.get(o, {})
        return self.tests.get(o, self.looks_take) + sum(m for s, m in needed.items() if s not in done)

    def begin(self, first, looks_take, done=frozenset()):
        self.looks_take, self.first, self.done = looks_take, first, frozenset(done)
        self._alike(first)

    def repair(self, factor, look):
        """Least cost of stopping here, and the set; times the probability of being here."""
        p = float(self.weight[look] @ factor)
        loss = self.price * p + self.come_back * (p - self.cure[look] @ factor)
        best = int(np.argmin(loss))
        return float(loss[best]), best

    def stop_with(self, factor, look, replaced):
        p = float(self.weight[look] @ factor)
        k = self.sets.index(frozenset(replaced))
        return float(self.price[k] * p + self.come_back * (p - self.cure[look][k] @ factor))

    def bound(self, factor, look):
        """Nothing can cost less: the best set for every state."""
        w = self.weight[look]
        each = self.price[:, None] * w + self.come_back * (w - self.cure[look])
        return float(each.min(axis=0) @ factor)

    def optimum(self):
        order = list(self.tests)
        known = {}

        def least(seen, look, done, factor):
            key = (tuple(sorted(seen.items())), look)
            if key in known:
                return known[key]
            best, _ = self.repair(factor, look)
            p = float(self.weight[look] @ factor)
            floor = self.bound(factor, look)
            if p > PRUNED:
                options = [(self.minutes(o, done), o) for o in order if o not in seen]
                if look == 0:
                    options.append((self.minutes(self.circuit.complaint, done), None))
                for minutes, o in sorted(options, key=lambda x: x[0]):
                    cost = minutes * self.minute * p
                    if cost + floor >= best:
                        continue
                    now = done | set(self.setup.get(o or self.circuit.complaint, {}))
                    for i in self.outcomes(o or self.circuit.complaint):
                        if cost >= best:
                            break
                        if o is None:
                            cost += least(seen, i + 1, now, factor)
                        else:
                            cost += least({**seen, o: i}, look, now, factor * self.answers[o][i])
                    best = min(best, cost)
            known[key] = best
            return best

        ones = np.ones(len(self.weight[0]))
        value = least({}, 0, self.done, ones)
        self.visited = len(known)
        return value

    def following(self, decide):
        """`decide(events)` says ("test", o) or ("repair", parts); events are (observation, outcome index)."""
        c = self.circuit
        self.decisions = 0

        def follow(events, done):
            lists = {}
            for o, i in events:
                lists.setdefault(o, []).append(i)
            weight = c.prior.copy()
            for o, looks in lists.items():
                weight = weight * c.seen(o, looks)
            p = weight.sum() / self.total
            self.decisions += 1
            kind, what = decide(events, done) if p > PRUNED else ("repair", None)
            if kind == "repair":
                if what is None:  # hardly ever reached: as the optimum would
                    return min(self._stop(lists, s) for s in self.sets)
                return self._stop(lists, frozenset(what))
            cost = self.minutes(what, done) * self.minute * p
            now = done | set(self.setup.get(what, {}))
            for i in self.outcomes(what):
                cost += follow(events + [(what, i)], now)
            return cost

        start = [(c.complaint, self.first)]
        self.total = (c.prior * c.seen(c.complaint, (self.first,))).sum()
        return follow(start, self.done)

    def _stop(self, lists, replaced):
        c = self.circuit
        others = c.prior.copy()
        for o, looks in lists.items():
            if o != c.complaint:
                others = others * c.seen(o, looks)
        p = (others * c.seen(c.complaint, lists[c.complaint])).sum() / self.total
        well = (others * c.cured(lists[c.complaint], replaced)).sum() / self.total
        waits = [c.cost[x][1] for x in replaced]
        price = sum(c.cost[x][0] for x in replaced) + max(waits, default=0)
        return price * p + self.come_back * (p - well)
