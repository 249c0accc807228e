"""A closed-loop drive: charge pump, flushing, cross-port reliefs. What shows in which direction is written out by hand, from what
such drives are known for (common practice, no source). Environment: FAULTODDS_CIRCUIT, FAULTODDS_PROJECT."""

import copy
import math
import os
import unittest

from measure import check, serious

import faultodds

COMMAND = os.environ["FAULTODDS_CIRCUIT"]
CHARGE, LOOP, CHARGE_BAR = 18, 110, 25  # L/min, L/min, bar


def drive():
    return {
        "format": "faultodds-circuit/1", "id": "drive", "title": "Closed-loop drive",
        "components": [
            {"id": "reservoir", "type": "tank"},
            {"id": "strainer", "type": "suction_strainer"},
            {"id": "charge_pump", "type": "fixed_pump", "displacement": "12 cm3/rev", "rated_flow": f"{CHARGE} L/min"},
            {"id": "charge_filter", "type": "pressure_filter"},
            {"id": "charge_relief", "type": "charge_relief", "setting": f"{CHARGE_BAR} bar"},
            {"id": "pump", "type": "closed_loop_pump", "displacement": "75 cm3/rev", "rated_flow": f"{LOOP} L/min"},
            {"id": "relief_a", "type": "relief_makeup", "setting": "380 bar"},
            {"id": "relief_b", "type": "relief_makeup", "setting": "380 bar"},
            {"id": "flushing", "type": "flushing_valve", "setting": "18 bar"},
            {"id": "motor", "type": "rotary_motor", "displacement": "75 cm3/rev", "rated_flow": f"{LOOP} L/min"},
            {"id": "hose_a", "type": "hose"}, {"id": "hose_b", "type": "hose"}],
        "connections": [
            {"from": "reservoir.suction", "to": "strainer.in"}, {"from": "strainer.out", "to": "charge_pump.in"},
            {"from": "charge_pump.out", "to": "charge_filter.in"}, {"from": "charge_filter.out", "to": "pump.charge"},
            {"from": "pump.charge", "to": "charge_relief.in"}, {"from": "charge_relief.out", "to": "reservoir.return"},
            {"from": "relief_a.port_side", "to": "pump.a"}, {"from": "relief_a.tank_side", "to": "pump.charge"},
            {"from": "relief_b.port_side", "to": "pump.b"}, {"from": "relief_b.tank_side", "to": "pump.charge"},
            {"from": "pump.a", "to": "hose_a.a", "line": "hose_a_at_pump"}, {"from": "hose_a.b", "to": "motor.a", "line": "hose_a_at_motor"},
            {"from": "pump.b", "to": "hose_b.a", "line": "hose_b_at_pump"}, {"from": "hose_b.b", "to": "motor.b", "line": "hose_b_at_motor"},
            {"from": "flushing.a", "to": "motor.a"}, {"from": "flushing.b", "to": "motor.b"},
            {"from": "flushing.out", "to": "reservoir.return"}],
        "functions": [
            {"id": "ahead", "title": "Driving ahead", "actuator": "motor", "direction": "forward",
             "positions": {"pump": "forward", "flushing": "forward"}, "source": "pump.a"},
            {"id": "astern", "title": "Driving back", "actuator": "motor", "direction": "reverse",
             "positions": {"pump": "reverse", "flushing": "reverse"}, "source": "pump.b"}],
    }


BOTH = {"pump.internal_wear", "pump.control_fault", "motor.internal_wear", "charge_pump.internal_wear", "charge_pump.starved",
        "strainer.clogged", "reservoir.breather_clogged", "charge_filter.clogged", "charge_filter.external_leak", "charge_relief.seat_leak", "flushing.seat_leak",
        "flushing.spool_sticks", "hose_a.external_leak", "hose_b.external_leak", "hose_a.collapsed", "hose_b.collapsed"}
OF_ONE = {"ahead": {"relief_a.relief_seat_leak", "relief_a.makeup_seat_leak"},
          "astern": {"relief_b.relief_seat_leak", "relief_b.makeup_seat_leak"}}


class ClosedLoop(unittest.TestCase):
    def setUp(self):
        self.model = faultodds.Model(drive())
        self.observations = {one["observation"]: one for one in self.model.describe()["observations"]}

    def tearDown(self):
        self.model.close()

    def sizes(self, observation, mode):
        return next(one["shown_from"][0]["size"] for one in self.observations[observation]["sets"] if one["modes"] == [mode])

    def test_nothing_about_its_lines_is_warned_of(self):
        self.assertEqual([one["message"] for one in serious(check(COMMAND, drive()))
                          if one["rule"] in ("closed_loop", "no_charge", "no_suction", "at_pump", "not_at_tank", "source", "no_return")], [])

    def test_each_direction_loses_by_its_own_cross_port_relief_and_both_by_what_takes_the_charge(self):
        for function, own in OF_ONE.items():
            sets = [one["modes"] for one in self.observations["delivery/" + function]["sets"]]
            self.assertEqual({one[0] for one in sets if len(one) == 1}, BOTH | own, function)

    def test_charge_lasts_until_hardly_any_of_its_pumps_flow_is_left(self):
        self.assertEqual(self.sizes("delivery/ahead", "charge_pump.internal_wear"), [70, 95])
        # 70 % of 18 L/min past a seat at 25 bar: 12,600 / sqrt(25 / 100).
        self.assertTrue(math.isclose(self.sizes("delivery/ahead", "charge_relief.seat_leak")[0], 25_200, rel_tol=1e-6))
        # The high side loses a tenth of 110 L/min at 150 bar.
        self.assertTrue(math.isclose(self.sizes("delivery/ahead", "relief_a.relief_seat_leak")[0], 11_000 / math.sqrt(1.5), rel_tol=1e-6))

    def test_no_pressure_is_what_both_directions_lose(self):
        modes = {one["modes"][0] for one in self.observations["no_pressure/pump"]["sets"] if len(one["modes"]) == 1}
        self.assertIn("charge_relief.seat_leak", modes)
        self.assertIn("charge_pump.internal_wear", modes)
        self.assertFalse(modes & {mode for own in OF_ONE.values() for mode in own})

    def test_what_is_slow_one_way_is_its_relief_and_what_is_slow_both_ways_is_not(self):
        def shares(*seen):
            case = {"format": "faultodds-case/1", "observations": [
                {"observation": "delivery/" + function, "outcome": outcome, "at": str(i)} for i, (function, outcome) in enumerate(seen)]}
            found = {}
            for one in self.model.assess(case)["causes"][0]["shares"]:
                found[one["components"][0]] = found.get(one["components"][0], 0) + one["probability"]
            return found

        one_way, both = shares(("ahead", "slow"), ("astern", "normal")), shares(("ahead", "slow"), ("astern", "slow"))
        self.assertGreater(one_way.get("relief_a", 0), 5 * both.get("relief_a", 0))
        self.assertGreater(both.get("pump", 0) + both.get("motor", 0), 0.4)
        self.assertGreater(both.get("strainer", 0) + both.get("charge_pump", 0) + both.get("charge_relief", 0), 0)

    def test_a_loop_that_nothing_fills_is_said(self):
        doc = copy.deepcopy(drive())
        doc["connections"] = [one for one in doc["connections"] if one["from"] != "charge_filter.out"]
        self.assertIn("no_charge", [one["rule"] for one in serious(check(COMMAND, doc))])


if __name__ == "__main__":
    unittest.main()
