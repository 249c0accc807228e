"""The benchmark's own hydraulics against figures worked by hand and against SciPy's root finder."""

import math
import unittest

import numpy as np
from scipy.optimize import root

import circuits
from hydraulics import Circuit, Setup
from world import Bench, Machines

MENU = {"static/arm_section.a": {"minutes": 3, "setup": {}, "pressure": 110.0}}


def machine_with(bench, **leaks):
    one = Machines(bench, 1, np.random.default_rng(1))
    one.sound[:], one.leak[:], one.lands[:], one.nu_hot[:], one.nu_shop[:] = 1e-6, 0, 1, 46, 46
    for mode, size in leaks.items():
        one.leak[0, bench.circuit.mode_ids.index(mode.replace("__", "."))] = size
    one.load = {a: np.array([bar]) for a, (_, bar) in bench.subject.loads.items()}
    return one


class Arm(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(circuits.truck_arm(), 4.0, MENU)
        self.cap, self.rod = self.bench.circuit.areas("arm_cylinder")

    def drift(self, **leaks):
        return self.bench.effect(machine_with(self.bench, **leaks), "drift/arm_cylinder/retract")[0]

    def test_a_leaking_seat_lets_the_load_sink_by_its_flow_over_the_area(self):
        q = 100 * math.sqrt(110 / 100)  # orifice law at the load's 110 bar, other side drawn full
        self.assertAlmostEqual(self.drift(arm_lift_relief__seat_leak=100), 1000 * q / self.cap, delta=0.01 * 1000 * q / self.cap)

    def test_a_piston_seal_alone_holds_a_push_once_the_pressures_are_equal(self):
        # F / (cap - rod) = 348 bar on both sides lifts the lower relief of 140 bar, which passes it on.
        speed = self.drift(arm_cylinder__piston_seal_leak=100)
        low = 1000 * 100 * math.sqrt(0.5) / self.cap
        self.assertGreater(speed, low)
        press = Bench(circuits.press(), 4.0, {})
        self.assertGreater(press.effect(machine_with(press, press_cylinder__piston_seal_leak=100),
                                        "drift/press_cylinder/retract")[0], 1)

    def test_a_sound_valve_drifts_as_its_gaps_let_it(self):
        one = machine_with(self.bench)
        one.sound[0, self.bench.circuit.mode_ids.index("arm_section.spool_bore_wear")] = 4
        q = 4 * 1.1  # cap to tank; the other land leads to the blocked inlet behind the load check
        self.assertAlmostEqual(self.bench.effect(one, "drift/arm_cylinder/retract")[0], 1000 * q / self.cap, delta=0.6)

    def test_cold_oil_makes_a_gap_pass_less_and_a_seat_as_much(self):
        for mode, same in (("arm_section.spool_bore_wear", False), ("arm_lift_relief.seat_leak", True)):
            one = machine_with(self.bench)
            one.leak[0, self.bench.circuit.mode_ids.index(mode)] = 50
            warm = self.bench.effect(one, "static/arm_section.a")[0]
            one.nu_shop[:] = 138
            cold = self.bench.effect(one, "static/arm_section.a")[0]
            self.assertAlmostEqual(cold / warm, 1 if same else 1 / 3, delta=0.02)

    def test_ten_random_machines_stand_where_scipy_finds_them(self):
        setup = self.bench._setup("drift/arm_cylinder/retract")
        many = Machines(self.bench, 10, np.random.default_rng(4))
        many.leak[:, 3:9] += 20 * np.random.default_rng(6).random((10, 6))
        g = self.bench.conductance(many)
        force = many.load["arm_cylinder"] * self.cap
        p, v, _ = setup.solve(g, many.nu_hot, {}, ("arm_cylinder.cap", self.cap, "arm_cylinder.rod", self.rod, force))
        volumes = {setup.root(x) for _, _, a, b, *_ in self.bench.circuit.elements for x in (a, b)}
        unknown = [x for x in sorted(volumes) if x in (setup.root("arm_cylinder.cap"), setup.root("arm_cylinder.rod"),
                                                       setup.root("arm_section.p"))]
        compared = 0
        for i in range(10):
            def residual(x):
                at = dict(zip(unknown, x))
                pressure = lambda volume: at.get(setup.root(volume), 0.0)
                flow = dict.fromkeys(unknown, 0.0)
                for k in setup.elements:
                    name, kind, a, b, *_ = self.bench.circuit.elements[k]
                    d = pressure(a) - pressure(b)
                    q = g[i, k] * (d / 100 * 46 / many.nu_hot[i] if name in ("pa", "pb", "at", "bt", "gallery")
                                   else d / math.sqrt(100 * (abs(d) + 0.1)))
                    if kind == "check":
                        q += 2000 * max(d, 0)
                    if kind == "relief":
                        setting = float(self.bench.circuit.components[self.bench.circuit.elements[k][6]]["setting"].split()[0])
                        q += 40000 / (0.05 * setting) * max(d - setting, 0)
                    for volume, sign in ((a, 1), (b, -1)):
                        if setup.root(volume) in flow:
                            flow[setup.root(volume)] += sign * q
                for volume in unknown:
                    flow[volume] += 1e5 * min(at[volume] + 1, 0)
                flow[setup.root("arm_cylinder.cap")] -= self.cap * x[-1] / 1000
                flow[setup.root("arm_cylinder.rod")] += self.rod * x[-1] / 1000
                balance = pressure("arm_cylinder.cap") * self.cap - pressure("arm_cylinder.rod") * self.rod - force[i]
                return [flow[volume] for volume in unknown] + [balance / 1000]
            start = [float(p(volume)[i]) for volume in unknown] + [float(v[i])]
            found = root(residual, np.array(start) * 1.05 + 0.5, method="lm", tol=1e-12)
            self.assertLess(max(map(abs, residual(start))), 1e-4)
            if found.success and max(map(abs, residual(found.x))) < 1e-6:
                self.assertAlmostEqual(found.x[-1], v[i], delta=1e-4 * max(1, abs(v[i])))
                compared += 1
        self.assertGreaterEqual(compared, 7)


class Tests(unittest.TestCase):
    def test_outcomes_have_probabilities_that_sum_to_one_and_none_below_the_blunders(self):
        bench = Bench(circuits.truck_arm(), 4.0, MENU)
        for o in ("static/arm_section.a", "delivery/lift_arm"):
            p = bench.chances(o, np.array([1e-3, 0.5, 30.0]))
            self.assertTrue(np.allclose(p.sum(1), 1))
            self.assertGreaterEqual(p.min(), 0.0099)

    def test_the_cause_is_the_part_whose_leak_is_the_largest(self):
        bench = Bench(circuits.truck_arm(), 4.0, MENU)
        one = machine_with(bench, arm_lift_relief__seat_leak=400, arm_lift_makeup__seat_leak=20)
        self.assertEqual(bench.cause(one, "drift/arm_cylinder/retract"), frozenset(["arm_lift_relief"]))

    def test_within_the_makers_limit_nothing_is_the_cause(self):
        bench = Bench(circuits.truck_arm(), 4.0, MENU)
        self.assertEqual(bench.cause(machine_with(bench), "drift/arm_cylinder/retract"), "nothing")


if __name__ == "__main__":
    unittest.main()
