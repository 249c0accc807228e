"""The ideal diagnosis: the world's own physics by particles. It knows the world's sizes, laws, loads
and mistakes as distributions, never the machine. What it does next is the action of least expected
cost, looking one test ahead and, for the most promising tests, two."""

import numpy as np

from hydraulics import ELSEWHERE
from world import ABANDONED, PER_MINUTE, SEARCH, SECOND_VISIT, Machines

AGAIN = 60.0      # tests of a second visit
FIRST_TESTS = 4   # after which a second test is looked at
MOST_AFTER, MOST_DECIDING = 8000, 3000  # particles kept after a repair, and that decide
MOST_REPAIRS = 40


class Population:
    """Machines that may be the one at hand, of one complaint and one list of parts renewed."""

    def __init__(self, bench, complaint, machines, weight, rng):
        self.bench, self.complaint, self.machines, self.weight, self.rng = bench, complaint, machines, weight, rng
        self.limit = bench.limits[complaint][0]
        self.effect = bench.effect(machines, complaint)
        self._likelihood, self.renewals = {}, {}
        self._repairs()

    def likelihood(self, o):
        if o not in self._likelihood:
            effect = self.effect if o == self.complaint else self.bench.effect(self.machines, o)
            self._likelihood[o] = self.bench.chances(o, effect)
        return self._likelihood[o]

    def _fine_after(self, components, rows):
        renewed = self.machines.take(rows).renewed(self.bench, set(components), self.rng)
        return self.bench.effect(renewed, self.complaint) <= self.limit

    def _repairs(self):
        bench, m = self.bench, self.machines
        fine = self.effect <= self.limit
        outside = [k for k, of in enumerate(bench.circuit.mode_component) if of == ELSEWHERE]
        rows = np.flatnonzero((m.leak[:, outside] > 0).any(1) & ~fine)
        searched = fine.copy()
        if len(rows):
            searched[rows] = self._fine_after([ELSEWHERE], rows)
        touched = {}
        for c in bench.component_ids():
            modes = [k for k, of in enumerate(bench.circuit.mode_component) if of == c]
            spool = any(bench.circuit.mode_law[k] == "gap" for k in modes)
            touched[c] = (m.leak[:, modes] > 0).any(1) | (spool & ~fine)
        repairs, cured = [()], [searched]
        for c, rows in touched.items():
            now = fine.copy()
            rows = np.flatnonzero(rows)
            if len(rows):
                now[rows] = self._fine_after([c], rows)
            if (self.weight * (now & ~fine)).sum() > 0.002 * self.weight.sum():
                repairs.append((c,))
                cured.append(now)
        one = np.any(cured, axis=0)
        pairs = []
        names = list(touched)
        for i, a in enumerate(names):
            for b in names[i + 1:]:
                rows = np.flatnonzero(~one & touched[a] & touched[b])
                gain = self.weight[rows].sum()
                if gain > 0.001 * self.weight.sum():
                    pairs.append((gain, a, b, rows))
        for _, a, b, rows in sorted(pairs, key=lambda p: -p[0])[:20]:
            now = fine.copy()
            for c in (a, b):
                if (c,) in repairs:
                    now |= cured[repairs.index((c,))]
            now[rows] = self._fine_after([a, b], rows)
            repairs.append((a, b))
            cured.append(now)
        # Any two parts that cure alone may be fitted together too.
        single = [r[0] for r in repairs if len(r) == 1]
        for i, a in enumerate(single):
            for b in single[i + 1:]:
                if (a, b) not in repairs and (b, a) not in repairs:
                    repairs.append((a, b))
                    cured.append(cured[repairs.index((a,))] | cured[repairs.index((b,))])
        cost = np.array([bench.repair_cost(r) for r in repairs])
        cured = np.array(cured)
        cost = np.repeat(cost[:, None], m.n, 1)
        cost[0] += SEARCH * ~fine
        fix = np.where(cured, cost, np.inf).min(0)
        fix = np.where(np.isfinite(fix), fix, ABANDONED + cost[1:].min())
        self.repairs, self.fine = repairs, fine
        self.cost = (cost + ~cured * (SECOND_VISIT + AGAIN + fix)[None, :]).T.copy()
        self.cured = cured

    def after(self, components, seed):
        """The population of machines that this repair did not cure, with new parts in; and which."""
        key = tuple(components)
        if key not in self.renewals:
            renewed = self.machines.renewed(self.bench, set(components), np.random.default_rng(seed))
            effect = self.bench.effect(renewed, self.complaint)
            rows = np.flatnonzero(effect > self.limit)
            if len(rows) < 20:  # what no particle explains: those nearest to it
                rows = np.argsort(-effect)[:200]
            if len(rows) > MOST_AFTER:
                rows = rows[np.argsort(-self.weight[rows])[:MOST_AFTER]]
            self.renewals[key] = rows, Population(self.bench, self.complaint, renewed.take(rows),
                                                  self.weight[rows], self.rng)
        return self.renewals[key]


def draw(bench, n, rng):
    """Populations by complaint; machines that are fine are thinned and weigh more."""
    pool = Machines(bench, n, rng)
    made = {}
    for complaint in bench.complaints:
        chance = 1 - bench.chances(complaint, bench.effect(pool, complaint))[:, 0]
        keep = (chance > 0.1) | (rng.random(n) < 0.1)
        weight = np.where(chance > 0.1, 1.0, 10.0)[keep]
        made[complaint] = Population(bench, complaint, pool.take(keep), weight, rng)
    return made


class Ideal:
    name = "ideal"

    def __init__(self, bench, populations):
        self.bench, self.populations, self.known = bench, populations, {}

    def decide(self, job):
        key = job.key()
        if key not in self.known:
            self.known[key] = self._decide(job)
        return self.known[key]

    def _weights(self, job):
        population = self.populations[job.complaint]
        w = population.weight.copy()
        for kind, what in job.events:
            if kind == "seen":
                w = w * population.likelihood(what[0])[:, what[1]]
            else:
                rows, after = population.after(what, 17)
                w, population = w[rows], after
        return population, w / max(w.sum(), 1e-300)

    def _decide(self, job):
        p, w = self._weights(job)
        rows = np.flatnonzero(w > 1e-7)
        if len(rows) > MOST_DECIDING:  # as many drawn of them, evenly by weight
            edges = np.cumsum(w[rows]) / w[rows].sum()
            rows = rows[np.searchsorted(edges, (np.arange(MOST_DECIDING) + 0.5) / MOST_DECIDING)]
            w = np.full(MOST_DECIDING, 1 / MOST_DECIDING)
        else:
            w = w[rows] / w[rows].sum()
        cost = p.cost[rows]
        keep = np.unique(np.argsort(w @ cost)[:MOST_REPAIRS])
        cost, repairs = cost[:, keep], [p.repairs[k] for k in keep]
        now = w @ cost
        best = now.min()
        tests = [o for o in self.bench.menu if o not in job.seen_since_repair() and o != job.complaint]
        if job.looks(job.complaint) < 2:
            tests.append(job.complaint)  # looked at by oneself
        price = np.array([PER_MINUTE * job.minutes_of(o) for o in tests])
        table = np.concatenate([p.likelihood(o)[rows] for o in tests], 1).T  # (tests * 3, machines)

        def ahead(weights):
            """Expected cost after each test."""
            return ((table * weights) @ cost).min(1).reshape(len(tests), 3).sum(1)

        one = ahead(w) + price
        entropy_gain = self._bits(p, rows, w, tests, cost)
        order = list(np.argsort(one)[:2]) + list(np.argsort(-entropy_gain / np.maximum(price, 1))[:3])
        value, choice = best, None
        for k in dict.fromkeys(order[:FIRST_TESTS + 1]):
            two = price[k]
            setup_done = set(self.bench.menu.get(tests[k], {"setup": {}})["setup"])
            later = np.array([PER_MINUTE * job.minutes_of(o, setup_done) for o in tests])
            later[k] = np.inf
            for o in range(3):
                weights = w * table[3 * k + o]
                total = weights.sum()
                two += min((weights @ cost).min(), (ahead(weights) + total * later).min())
            if two < value - 1e-9:
                value, choice = two, tests[k]
        if choice is None and one.min() < best:
            choice = tests[int(one.argmin())]
        if choice is not None:
            return "test", choice
        return "repair", list(repairs[int(now.argmin())])

    def _bits(self, p, rows, w, tests, cost):
        """Information about which repair cures, of each test."""
        cheapest = cost.argmin(1)
        bits = []
        for o in tests:
            joint = np.stack([np.bincount(cheapest, w * p.likelihood(o)[rows, i], cost.shape[1])
                              for i in range(3)])
            a, b = joint.sum(0), joint.sum(1)
            with np.errstate(divide="ignore", invalid="ignore"):
                term = joint * np.log2(joint / (b[:, None] * a))
            bits.append(np.nansum(term))
        return np.array(bits)


class MostLikelyFirst:
    """The suspect with the highest prior odds of having done it, then the next; no tests."""
    name = "most likely first"

    def __init__(self, bench, populations):
        self.bench, self.populations = bench, populations

    def decide(self, job):
        p = self.populations[job.complaint]
        done = {c for kind, what in job.events if kind == "renewed" for c in what}
        singles = [(-(p.weight * (p.cured[k] & ~p.fine)).sum(), r[0]) for k, r in enumerate(p.repairs)
                   if len(r) == 1 and r[0] not in done]
        return ("repair", [min(singles)[1]]) if singles else ("repair", [])
