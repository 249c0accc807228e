"""What a competent mechanic concludes, as tests of the engine with effects solved from sizes: each on the
smallest circuit that shows it, with the reason in a sentence. Expectations are trade reasoning, written before
the engine was asked; figures are loose where the trade's are."""

import math
import unittest

import faultodds

from circuits import POPPET, circuit, cylinder, held, lifting, part, regenerating

DRIFT, HOLD = "drift/cylinder/retract", "static/section.a"
EQUAL = [0.95, 0.03, 0.02]


def seen(observation, outcome=None, **more):
    """An outcome, or a reading in its keys; `at` and `again` are of the entry."""
    entry = {"observation": observation, **{k: more.pop(k) for k in ("at", "again") if k in more}}
    entry.update({"outcome": outcome} if outcome else {"reading": more})
    return entry


class Answer:
    def __init__(self, of, *observations, **case):
        self.all = faultodds.assess(of, {"format": "faultodds-case/1", "detail": "full", "observations": list(observations), **case})

    def bad(self, mode):
        """P(worn or failed)."""
        return next(1 - fault["grades"][0] for fault in self.all["faults"] if fault["mode"] == mode)

    def cause(self, *components):
        """P(exactly these together are the cause of the complaint)."""
        shares = self.all["causes"][0]["shares"]
        return sum(s["probability"] for s in shares if sorted(s["components"]) == sorted(components))

    def involves(self, component):
        return sum(s["probability"] for s in self.all["causes"][0]["shares"] if component in s["components"])

    def __getattr__(self, name):
        if name in ("by_design", "elsewhere", "nothing"):
            return self.all["causes"][0][name]
        return self.all[name]

    def place(self, observation):
        """Where a test stands among those offered."""
        return [test["observation"] for test in self.tests].index(observation)


def odds(p):
    return p / (1 - p)


def apart(one, other):
    """How many times one probability's odds are the other's, at least 1."""
    return math.exp(abs(math.log(odds(one) / odds(other))))


class Structure(unittest.TestCase):
    def test_a_leaking_piston_lifts_a_sound_relief_on_the_closed_rod_side(self):
        """Both chambers stand at 100 bar x 80^2 / 45^2 = 316 bar: above 140 bar the sound relief lets the load
        down, below 480 bar it does not, with a spool that leaks next to nothing."""
        low, high = (Answer(held(cap=480, rod=setting, section=POPPET), seen(DRIFT, "slow"))
                     for setting in (140, 480))
        self.assertGreater(low.cause("cylinder"), 0.15)
        self.assertGreater(low.cause("cylinder"), 4 * high.cause("cylinder"))

    def test_the_side_that_holds_the_load_is_looked_at_first(self):
        """A retracting rod needs oil out of the cap side; a rod side that leaks alone lets nothing down."""
        it = Answer(held(rod=210), seen(DRIFT, "slow"))
        self.assertGreater(it.cause("cap_relief"), 20 * it.cause("rod_relief"))
        self.assertLess(it.place("static/section.a"), it.place("static/section.b"))

    def test_reliefs_come_before_spools(self):
        """A relief leaks on dirt any day, a spool wears in years, and the cartridge is out in minutes."""
        it = Answer(held(), seen(DRIFT, "slow"))
        self.assertGreater(it.cause("cap_relief"), 2 * it.cause("section"))

    def test_a_pulling_load_sinks_through_the_piston_seal_alone(self):
        """Held on the rod side, the oil goes to the larger cap side, which never fills."""
        it = Answer(held(cap=None, actuator=cylinder(direction="extend")), seen("drift/cylinder/extend", "slow"))
        self.assertGreater(it.cause("cylinder"), 0.4)

    def test_a_load_that_pulls_only_lets_the_rod_out(self):
        """Nothing drives the rod in: there is no drift to be explained, or no part of the circuit explains it."""
        of = held(actuator=cylinder(direction="extend"))
        with faultodds.Model(of) as model:
            drifts = [o["observation"] for o in model.describe()["observations"] if o["kind"] == "drift"]
        self.assertIn("drift/cylinder/extend", drifts)
        if DRIFT in drifts:
            it = Answer(of, seen(DRIFT, "slow"))
            self.assertGreater(it.elsewhere + it.nothing, 0.95)

    def test_a_double_rod_cylinder_needs_no_partner_to_sink(self):
        """Both sides have one area: what crosses the piston lets the load down with every port shut."""
        actuator = part("cylinder", "double_rod_cylinder", bore="80 mm", rod="45 mm",
                        load={"pressure": "100 bar", "direction": "left"})
        it = Answer(held(actuator=actuator, ports=("left", "right"), rod=400), seen("drift/cylinder/left", "slow"))
        self.assertGreater(it.cause("cylinder"), 0.2)
        self.assertLess(it.cause("cylinder", "rod_relief"), 0.02)

    def test_both_chambers_shut_tight_hold_with_any_piston_seal(self):
        """Oil has nowhere to go, so the load stands on its rod's area: that it stands says nothing of the seal."""
        of = held(cap=None)
        of["components"] += [part("cap_lock", "pilot_operated_check"), part("rod_lock", "pilot_operated_check")]
        of["connections"] = [{"from": a, "to": b} for a, b in (
            ("section.t", "tank"), ("section.a", "cap_lock.valve"), ("section.b", "rod_lock.valve"),
            ("cap_lock.pilot", "section.b"), ("rod_lock.pilot", "section.a"),
            ("cap_lock.load", "cylinder.cap"), ("rod_lock.load", "cylinder.rod"))]
        before, after = Answer(of), Answer(of, seen(DRIFT, "none"))
        mode = "cylinder.piston_seal_leak"
        self.assertGreater(after.bad(mode), 0.85 * before.bad(mode))

    def test_a_valve_that_holds_the_load_clears_the_spool_before_it(self):
        """A counterbalance valve on the cylinder holds whatever the spool leaks, its pilot drained in neutral; what
        is left is its seat, and the piston seal to the drained side."""
        of = held(cap=None, kind="closed_centre_drained_section")
        of["components"].append(part("lock", "counterbalance_valve", setting="240 bar", ratio=4))
        of["connections"][1:2] = [{"from": a, "to": b} for a, b in (
            ("section.a", "lock.valve"), ("lock.load", "cylinder.cap"), ("lock.pilot", "section.b"))]
        it = Answer(of, seen(DRIFT, "slow"))
        self.assertGreater(it.cause("lock"), 0.15)
        self.assertLess(it.cause("section"), it.cause("lock") / 20)

    def test_oil_outside_names_what_leaks_outside(self):
        """A wet rod or hose is where the oil went; a relief leaks inside and leaves all dry."""
        of = held()
        of["components"].append(part("cap_tube", "hose"))
        of["connections"][1:2] = [{"from": "section.a", "to": "cap_tube.a", "line": "cap_hose"},
                                  {"from": "cap_tube.b", "to": "cylinder.cap", "line": "cap_end"}]
        wet, dry = (Answer(of, seen(DRIFT, "slow", at="1"), seen("look/cylinder", word, at="2"))
                    for word in ("drips", "dry"))
        self.assertGreater(wet.cause("cap_tube"), 0.6)
        self.assertGreater(dry.cause("cap_relief"), 3 * dry.cause("cap_tube"))

    def test_a_relief_that_passes_is_hot(self):
        """A litre a minute at 150 bar is 250 W in a valve of a pound; a sound one is as warm as what it sits in. And a
        thermometer opens no line."""
        hot, normal, before = (Answer(lifting(), seen("delivery/raise", "slow", at="1"), *more).cause("main_relief")
                               for more in ([seen("temperature/main_relief", "hot", at="2")],
                                            [seen("temperature/main_relief", "normal", at="2")], []))
        self.assertGreater(odds(hot), 5 * odds(before))
        self.assertLess(odds(normal), odds(before) / 5)

    def test_what_opens_nothing_comes_before_an_opened_line_that_tells_no_more(self):
        """Three minutes with a lamp before half an hour with spanners."""
        of = held()
        of["components"].append(part("cap_tube", "hose"))
        of["connections"][1:2] = [{"from": "section.a", "to": "cap_tube.a", "line": "cap_hose"},
                                  {"from": "cap_tube.b", "to": "cylinder.cap", "line": "cap_end"}]
        it = Answer(of, seen(DRIFT, "slow"))
        self.assertLess(it.place("look/cylinder"), it.place("static/cap_tube.a"))


class Delivery(unittest.TestCase):
    def test_a_starved_pump_is_slow(self):
        """A choked strainer takes the pump's flow; a pump that gives its flow has one that is clean."""
        of = lifting(between=[("strainer", "suction_strainer", "in", "out")])
        low = Answer(of, seen("delivery/raise", "slow", at="1"), seen("flow/pump", "low", at="2"))
        full = Answer(of, seen("delivery/raise", "slow", at="1"), seen("flow/pump", "normal", at="2"))
        self.assertGreater(low.cause("strainer"), 0.1)
        self.assertGreater(low.cause("strainer"), 4 * full.cause("strainer"))

    def test_a_filter_with_a_bypass_stops_no_function(self):
        """A clogged element opens the bypass at 1.7 bar: the function goes on."""
        it = Answer(lifting(filtered=True), seen("delivery/raise", "stalled"))
        self.assertLess(it.involves("filter"), 0.005)

    def test_a_load_that_dips_as_lifting_begins_has_a_leaking_load_check(self):
        """The valve opens before the pump has the load's pressure, and only the check is in the oil's way back."""
        of = lifting(checked=True)
        it = Answer(of, seen("dip/raise", "dips", at="1"), seen(DRIFT, "none", at="2"))
        self.assertGreater(it.cause("load_check"), 0.4)
        self.assertEqual(["load_check"], it.causes[0]["shares"][0]["components"])
        full = Answer(of, seen("delivery/raise", "normal"))
        self.assertGreater(full.bad("load_check.seat_leak"), 0.9 * Answer(of).bad("load_check.seat_leak"))

    def test_regeneration_moves_like_any_function_and_its_check_can_stop_it(self):
        """Extending, the rod side's oil must go through the check: stuck, the rod stands."""
        it = Answer(regenerating(), seen("delivery/raise", "stalled"))
        self.assertGreater(it.cause("section"), 0.02)
        clean = Answer(regenerating(), seen("delivery/raise", "normal"))
        self.assertLess(clean.bad("section.check_stuck"), 0.02)

    def test_a_small_seat_leak_is_not_cleared_by_full_speed(self):
        """30 mL/min of 65 L/min is a two-thousandth: nobody sees it in the lifting."""
        of = lifting()
        alone = Answer(of, seen(DRIFT, "slow"))
        lifted = Answer(of, seen(DRIFT, "slow"), seen("delivery/raise", "normal"))
        self.assertGreater(lifted.cause("cap_relief"), 0.9 * alone.cause("cap_relief"))

    def test_a_meter_is_no_better_than_its_error(self):
        """1.5 % below rated flow is within what a shop meter tells: the pump passes."""
        of = lifting()
        it = Answer(of, seen("flow/pump", flow="64 L/min"))
        word = Answer(of, seen("flow/pump", "normal"))
        self.assertLess(it.bad("pump.internal_wear"), Answer(of).bad("pump.internal_wear"))
        self.assertLess(apart(it.bad("pump.internal_wear"), word.bad("pump.internal_wear")), 2)

    def test_a_litre_in_a_thousand_thousand_changes_nothing(self):
        """65.0 and 64.999 L/min are one reading."""
        one, other = (Answer(lifting(), seen("flow/pump", flow=f)).bad("pump.internal_wear")
                      for f in ("65.0 L/min", "64.999 L/min"))
        self.assertLess(apart(one, other), 1.01)

    def test_flow_meters_are_for_pumps_and_motors(self):
        """Leaks of cylinders and valves are drops beside a meter's range, and its hoses are a risk."""
        of = lifting()
        of["components"].append(part("motor", "rotary_motor", displacement="100 cm3/rev", rated_flow="65 L/min"))
        of["connections"] += [{"from": "motor.a", "to": "tank", "line": "motor_a"},
                              {"from": "motor.b", "to": "tank", "line": "motor_b"}]
        with faultodds.Model(of) as model:
            flows = {o["observation"] for o in model.describe()["observations"] if o["kind"] == "flow"}
        self.assertTrue(flows <= {"flow/pump", "flow/motor"}, flows)
        self.assertIn("flow/pump", flows)


class Holds(unittest.TestCase):
    def test_a_finding_is_one_by_word_and_by_number(self):
        """A bar in a minute of half a litre of hose and pump is what people call held."""
        of = held()
        word = Answer(of, seen(HOLD, "held")).bad("cap_relief.seat_leak")
        number = Answer(of, seen(HOLD, pressure_drop="1 bar", time="1 min", volume="0.5 L")).bad("cap_relief.seat_leak")
        self.assertLess(apart(word, number), 2)

    def test_held_clears_but_never_proves(self):
        """One gauge, one person, one minute: a relief that held is hardly the cause, and yet may be."""
        of = held()
        before, after = Answer(of), Answer(of, seen(HOLD, "held"))
        self.assertLess(after.bad("cap_relief.seat_leak"), before.bad("cap_relief.seat_leak") / 2)
        self.assertGreater(after.bad("cap_relief.seat_leak"), before.bad("cap_relief.seat_leak") / 200)

    def test_nothing_seen_at_all_proves_no_relief_sound(self):
        """No instrument of the trade resolves 0.001 mL/min: it is another way to say held."""
        of = held()
        word = Answer(of, seen(HOLD, "held")).bad("cap_relief.seat_leak")
        less = Answer(of, seen(HOLD, below="0.001 mL/min")).bad("cap_relief.seat_leak")
        self.assertLess(apart(word, less), 4)

    def test_less_leak_never_makes_a_leak_likelier(self):
        """From a drop a minute to a stream, each larger reading speaks more for the relief."""
        chances = [Answer(held(), seen(HOLD, leak_rate=f"{10 ** (k / 2)} mL/min")).bad("cap_relief.seat_leak")
                   for k in range(-4, 8)]
        for less, more in zip(chances, chances[1:]):
            self.assertLessEqual(less, more * (1 + 1e-9))
        self.assertGreater(chances[-1], 20 * chances[0])

    def test_a_bar_more_after_two_kelvin_of_cooling_is_the_same_finding(self):
        """Thermometers are half a kelvin out, which is bars: 20 and 21 are both cooling."""
        def bled(drop):
            return Answer(held(), seen(HOLD, pressure_drop=drop, time="1 min", volume="0.3 L", temperature_start="32 degC",
                                       temperature_end="30 degC")).bad("cap_relief.seat_leak")
        self.assertLess(apart(bled("20 bar"), bled("21 bar")), 1.5)

    def test_the_part_that_is_plugged_off_is_the_one(self):
        """It bled with the relief in and holds with its cavity plugged."""
        it = Answer(held(), seen(DRIFT, "slow", at="1"), seen(HOLD, "bled_down", at="2"),
                    seen(HOLD + "/plugged/cap_relief", "held", at="3"))
        self.assertGreater(it.cause("cap_relief"), 0.75)
        self.assertGreater(it.cause("cap_relief"), 8 * max(it.cause("cylinder"), it.cause("section"), it.elsewhere))

    def test_cold_oil_clears_a_seat_sooner_than_a_spool(self):
        """Cold oil is five times as thick: a gap passes a fifth of what it does hot, a seat as much."""
        sizes = {"sound": {"median": "0.3 mL/min", "spread": 1}, "worn": {"median": "30 mL/min", "spread": 1},
                 "failed": {"median": "300 mL/min", "spread": 1}}
        of = held(section={"priors": {"spool_bore_wear": EQUAL}, "sizes": {"spool_bore_wear": {"law": "laminar", **sizes}}},
                  cap_more={"priors": {"seat_leak": EQUAL}, "sizes": {"seat_leak": {"law": "orifice", **sizes}}})
        it = Answer(of, seen(HOLD, "held"))
        self.assertGreater(it.bad("section.spool_bore_wear"), 1.2 * it.bad("cap_relief.seat_leak"))
        sinks = Answer(of, seen(DRIFT, "slow", at="1"), seen(HOLD, "held", at="2"))
        self.assertGreater(sinks.cause("section"), sinks.cause("cap_relief"))

    def test_an_accumulator_on_the_port_does_not_make_it_tight(self):
        """Its gas feeds a leak for minutes: the gauge stands, and says little."""
        of = held()
        of["components"].append(part("store", "accumulator", volume="2 L"))
        of["connections"].append({"from": "section.a", "to": "store.port"})
        plain, stored = (Answer(c, seen(HOLD, "held")).bad("cap_relief.seat_leak") for c in (held(), of))
        self.assertGreater(stored, 1.5 * plain)
        # 5 bar in a minute out of hose and pump is nothing; out of 2 L of gas it is a stream.
        fell = {"pressure_drop": "5 bar", "time": "1 min", "volume": "0.3 L", "pressure": "160 bar"}
        plain, stored = (Answer(c, seen(HOLD, **fell)).bad("cap_relief.seat_leak") for c in (held(), of))
        self.assertGreater(stored, 3 * plain)

    def test_a_hold_said_again_shares_its_leak(self):
        """A seat near the limit that held once is the same seat the second time: that tells less than the first."""
        of = held(cap_more={"priors": {"seat_leak": [0.9, 0.1, 0]}, "sizes": {"seat_leak": {
            "law": "orifice", "sound": {"median": "0.3 mL/min", "spread": 1}, "worn": {"median": "10 mL/min", "spread": 1},
            "failed": {"median": "1 L/min", "spread": 1}}}})
        none, once, twice = (Answer(of, *[seen(HOLD, "held", again=True)] * n).bad("cap_relief.seat_leak")
                             for n in (0, 1, 2))
        self.assertLessEqual(twice, once)
        self.assertLess(math.log(odds(once) / odds(twice)), 0.6 * math.log(odds(none) / odds(once)))


class Sizes(unittest.TestCase):
    def test_one_leak_sinks_a_small_bore_and_not_a_large_one(self):
        """4 mL/min is 2 mm/min of a 50 mm bore and a tenth of one at 200 mm: only the small one sinks by a sound
        spool."""
        small, large = (Answer(held(actuator=cylinder(bore=bore, rod=bore * 0.56), section={}), seen(DRIFT, "slow"))
                        for bore in (50, 200))
        self.assertGreater(small.by_design, 4 * large.by_design)

    def test_a_fast_drift_is_a_large_leak(self):
        """Ten times the maker's limit is no worn seat."""
        slow, fast = (Answer(held(), seen(DRIFT, word)) for word in ("slow", "fast"))

        def failed(it):
            grades = next(f["grades"] for f in it.faults if f["mode"] == "cap_relief.seat_leak")
            return grades[2] / grades[1]
        self.assertGreater(failed(fast), 3 * failed(slow))

    def test_half_the_makers_drift_orders_nothing(self):
        """The maker allows 4 mm/min: at 2 the machine is as it should be."""
        it = Answer(held(drift_limit="4 mm/min"), seen(DRIFT, speed="2 mm/min"), focus=DRIFT)
        self.assertEqual([], (it.all.get("advice") or {}).get("repair", {}).get("components", []))

    def test_a_drift_in_numbers_is_a_drift_in_words(self):
        """20 mm in 2 minutes is over the limit of 4 mm/min and far from ten times it: slow."""
        word = Answer(held(), seen(DRIFT, "slow"))
        number = Answer(held(), seen(DRIFT, distance="20 mm", time="2 min"))
        self.assertLess(apart(word.cause("cap_relief"), number.cause("cap_relief")), 2)


class Work(unittest.TestCase):
    def test_all_else_is_run_down_before_the_order_goes_out(self):
        """The relief is sure; before ten days' wait for it the section's other port is held too."""
        it = Answer(held(rod=210), seen(DRIFT, "slow", at="1"), seen(HOLD, "bled_down", at="2"),
                    seen(HOLD + "/plugged/cap_relief", "held", at="3"))
        second = it.advice["second_fault"]
        self.assertTrue(second["reached"] or second["checks"], second)
        self.assertEqual(["cap_relief"], it.advice["repair"]["components"])

    def test_what_contradicts_the_rest_is_looked_at_again_before_anything_is_ordered(self):
        """The load sinks, and with the relief's cavity plugged the port still bleeds down: then it cannot have held
        with the relief in. One of the two was read wrong, or on the wrong port."""
        def it(first, *more):
            return Answer(held(), seen(DRIFT, "fast", at="1"), seen(HOLD, first, at="2"),
                          seen(HOLD + "/plugged/cap_relief", "would_not_build", at="3"), *more)
        doubtful = it("held").advice["contradiction"]
        self.assertIn(doubtful["observation"], (HOLD, HOLD + "/plugged/cap_relief"))
        self.assertIn("Look again at", it("held").advice["reason"])
        self.assertEqual([], it("held").advice["repair"]["components"])
        self.assertNotIn("contradiction", it("would_not_build").advice)
        looked = it("held", seen(doubtful["observation"], "held", at="4", again=True)).advice
        self.assertNotEqual(doubtful["observation"], looked.get("contradiction", {}).get("observation"))

    def test_a_test_that_is_made_again_says_what_there_is_to_do_before_it(self):
        """Whoever takes the line off a second time locks out a second time."""
        left = {o: "no room" for o in ("static/section.b", "static/cylinder.cap", "static/cylinder.rod",
                                       "temperature/cap_relief", "look/cylinder")}
        it = Answer(held(), seen(DRIFT, "fast", at="1"), seen(DRIFT, "fast", at="2"), seen(HOLD, "held", at="3"),
                    seen(HOLD + "/plugged/cap_relief", "would_not_build", at="4"), economics={"come_back": 5000},
                    not_possible=[{"observation": o, "reason": why} for o, why in left.items()])
        again = it.tests[0]
        self.assertEqual(it.advice["contradiction"]["observation"], again["observation"])
        self.assertTrue(again["again"])
        self.assertTrue(again["cautions"])
        self.assertIn("lockout", [step["id"] for step in again["setup"]])
        self.assertEqual([], it.advice["repair"]["components"])

    def test_a_rod_that_creeps_out_is_looked_for_on_the_rod_side_first(self):
        """The side opposite to the drift holds the load: extending, oil leaves the rod side."""
        of = held(cap=210, rod=210, actuator=cylinder(direction="extend"))
        it = Answer(of, seen("drift/cylinder/extend", "slow"))
        self.assertGreater(it.cause("rod_relief"), 20 * it.cause("cap_relief"))
        self.assertLess(it.place("static/section.b"), it.place("static/section.a"))
        looked = Answer(of, seen("drift/cylinder/extend", "slow", at="1"), seen("drift/cylinder/extend", "slow", at="2"))
        self.assertIn(looked.advice["test"], ("static/section.b", "static/cylinder.rod"))

    def test_the_relief_is_plugged_off_before_a_spool_is_ordered(self):
        """The port bled down: the cartridge is out in minutes, the section is a day's work and dear."""
        of = held()
        of["components"][0].update(part_cost=1500, minutes=240)
        with faultodds.Model(of) as model:
            plan = model.plan({"format": "faultodds-case/1", "economics": {"come_back": 3000}, "observations": [
                seen(DRIFT, "slow", at="1"), seen(DRIFT, "slow", at="2"), seen(HOLD, "bled_down", at="3")]})
        plugged, ordered = HOLD + "/plugged/cap_relief", []

        def walk(node, made):
            if "replace" in node and "section" in node["replace"]["components"]:
                ordered.append(made)
            for branch in node.get("branches", []):
                if branch["then"]:
                    walk(branch["then"], {**made, node["test"]: branch["outcome"]})
        walk(plan["tree"], {})
        self.assertTrue(ordered)
        for made in ordered:
            self.assertIn(made.get(plugged), ("bled_down", "would_not_build"), made)

    def test_before_an_order_goes_out_what_else_could_be_is_run_down(self):
        """The relief is as good as sure. Before a week's wait the cylinder and the other port are held as well, and none
        of those checks looks at the relief again."""
        of = held(rod=210, cap_more={"priors": {"seat_leak": [0.5, 0.3, 0.2]}, "lead_days": 7})
        it = Answer(of, seen(DRIFT, "slow", at="1"), seen(DRIFT, "slow", at="2"), seen(HOLD, "bled_down", at="3"),
                    seen(HOLD + "/plugged/cap_relief", "held", at="4"),
                    economics={"second_fault_target": 0.001, "labour_per_hour": 600, "downtime_per_hour": 0, "come_back": 2500})
        self.assertTrue(it.advice["stop"])
        self.assertEqual(["cap_relief"], it.advice["repair"]["components"])
        checks = [c["observation"] for c in it.advice["second_fault"]["checks"]]
        self.assertTrue(checks)
        self.assertNotIn(HOLD, checks)
        self.assertNotIn(HOLD + "/plugged/cap_relief", checks)

    def test_no_flow_meter_is_fitted_for_a_load_that_sinks(self):
        """Nothing that a pump does makes a load sink; a meter in its line tells nothing of the cylinder."""
        it = Answer(lifting(), seen(DRIFT, "slow"))
        self.assertNotEqual("flow", it.tests[0]["kind"])
        values = {t["observation"] for t in it.advice["tests"]}
        self.assertFalse({o for o in values if o.startswith("flow/")}, values)

    def test_a_fitter_who_is_alone_is_not_sent_to_a_meter(self):
        """One at the controls, one at the meter: alone, nobody is where something can go wrong."""
        it = Answer(lifting(), seen("delivery/raise", "slow"), work={"people": 1})
        self.assertNotIn("flow/pump", [t["observation"] for t in it.tests])
        self.assertEqual(["flow/pump"], [t["observation"] for t in it.not_proposed])
        helped = Answer(lifting(), seen("delivery/raise", "slow"), work={"people": 1, "second_person": 30})
        self.assertIn("second_person", [s["id"] for t in helped.tests if t["kind"] == "flow" for s in t["setup"]])

    def test_the_load_is_blocked_once_before_anything_is_opened(self):
        """Cribbing takes its time, but not again for the next line of the same cylinder."""
        it = Answer(held(), seen(DRIFT, "slow"), work={"block_load": 25})
        first = it.tests[it.place(HOLD)]
        self.assertIn("block_load", [s["id"] for s in first["setup"]])
        self.assertEqual(25 + 10 + 5 + 3, first["minutes"])
        drift = Answer(held(), work={"block_load": 25})
        self.assertNotIn("block_load", [s["id"] for s in drift.tests[drift.place(DRIFT)]["setup"]])
        then = Answer(held(), seen(DRIFT, "slow"), work={"block_load": 25},
                      setup_done=["lockout", "line/cap_hose", "block_load"])
        self.assertEqual(3, then.tests[then.place(HOLD)]["minutes"])

    def test_a_part_on_the_shelf_is_fitted_before_one_that_takes_a_week(self):
        """The truck has to go out in the morning: what is there, or nothing."""
        of = held(cap_more={"lead_days": 7})
        shown = [seen(DRIFT, "slow", at="1"), seen(DRIFT, "slow", at="2"), seen(HOLD, "bled_down", at="3"),
                 seen(HOLD + "/plugged/cap_relief", "held", at="4")]
        late = Answer(of, *shown, work={"ready_within": "8 h"}).advice
        self.assertNotIn("cap_relief", late["repair"]["components"])
        self.assertEqual(["cap_relief"], late["in_time"]["later"]["components"])
        self.assertIn("cap_relief", [p["component"] for p in late["in_time"]["too_long"]])
        there = Answer(of, *shown, work={"ready_within": "8 h", "at_hand": {"parts": ["port_relief"]}}).advice
        self.assertIn("cap_relief", there["repair"]["components"])
        self.assertEqual([], there["in_time"]["too_long"])

    def test_an_adapter_that_is_in_the_store_makes_the_other_port_the_next(self):
        """An hour's drive for a fitting is worth it only where nothing else tells as much."""
        of = held(rod=210, fittings={"section.a": {"standard": "ISO 6149-1", "size": "M22x1.5"},
                                     "section.b": {"standard": "ISO 6149-1", "size": "M18x1.5"}})
        shown = [seen(DRIFT, "slow", at="1"), seen(DRIFT, "slow", at="2")]
        near = Answer(of, *shown)
        self.assertEqual(HOLD, near.advice["test"])
        far = Answer(of, *shown, work={"fetch": "20 h", "at_hand": {"fittings": [
            {"what": "adapter", "standard": "ISO 6149-1", "size": "M18x1.5"}, {"what": "plug"}]}})
        self.assertIn("fetch", [s["id"] for s in far.tests[far.place(HOLD)]["setup"]])
        self.assertNotEqual(HOLD, far.advice["test"])

    def test_who_wants_to_hold_the_other_port_first_is_told_what_it_costs(self):
        """He may have his reasons; the card says what they cost on the average."""
        it = Answer(held(), seen(DRIFT, "slow", at="1"), seen(DRIFT, "slow", at="2"), work={"order": ["static/section.b"]})
        self.assertEqual("static/section.b", it.tests[0]["observation"])
        self.assertIn(it.advice["own_order"]["instead_of"], (HOLD, "static/cylinder.cap"))
        self.assertGreater(it.advice["own_order"]["extra_cost"], 0)

    def test_before_service_old_seals_are_worth_a_look_and_new_ones_are_not(self):
        """By the hours: a part that wears out at 8,000 hours is looked at at 9,000 and not at 500."""
        of = held()
        pack = {"format": "faultodds-priors/1", "id": "wear", "title": "wear", "modes": [
            {"type": "single_rod_cylinder", "mode": "piston_seal_leak",
             "wear_out": {"shape": 4, "scale": "8000 h", "failed_share": 0.6}}]}

        def at(hours):
            case = {"format": "faultodds-case/1", "detail": "full", "focus": "circuit", "asset": {"component_hours": {"cylinder": hours}},
                    "observations": [], "economics": {"second_visit": 3000}}
            service = faultodds.assess(of, case, pack)["before_service"]
            return sum(t["expected_saving"] for t in service["tests"] if any(
                f["component"] == "cylinder" for f in t["finds"])), [p["component"] for p in service["replace"]]
        self.assertGreater(at(4000)[0], 3 * at(500)[0])
        self.assertIn("cylinder", at(9000)[1])
        self.assertNotIn("cylinder", at(500)[1])

    def test_the_note_for_a_service_says_what_to_check_with_its_cautions_before_it(self):
        """Nobody complains: the note is a list of what is worth a look, and how to do it without being hurt."""
        with faultodds.Model(held()) as model:
            note = model.note({"format": "faultodds-case/1", "focus": "circuit", "observations": [],
                               "economics": {"second_visit": 3000}})
        self.assertIn("Worth checking while the machine stands", note)
        self.assertLess(note.index("Cautions"), note.index("Worth checking"))
        self.assertIn("is expected to save", note)
        quiet = {"second_visit": 0, "downtime_per_hour": 0, "worn_fails": 0}
        with faultodds.Model(held()) as model:
            none = model.note({"format": "faultodds-case/1", "focus": "circuit", "observations": [], "economics": quiet})
        self.assertIn("No test is expected to save what its time costs", none)

    def test_a_renewed_part_is_not_ordered_again_untested(self):
        """A new cartridge is good 99 times of 100: what still sinks has another cause."""
        it = Answer(held(), seen(DRIFT, "slow", at="1"), {"repaired": ["cap_relief"], "at": "2"},
                    seen(DRIFT, "slow", at="3"))
        self.assertNotIn("cap_relief", it.advice["repair"]["components"])

    def test_locked_out_holds_come_before_instruments_on_a_running_machine(self):
        """A meter in a line under power is the last thing, not the first."""
        it = Answer(lifting(), seen(DRIFT, "slow"))
        self.assertLess(it.place(HOLD), it.place("flow/pump"))
        self.assertFalse(it.tests[0]["kind"] == "flow")

    def test_a_course_of_the_gauge_says_what_its_ends_say(self):
        """160, 120 and 90 bar at 0, 20 and 40 s are one leak, however many points were written down."""
        def fell(*points):
            course = [{"time": f"{t} s", "pressure": f"{p} bar"} for t, p in points]
            return Answer(held(), seen(HOLD, pressures=course, volume="1 L")).bad("cap_relief.seat_leak")
        self.assertLess(apart(fell((0, 160), (20, 120), (40, 90)), fell((0, 160), (40, 90))), 1.05)
        self.assertGreater(fell((0, 160), (20, 120), (40, 90)), 3 * fell((0, 160), (40, 159)))

    def test_strokes_of_the_hand_pump_are_a_flow(self):
        """Ten strokes a minute of 10 cm3 to hold the pressure are 100 mL/min that go somewhere."""
        flow = Answer(held(), seen(HOLD, supply_flow="100 mL/min", pressure="150 bar")).bad("cap_relief.seat_leak")
        strokes = Answer(held(), seen(HOLD, strokes_per_minute=10, stroke_volume="10 cm3", pressure="150 bar"))
        self.assertLess(apart(flow, strokes.bad("cap_relief.seat_leak")), 1.0001)

    def test_a_pump_is_held_against_the_speed_that_it_ran_at(self):
        """45 cm3 at 800 rev/min are 36 L/min: that is no pump that lost half its flow."""
        plain = Answer(lifting(), seen("flow/pump", flow="36 L/min"))
        told = Answer(lifting(), seen("flow/pump", flow="36 L/min", revolutions_per_minute=800, displacement="45 cm3/rev"))
        self.assertGreater(plain.bad("pump.internal_wear"), 0.3)
        self.assertLess(told.bad("pump.internal_wear"), Answer(lifting()).bad("pump.internal_wear"))

    def test_an_impossible_reading_is_warned_of_with_the_unit_that_was_meant(self):
        """500 L/min do not leak past a relief in a hold: mL were read."""
        it = Answer(held(), seen(HOLD, leak_rate="500 L/min"))
        self.assertTrue(any("mL/min" in warning for warning in it.warnings), it.warnings)


class Reported(unittest.TestCase):
    """Symptoms as people report them, each derived from the circuit."""

    @staticmethod
    def sets(of, observation):
        with faultodds.Model(of) as model:
            return next(({mode for one in o["sets"] for mode in one["modes"]} for o in model.describe()["observations"]
                         if o["observation"] == observation), None)

    def test_a_load_dips_as_lifting_begins_by_its_load_check(self):
        """The spool opens before the pump has the load's pressure, and only the check is in the oil's way back. Where
        there is none it dips by design, and nobody complains."""
        self.assertEqual({"load_check.seat_leak"}, self.sets(lifting(checked=True), "dip/raise"))
        self.assertIsNone(self.sets(lifting(), "dip/raise"))

    def test_what_is_slow_both_ways_has_what_both_share(self):
        """A relief of one port or one hose makes one way slow; pump, suction and main relief both."""
        of = lifting(rod=210, between=[("strainer", "suction_strainer", "in", "out")])
        of["functions"].append({**of["functions"][0], "id": "lower", "direction": "retract", "positions": {"section": "b"}})
        both = Answer(of, seen("delivery/raise", "slow", at="1"), seen("delivery/lower", "slow", at="2"))
        one = Answer(of, seen("delivery/raise", "slow", at="1"), seen("delivery/lower", "normal", at="2"))
        self.assertGreater(both.involves("pump") + both.involves("strainer") + both.involves("section"), 0.7)
        self.assertGreater(one.involves("cap_relief"), 3 * both.involves("cap_relief"))
        self.assertLess(one.involves("pump"), both.involves("pump") / 3)

    def test_no_pressure_is_a_leak_or_no_flow_and_no_choked_way(self):
        """At the stop nothing flows: a clogged filter or a sticking spool is slow, and still reaches the pressure."""
        of = lifting(filtered=True, between=[("strainer", "suction_strainer", "in", "out")])
        modes = self.sets(of, "no_pressure/pump")
        self.assertLessEqual({"main_relief.seat_leak", "pump.internal_wear", "pump.starved", "strainer.clogged"}, modes)
        self.assertFalse({"filter.clogged", "section.spool_sticks"} & modes)

    def test_what_one_function_alone_loses_takes_no_pressure_from_all(self):
        """The other one still lifts."""
        of = lifting(rod=210)
        of["functions"].append({**of["functions"][0], "id": "lower", "direction": "retract", "positions": {"section": "b"}})
        modes = self.sets(of, "no_pressure/pump")
        self.assertFalse({"cap_relief.seat_leak", "rod_relief.seat_leak"} & modes)
        self.assertIn("main_relief.seat_leak", modes)

    def test_a_pump_is_noisy_by_its_inlet(self):
        """Air or too little oil: whatever leaks or chokes between tank and pump, and nothing behind it."""
        of = lifting(between=[("strainer", "suction_strainer", "in", "out"), ("suction_hose", "hose", "a", "b")])
        modes = self.sets(of, "noisy/pump")
        self.assertEqual({"pump.starved", "strainer.clogged", "suction_hose.collapsed", "suction_hose.external_leak",
                          "reservoir.breather_clogged"}, modes)

    def test_oil_is_hot_by_what_passes_under_pressure_and_by_what_cools_too_little(self):
        """Oil that goes outside takes its heat with it."""
        of = lifting()
        of["components"] += [part("cooler", "oil_cooler", setting="3 bar"), part("cap_tube", "hose")]
        of["connections"][0] = {"from": "section.t", "to": "cooler.in"}
        of["connections"].append({"from": "cooler.out", "to": "tank"})
        of["connections"][1:2] = [{"from": "section.a", "to": "cap_tube.a", "line": "cap_hose"},
                                  {"from": "cap_tube.b", "to": "cylinder.cap", "line": "cap_end"}]
        modes = self.sets(of, "hot/pump")
        self.assertLessEqual({"main_relief.seat_leak", "cap_relief.seat_leak", "pump.internal_wear", "cooler.clogged"}, modes)
        self.assertNotIn("cap_tube.external_leak", modes)

    def test_it_jerks_by_what_sticks_and_by_air(self):
        """What is clogged is slow all the way; what sticks comes loose again."""
        of = lifting(checked=True, between=[("strainer", "suction_strainer", "in", "out")])
        modes = self.sets(of, "jerky/cylinder")
        self.assertLessEqual({"section.spool_sticks", "load_check.stuck_closed", "pump.starved"}, modes)
        self.assertNotIn("cap_relief.seat_leak", modes)

    def test_it_moves_by_itself_past_a_spool_that_keeps_pressure_off(self):
        """A closed-centre spool stands under pressure; an open-centre pump in neutral has none to give."""
        self.assertEqual({"section.spool_bore_wear"}, self.sets(lifting(), "moves/cylinder/extend"))
        of = lifting(kind="open_centre_section")
        of["connections"] += [{"from": "pump.out", "to": "section.in"}, {"from": "section.out", "to": "tank"}]
        self.assertIsNone(self.sets(of, "moves/cylinder/extend"))

    def test_one_of_a_pair_lags_by_what_it_has_alone(self):
        """What both share slows both."""
        of = lifting(cap=None)
        of["components"] += [part("other", "single_rod_cylinder", bore="80 mm", rod="45 mm"), part("other_hose", "hose")]
        of["connections"] += [{"from": "section.a", "to": "other_hose.a", "line": "oc"},
                              {"from": "other_hose.b", "to": "other.cap", "line": "od"},
                              {"from": "section.b", "to": "other.rod", "line": "or"}]
        of["functions"].append({**of["functions"][0], "id": "raise_other", "actuator": "other"})
        modes = self.sets(of, "uneven/raise")
        self.assertIn("other_hose.collapsed", modes)
        self.assertFalse({"main_relief.seat_leak", "pump.internal_wear", "section.spool_sticks"} & modes)

    def test_what_people_report_is_evidence_and_no_test(self):
        """Nobody is sent to hear whether it is noisy: he has heard it."""
        it = Answer(lifting(checked=True), seen("delivery/raise", "slow"))
        kinds = {test["observation"].split("/")[0] for test in it.tests}
        self.assertFalse({"no_pressure", "hot", "noisy", "jerky", "moves", "dip", "uneven"} & kinds)

    def test_what_is_told_of_the_oil_moves_the_cause(self):
        """Slow and howling is the inlet; slow and hot is a leak inside."""
        of = lifting(between=[("strainer", "suction_strainer", "in", "out")])
        loud, hot = (Answer(of, seen("delivery/raise", "slow", at="1"), seen(*more, at="2"), focus="delivery/raise")
                     for more in (("noisy/pump", "loud"), ("hot/pump", "hot")))
        self.assertGreater(loud.cause("strainer"), 2 * hot.cause("strainer"))

    def test_a_load_that_lowers_by_itself_needs_only_its_way_to_tank(self):
        """The lowering valve opens or it does not; the pump has no part in it."""
        of = circuit("table", [part("reservoir", "tank"), part("pump", "fixed_pump", rated_flow="11 L/min"),
                               part("relief", "main_relief", setting="180 bar"), part("check", "load_check"),
                               part("valve", "lowering_valve"), part("speed", "flow_restrictor"),
                               part("plunger", "plunger_cylinder", bore="60 mm", rod="55 mm", load={"pressure": "110 bar", "direction": "lower"})],
                     [("reservoir.suction", "pump.in"), ("pump.out", "relief.in"), ("relief.out", "tank"),
                      ("pump.out", "check.in"), ("check.out", "plunger.cap", "hose"), ("valve.load", "check.out"),
                      ("valve.return", "speed.in"), ("speed.out", "tank")],
                     functions=[{"id": "lower", "actuator": "plunger", "direction": "lower", "source": "plunger.cap",
                                 "positions": {"valve": "open"}}])
        self.assertEqual({"valve.does_not_open", "speed.plugged"}, self.sets(of, "delivery/lower"))
        it = Answer(of, seen("delivery/lower", "stalled"))
        self.assertGreater(it.cause("valve"), it.cause("speed"))
        of["functions"][0]["positions"] = {}
        with self.assertRaisesRegex(faultodds.FaultoddsError, "does not reach the tank"):
            faultodds.Model(of)

    def test_little_lost_from_a_load_sensing_line_is_much(self):
        """Half a litre a minute past the shuttle takes the pump's stroke; of its flow it is nothing."""
        of = circuit("sensing", [part("reservoir", "tank"), part("pump", "load_sensing_pump", rated_flow="110 L/min"),
                                 part("section", "load_sensing_section"), part("ls_hose", "hose"),
                                 part("ls_relief", "port_relief", setting="200 bar"), part("port_relief", "port_relief", setting="240 bar"), cylinder()],
                     [("reservoir.suction", "pump.in"), ("pump.out", "section.p"), ("section.t", "tank"),
                      ("section.ls", "ls_hose.a"), ("ls_hose.b", "pump.ls"), ("ls_relief.in", "section.ls"), ("ls_relief.out", "tank"),
                      ("section.a", "port_relief.in"), ("port_relief.out", "tank"),
                      ("section.a", "cylinder.cap", "cap_hose"), ("section.b", "cylinder.rod", "rod_hose")],
                     functions=[{"id": "raise", "actuator": "cylinder", "direction": "extend", "source": "pump.out",
                                 "positions": {"section": "a"}}])
        modes = self.sets(of, "delivery/raise")
        self.assertLessEqual({"ls_hose.collapsed", "section.ls_passage_plugged", "ls_relief.seat_leak"}, modes)
        it = Answer(of, seen("delivery/raise", "slow"))
        self.assertGreater(it.cause("ls_relief"), 2 * it.cause("port_relief"))


if __name__ == "__main__":
    unittest.main()
