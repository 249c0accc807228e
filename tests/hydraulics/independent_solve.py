#!/usr/bin/env python3
"""The steady states of random flow circuits, found again by SciPy in another way, and compared.

    independent_solve.py PROGRAM [--count N] [--first N] [--peers DIRECTORY]

PROGRAM prints circuits with the solver's answers (solved_circuits.cpp). Nothing here is the solver's: the
volumes are springy and fill in time (dp/dt = flow in / stiffness, actuators with a little friction), from
all pressures 0, with SciPy's implicit BDF method, until nothing changes. What is then open, shut, linear
or at -1 bar is a *regime*, in which the equations are smooth: scipy.optimize.root ( with numpy's least squares solve them exactly, with pressures, speeds and what
volumes at -1 bar lack as unknowns. A regime counts only where its own inequalities hold in its solution;
else the elements that break them change over and it is solved again. Without pilots flows and speeds are
unique, so such a solution is the solution.

Compared to 1e-6 (relative, of at least 0.05 mL/min, 0.01 bar and 1e-5 cm/min): speeds, flows into held
ports, flows of all elements, and the pressures that are determined. A pressure floats where the regime's
equations leave it free. Ends with 1 where anything differs, with 77 where SciPy is not there.
"""
import argparse
import json
import math
import pathlib
import subprocess
import sys

ROUNDING = 0.1   # bar, below which an orifice is linear
OVERRIDE = 0.05  # of a pump's limit
VOID = -1.0      # bar
TOLERANCE = 1e-6
MOST_EVALUATIONS = 5000  # of the flows, in time; then on from where it is
LINEAR, ROOT, OPEN, WIDE, SHUT, FULL, LIMITED = range(7)


class TooStiff(Exception):
    pass


def find_scipy(peers):
    for folder in pathlib.Path(peers).glob("lib/python3*/site-packages") if peers else []:
        sys.path.insert(0, str(folder))
    try:
        import scipy  # noqa: F401
        return True
    except ImportError:
        return False


class Circuit:
    def __init__(self, document):
        self.held = document["held"]
        self.elements = document["elements"]
        self.actuators = document["actuators"]
        self.free = [v for v, p in enumerate(self.held) if p is None]
        self.place = {v: i for i, v in enumerate(self.free)}
        n, m = len(self.free), len(self.elements)
        # dp of elements = D p_free + d0; pilots' pressures = P p_free + p0
        self.D, self.d0 = np.zeros((m, n)), np.zeros(m)
        self.P, self.p0 = np.zeros((m, n)), np.zeros(m)
        for k, e in enumerate(self.elements):
            for v, sign in ((e["from"], 1.0), (e["to"], -1.0)):
                if self.held[v] is None:
                    self.D[k, self.place[v]] += sign
                else:
                    self.d0[k] += sign * self.held[v]
            if e["law"] == "one_way" and e["pilot"] >= 0:
                if self.held[e["pilot"]] is None:
                    self.P[k, self.place[e["pilot"]]] = 1.0
                else:
                    self.p0[k] = self.held[e["pilot"]]
        self.A, self.a0 = np.zeros((n, len(self.actuators))), np.zeros(len(self.actuators))
        for k, a in enumerate(self.actuators):
            for v, area in ((a["contracting"], a["area_contracting"]), (a["expanding"], -a["area_expanding"])):
                if v < 0:
                    continue
                if self.held[v] is None:
                    self.A[self.place[v], k] += area
                else:
                    self.a0[k] += area * self.held[v]
        self.F = np.array([a["force"] for a in self.actuators])
        self.c = np.array([e["c"] for e in self.elements])
        self.setting = np.array([e["setting"] for e in self.elements])
        self.ratio = np.array([e["ratio"] for e in self.elements])
        self.pumped = np.array([e["flow"] for e in self.elements])
        law = np.array([e["law"] for e in self.elements])
        self.laminar, self.orifice = law == "laminar", law == "orifice"
        self.one_way, self.pump = law == "one_way", law == "pump"

    # ---- the regime: a number for each element, and which free volumes stand at -1 bar
    def regime(self, p):
        dp = self.D @ p + self.d0
        pilot = self.ratio * (self.P @ p + self.p0)
        codes = np.full(len(dp), LINEAR)
        codes[self.orifice & (np.abs(dp) > ROUNDING)] = ROOT
        passes = dp > np.maximum(0.0, self.setting - pilot)
        codes[self.one_way] = np.where(passes, np.where(pilot < self.setting, OPEN, WIDE), SHUT)[self.one_way]
        codes[self.pump] = np.where(-dp <= self.setting, FULL,
                                    np.where(-dp < (1 + OVERRIDE) * self.setting, LIMITED, SHUT))[self.pump]
        return codes

    def flows(self, p, codes):
        """Flow of every element and its slopes over free pressures, in a regime."""
        dp = self.D @ p + self.d0
        pilot = self.ratio * (self.P @ p + self.p0)
        size = np.maximum(np.abs(dp), ROUNDING / 4)
        band = OVERRIDE * np.maximum(self.setting, 1e-9)
        c = np.where(self.orifice & (codes == LINEAR), self.c / math.sqrt(ROUNDING), self.c)
        q = np.select([codes == LINEAR, codes == ROOT, codes == OPEN, codes == WIDE, codes == FULL, codes == LIMITED],
                      [c * dp, np.copysign(c * np.sqrt(size), dp), c * (dp - self.setting + pilot), c * dp,
                       self.pumped, self.pumped * ((1 + OVERRIDE) * self.setting + dp) / band], 0.0)
        slope = np.select([(codes == LINEAR) | (codes == OPEN) | (codes == WIDE), codes == ROOT, codes == LIMITED],
                          [c, c / (2 * np.sqrt(size)), self.pumped / band], 0.0)
        by_pilot = np.where(codes == OPEN, c * self.ratio, 0.0)
        return q, slope[:, None] * self.D + by_pilot[:, None] * self.P

    # ---- in time, from all pressures 0
    def settle(self, until, accuracy):
        stiff = 1e9      # mL/min per bar of a void, while it is not known where
        friction = 1e-5  # bar cm2 per cm/min, times area squared over 1e3
        drag = np.array([friction * max(1.0, (col @ col) / 1e3) for col in self.A.T])
        count = len(self.free)

        def speed(p):
            return (self.A.T @ p + self.a0 - self.F) / drag

        evaluations = [0]

        def change(_, p):
            evaluations[0] += 1
            if evaluations[0] > MOST_EVALUATIONS:
                raise TooStiff(p)
            q, _ = self.flows(p, self.regime(p))
            return -(self.D.T @ q) - self.A @ speed(p) + stiff * np.maximum(0, VOID - p)

        def slopes(_, p):
            _, J = self.flows(p, self.regime(p))
            return -(self.D.T @ J) - self.A @ (self.A.T / drag[:, None]) - np.diag(stiff * (p < VOID))

        if count == 0:
            return np.zeros(0)
        try:
            return solve_ivp(change, (0, until), np.zeros(count), method="BDF", jac=slopes, rtol=accuracy,
                             atol=accuracy).y[:, -1]
        except TooStiff as so_far:
            return so_far.args[0]

    # ---- exactly, in a regime
    def exact(self, p, codes, void):
        count, movers = len(self.free), len(self.actuators)
        solid = np.array([i for i in range(count) if i not in void], dtype=int)
        hollow = np.array(sorted(void), dtype=int)

        def unpack(x):
            full = np.full(count, VOID)
            full[solid] = x[:len(solid)]
            return full, x[len(solid):len(solid) + movers], x[len(solid) + movers:]

        def amiss(x):
            full, v, lack = unpack(x)
            q, J = self.flows(full, codes)
            r = self.D.T @ q - self.A @ v
            r[hollow] -= lack
            balance = self.A.T @ full + self.a0 - self.F
            K = np.zeros((count + movers, len(x)))
            K[:count, :len(solid)] = (self.D.T @ J)[:, solid]
            K[:count, len(solid):len(solid) + movers] = -self.A
            K[hollow, len(solid) + movers + np.arange(len(hollow))] = -1
            K[count:, :len(solid)] = self.A.T[:, solid]
            return np.concatenate([r, balance]), K

        x = np.concatenate([p[solid], np.zeros(movers), np.zeros(len(hollow))])
        before = None
        for _ in range(60):
            r, K = amiss(x)
            rows = 1 / np.maximum(np.abs(K).max(axis=1), 1e-6)
            step = np.linalg.lstsq(K * rows[:, None], -r * rows, rcond=1e-13)[0]
            x = x + step
            size = np.abs(step).max(initial=0) / (1 + np.abs(x).max(initial=0))
            if size < 1e-15 or (before is not None and size < 1e-11 and size >= before):
                break
            before = size
        r, K = amiss(x)
        # A pressure is determined where no direction that the equations leave free moves it.
        rows = 1 / np.maximum(np.abs(K).max(axis=1), 1e-6)
        _, sing, Vt = np.linalg.svd(K * rows[:, None])
        rank = int((sing > 1e-12 * sing.max(initial=1)).sum())
        loose = np.abs(Vt[rank:]).max(axis=0, initial=0) > 1e-9
        full, v, lack = unpack(x)
        floats = np.zeros(count, dtype=bool)
        floats[solid] = loose[:len(solid)]
        return full, v, lack, floats, r

    def solve(self, start):
        p = start
        void = {i for i in range(len(p)) if p[i] < VOID + 1e-6}
        codes = self.regime(np.maximum(p, VOID))
        for _ in range(200):
            p, v, lack, floats, r = self.exact(p, codes, void)
            now = self.regime(p)
            dp = self.D @ p + self.d0
            wrong = []
            for k, (is_, was) in enumerate(zip(now, codes)):
                if is_ != was and not self.at_edge(k, p, dp[k]):
                    wrong.append(k)
            q, _ = self.flows(p, codes)
            scale = np.abs(self.D.T) @ np.abs(q) + 0.01
            hollow = sorted(void)
            fills = [i for j, i in enumerate(hollow) if lack[j] < -1e-7 * scale[i]]
            below = [i for i in range(len(p)) if i not in void and p[i] < VOID - 1e-9 and not floats[i]]
            if not wrong and not fills and not below:
                noise = 1e-11 * (np.abs(self.D.T) @ (self.c * (np.abs(self.D) @ np.abs(p) + 1)))
                if np.all(np.abs(r[:len(p)]) <= 1e-7 * scale + noise):
                    return p, v, floats, q
                return None
            # change over what is wrong, the worst first and one at a time when several are
            for k in wrong[:1] if len(wrong) + len(fills) + len(below) > 4 else wrong:
                codes[k] = now[k]
            void -= set(fills)
            void |= set(below[:1] if not wrong else [])
            p = np.maximum(p, VOID)
        return None

    def at_edge(self, k, p, dp):
        slack = 1e-9 * (1 + abs(dp) + np.abs(p).max(initial=0))
        if self.orifice[k]:
            return abs(abs(dp) - ROUNDING) < slack
        if self.one_way[k]:
            pilot = self.ratio[k] * (self.P[k] @ p + self.p0[k])
            return (abs(dp - max(0.0, self.setting[k] - pilot)) < slack + 1e-9 * abs(pilot)
                    or (self.ratio[k] > 0 and abs(pilot - self.setting[k]) < slack + 1e-9 * abs(pilot)))
        return min(abs(-dp - self.setting[k]), abs(-dp - (1 + OVERRIDE) * self.setting[k])) < slack


def close(mine, theirs, least, worst):
    difference = abs(mine - theirs) / max(abs(mine), abs(theirs), least)
    worst[0] = max(worst[0], difference)
    return difference <= TOLERANCE


def is_a_solution(circuit, line):
    """Whether the solver's answer satisfies the equations: where there is more than one steady state."""
    p = np.array([line["pressure"][v] for v in circuit.free])
    v = np.array(line["speed"])
    q, _ = circuit.flows(p, circuit.regime(p))
    r = circuit.D.T @ q - circuit.A @ v
    noise = 1e-6 * (np.abs(circuit.D.T) @ np.abs(q) + 0.01) + 1e-11 * (
        np.abs(circuit.D.T) @ (circuit.c * (np.abs(circuit.D) @ np.abs(p) + 1)))
    r = np.where(p <= VOID, np.minimum(r, 0), r)
    balance = circuit.A.T @ p + circuit.a0 - circuit.F
    return (np.all(np.abs(r) <= noise) and np.all(p >= VOID - 1e-9)
            and np.all(np.abs(balance) <= 1e-6 * (1 + np.abs(circuit.F))))


def compare(line, counts, worst):
    circuit = Circuit(line["circuit"])
    found = None
    for until, accuracy in ((1e3, 1e-3), (1e1, 1e-4), (1e4, 1e-5), (1e2, 1e-6), (1e6, 1e-7), (0, 0)):
        found = circuit.solve(circuit.settle(until, accuracy) if until else np.zeros(len(circuit.free)))
        if found is not None:
            break
    if found is None:
        counts["not solved here"] += 1
        return "SciPy found no steady state"
    p, v, floats, q = found
    if not line["solved"]:
        return "the solver found no steady state"
    problems = []
    for k, speed in enumerate(v):
        if not close(speed, line["speed"][k], 1e-5, worst):
            problems.append(f"speed {k}: {speed!r} and {line['speed'][k]!r}")
    for k, flow in enumerate(q):
        # What a passage carries is rounded with its pressures.
        rounding = 1e6 * 1e-15 * circuit.c[k] * np.abs(p).max(initial=1)
        if not close(flow, line["flow"][k], 0.05 + rounding, worst):
            problems.append(f"flow {k}: {flow!r} and {line['flow'][k]!r}")
    for i, volume in enumerate(circuit.free):
        counts["floating"] += bool(floats[i])
        counts["void"] += p[i] == VOID
        if not floats[i] and not close(p[i], line["pressure"][volume], 0.01, worst):
            problems.append(f"pressure {volume}: {p[i]!r} and {line['pressure'][volume]!r}")
    for volume, pressure in enumerate(circuit.held):
        if pressure is None:
            continue
        mine, rounding = 0.0, 0.0
        for k, e in enumerate(circuit.elements):
            sign = (e["from"] == volume) - (e["to"] == volume)
            mine += sign * q[k]
            if sign:
                rounding += 1e6 * 1e-15 * circuit.c[k] * np.abs(p).max(initial=1)
        counts["ports"] += 1
        if not close(mine, line["supply"][volume], 0.05 + rounding, worst):
            problems.append(f"port {volume}: {mine!r} and {line['supply'][volume]!r}")
    for code, e in zip(circuit.regime(p), circuit.elements):
        if e["law"] == "one_way":
            counts["open" if code != SHUT else "shut"] += 1
            counts["pilots"] += e["pilot"] >= 0
    counts["moving"] += sum(abs(speed) > 1e-6 for speed in v)
    if problems and any(e["pilot"] >= 0 for e in circuit.elements) and is_a_solution(circuit, line):
        counts["another steady state"] += 1
        return None
    return "; ".join(problems[:3]) or None


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--peers", default="")
    arguments = parser.parse_args()
    if not find_scipy(arguments.peers):
        print("SciPy is not there")
        return 77
    global np, solve_ivp
    import numpy as np
    from scipy.integrate import solve_ivp
    import collections
    lines = subprocess.run([arguments.program, str(arguments.count), str(arguments.first)], check=True,
                           capture_output=True, text=True).stdout.splitlines()
    counts, worst, failed = collections.Counter(), [0.0], 0
    for text in lines:
        line = json.loads(text)
        mine = [0.0]
        problem = compare(line, counts, mine)
        if problem:
            failed += 1
            print(f"circuit {line['number']}: {problem}", flush=True)
        elif mine[0] <= TOLERANCE:
            worst[0] = max(worst[0], mine[0])
    print(f"{len(lines)} circuits, {failed} differ, largest difference of those that agree {worst[0]:.2g}; "
          + ", ".join(f"{name}: {count}" for name, count in sorted(counts.items())))
    return 1 if failed or len(lines) != arguments.count else 0


if __name__ == "__main__":
    sys.exit(main())
