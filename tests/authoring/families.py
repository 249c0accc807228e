"""Correct circuits of five families, from a seed: what an author who knows the trade would write. They share no
code with the engine; what is joined how is written out here."""

import random

INCHES = {"ISO 8434-2": ["9/16-18 UNF", "3/4-16 UNF", "7/8-14 UNF"]}


class Circuit:
    def __init__(self, name, rng):
        self.rng = rng
        self.doc = {
            "format": "faultodds-circuit/1",
            "id": name,
            "title": name.replace("_", " "),
            "components": [],
            "connections": [],
            "fittings": {},
            "functions": [],
        }

    def part(self, name, type, **values):
        self.doc["components"].append({"id": name, "type": type, "title": name.replace("_", " "), **values})
        return name

    def join(self, one, other, line=None, **values):
        connection = {"from": one, "to": other, **values}
        if line:
            connection["line"] = line
        self.doc["connections"].append(connection)

    def function(self, name, actuator, direction, positions, source="pump.out", **values):
        self.doc["functions"].append(
            {
                "id": name,
                "title": name.replace("_", " "),
                "actuator": actuator,
                "direction": direction,
                "positions": positions,
                "source": source,
                **values,
            }
        )

    def fitting(self, port, standard, size, rating):
        self.doc["fittings"][port] = {"standard": standard, "size": size, "rating": rating}

    def supply(self, pump, relief, flow, revolutions, strainer=True, filter=True):
        rng = self.rng
        tank = self.part("reservoir", "tank")
        displacement = round(flow * 1000 / revolutions, 1)
        self.part("pump", pump, displacement=f"{displacement} cm3/rev", rated_flow=f"{flow} L/min",
                  minutes=rng.choice([60, 90, 120]), part_cost=rng.choice([400, 900]), lead_days=5)
        if strainer:
            self.part("strainer", "suction_strainer")
            self.join("reservoir.suction", "strainer.in")
            self.join("strainer.out", "pump.in")
        else:
            self.part("suction_hose", "hose")
            self.join(tank + ".suction", "suction_hose.a")
            self.join("suction_hose.b", "pump.in")
        self.part("main_relief", "main_relief", setting=f"{relief} bar")
        self.join("pump.out", "main_relief.in")
        self.back = "reservoir.return"
        if filter:
            self.part("return_filter", "return_filter", setting=rng.choice(["1.5 bar", "2 bar", "3 bar"]))
            self.join("return_filter.out", "reservoir.return")
            self.back = "return_filter.in"
        self.join("main_relief.out", self.back)

    def cylinder(self, name, bore, rod, **values):
        return self.part(name, "single_rod_cylinder", bore=f"{bore} mm", rod=f"{rod} mm",
                         minutes=self.rng.choice([90, 120, 180]), **values)


BORES = [(40, 22), (50, 28), (63, 36), (80, 45), (100, 56), (125, 70), (160, 90)]


def truck_sections(rng, number):
    """Open centre, sections in a row, hoses to cylinders."""
    c = Circuit(f"truck_{number}", rng)
    relief = rng.choice([160, 180, 200, 210])
    c.supply("fixed_pump", relief, rng.choice([40, 60, 75]), rng.choice([900, 1500, 1800]))
    before = "pump.out"
    for i in range(rng.randint(2, 4)):
        name = ["arm", "gripper", "packer", "tailgate"][i]
        drained = rng.random() < 0.3
        section = c.part(f"{name}_section", "open_centre_drained_section" if drained else "open_centre_section")
        c.join(before, f"{section}.in")
        before = f"{section}.out"
        c.part(f"{name}_load_check", "load_check")
        c.join("pump.out", f"{name}_load_check.in")
        c.join(f"{name}_load_check.out", f"{section}.p")
        c.join(f"{section}.t", c.back)
        if not drained and rng.random() < 0.7:
            c.part(f"{name}_relief", "port_relief", setting=f"{relief + 30} bar")
            c.join(f"{section}.a", f"{name}_relief.in")
            c.join(f"{name}_relief.out", c.back)
            c.part(f"{name}_makeup", "makeup_check")
            c.join(c.back, f"{name}_makeup.tank_side")
            c.join(f"{name}_makeup.port_side", f"{section}.a")
        bore, rod = rng.choice(BORES[:6])
        c.cylinder(f"{name}_cylinder", bore, rod)
        for port, side in (("a", "cap"), ("b", "rod")):
            hose = c.part(f"{name}_{side}_hose", "hose")
            c.join(f"{section}.{port}", f"{hose}.a", f"{name}_{side}_at_valve")
            if side == "cap" and drained:
                c.part(f"{name}_lock", "counterbalance_valve", setting=f"{relief + 60} bar", ratio=4)
                c.join(f"{hose}.b", f"{name}_lock.valve", f"{name}_at_lock")
                c.join(f"{name}_lock.load", f"{name}_cylinder.cap", f"{name}_lock_tube")
            else:
                c.join(f"{hose}.b", f"{name}_cylinder.{side}", f"{name}_{side}_at_cylinder")
            c.fitting(f"{hose}.a", "ISO 8434-2", rng.choice(INCHES["ISO 8434-2"]), "350 bar")
        if drained:
            c.join(f"{name}_lock.pilot", f"{name}_rod_hose.b")
        c.function(f"extend_{name}", f"{name}_cylinder", "extend", {section: "a"})
        lowered = {section: "b", **({f"{name}_lock": "piloted"} if drained else {})}
        c.function(f"retract_{name}", f"{name}_cylinder", "retract", lowered)
    c.join(before, c.back)
    return c.doc


def press(rng, number):
    """Closed centre, variable pump, a ram held by pilot-operated checks or a counterbalance valve."""
    c = Circuit(f"press_{number}", rng)
    relief = rng.choice([210, 250, 280, 315])
    c.supply("variable_pump", relief, rng.choice([30, 60, 120]), 1450, strainer=rng.random() < 0.5)
    for i in range(rng.randint(1, 3)):
        name = ["ram", "clamp", "ejector"][i]
        valve = c.part(f"{name}_valve", "closed_centre_section" if rng.random() < 0.5 else "closed_centre_drained_section")
        pressed = "pump.out"
        if name == "clamp" and rng.random() < 0.6:
            c.part("clamp_reducing", "reducing_valve", setting=f"{rng.choice([60, 80, 120])} bar")
            c.join("pump.out", "clamp_reducing.in")
            pressed = "clamp_reducing.out"
        c.join(pressed, f"{valve}.p")
        c.join(f"{valve}.t", c.back)
        bore, rod = rng.choice([(160, 110), (200, 140), (250, 180)] if name == "ram" else BORES[:5])
        load = {"load": {"force": f"{round(bore * bore * 0.6)} N", "direction": "retract"}} if rng.random() < 0.4 else {}
        c.cylinder(f"{name}_cylinder", bore, rod, **load)
        c.join(f"{valve}.a", f"{name}_cylinder.cap", f"{name}_cap_line", rating="400 bar")
        if rng.random() < 0.5:
            c.part(f"{name}_hold", "pilot_operated_check", ratio=3)
            c.join(f"{valve}.b", f"{name}_hold.valve", f"{name}_hold_line")
            c.join(f"{name}_hold.load", f"{name}_cylinder.rod", f"{name}_rod_line")
            c.join(f"{name}_hold.pilot", f"{valve}.a")
            c.function(f"{name}_down", f"{name}_cylinder", "extend", {valve: "a", f"{name}_hold": "piloted"},
                       working_pressure=f"{relief - 30} bar")
        else:
            c.join(f"{valve}.b", f"{name}_cylinder.rod", f"{name}_rod_line", rating="400 bar")
            c.function(f"{name}_down", f"{name}_cylinder", "extend", {valve: "a"})
        c.function(f"{name}_up", f"{name}_cylinder", "retract", {valve: "b"})
    return c.doc


def open_centre(rng, number):
    """A loader: combined valves on both ports, double-rod steering beside it."""
    c = Circuit(f"loader_{number}", rng)
    relief = rng.choice([140, 160, 175])
    c.supply("fixed_pump", relief, rng.choice([25, 45, 90]), rng.choice([1200, 2000]), filter=rng.random() < 0.8)
    before = "pump.out"
    for i in range(rng.randint(1, 3)):
        name = ["boom", "bucket", "stabiliser"][i]
        section = c.part(f"{name}_section", "open_centre_section")
        c.join(before, f"{section}.in")
        before = f"{section}.out"
        c.join(f"{section}.in", f"{section}.p")
        c.join(f"{section}.t", c.back)
        for port in "ab":
            c.part(f"{name}_{port}_valve", "relief_makeup", setting=f"{relief + rng.choice([20, 35])} bar")
            c.join(f"{section}.{port}", f"{name}_{port}_valve.port_side")
            c.join(f"{name}_{port}_valve.tank_side", c.back)
        if name == "stabiliser":
            c.part("stabiliser_cylinder", "double_rod_cylinder", bore="60 mm", rod="30 mm")
            ports, directions = ("left", "right"), ("right", "left")
        else:
            c.cylinder(f"{name}_cylinder", *rng.choice(BORES[1:5]))
            ports, directions = ("cap", "rod"), ("extend", "retract")
        for port, side in zip("ab", ports):
            tube = c.part(f"{name}_{side}_tube", "tube")
            c.join(f"{section}.{port}", f"{tube}.a", f"{name}_{side}_at_valve")
            c.join(f"{tube}.b", f"{name}_cylinder.{side}", f"{name}_{side}_at_cylinder")
        for port, direction in zip("ab", directions):
            c.function(f"{name}_{direction}", f"{name}_cylinder", direction, {section: port})
    c.join(before, c.back)
    return c.doc


def motor(rng, number):
    """A slew or winch drive: motor, cross-port reliefs, make-up checks, a swivel."""
    c = Circuit(f"winch_{number}", rng)
    relief = rng.choice([180, 210, 250])
    c.supply("variable_pump" if rng.random() < 0.5 else "fixed_pump", relief, rng.choice([50, 80]), 1500)
    open_one = c.doc["components"][1]["type"] == "fixed_pump"
    valve = c.part("drive_valve", "open_centre_section" if open_one else "closed_centre_section")
    if open_one:
        c.join("pump.out", "drive_valve.in")
        c.join("drive_valve.out", c.back)
        c.join("drive_valve.in", "drive_valve.p")
    else:
        c.join("pump.out", "drive_valve.p")
    c.join("drive_valve.t", c.back)
    displacement = rng.choice([50, 160, 400])
    c.part("drive_motor", "rotary_motor", displacement=f"{displacement} cm3/rev", rated_flow="50 L/min")
    swivel = rng.random() < 0.5
    if swivel:
        c.part("swivel", "swivel_joint")
    for n, (port, other) in enumerate((("a", "b"), ("b", "a")), 1):
        c.part(f"cross_relief_{port}", "port_relief", setting=f"{relief - 20} bar")
        c.join(f"drive_motor.{port}", f"cross_relief_{port}.in")
        c.join(f"cross_relief_{port}.out", f"drive_motor.{other}")
        c.part(f"makeup_{port}", "makeup_check")
        c.join(c.back, f"makeup_{port}.tank_side")
        c.join(f"makeup_{port}.port_side", f"drive_motor.{port}")
        hose = c.part(f"hose_{port}", "hose")
        if swivel:
            c.join(f"drive_valve.{port}", f"swivel.in_{n}", f"line_{port}_swivel")
            c.join(f"swivel.out_{n}", f"{hose}.a", f"line_{port}_valve")
        else:
            c.join(f"drive_valve.{port}", f"{hose}.a", f"line_{port}_valve")
        c.join(f"{hose}.b", f"drive_motor.{port}", f"line_{port}_motor")
    c.function("forward", "drive_motor", "forward", {valve: "a"})
    c.function("reverse", "drive_motor", "reverse", {valve: "b"})
    return c.doc


def accumulators(rng, number):
    """A clamping fixture: accumulator behind a check, isolation valve, restrictor."""
    c = Circuit(f"fixture_{number}", rng)
    relief = rng.choice([100, 120, 160])
    c.supply("variable_pump", relief, rng.choice([12, 20, 40]), 1450)
    c.part("pump_check", "load_check")
    c.join("pump.out", "pump_check.in")
    c.part("accumulator", "accumulator", volume=rng.choice(["0.7 L", "2.5 L", "10 L"]))
    c.part("isolation", "isolation_valve")
    c.join("pump_check.out", "isolation.a", "accumulator_line")
    c.join("isolation.b", "accumulator.port", "accumulator_joint")
    for i in range(rng.randint(1, 3)):
        name = ["clamp", "slide", "stop"][i]
        valve = c.part(f"{name}_valve", "closed_centre_section")
        c.join("pump_check.out", f"{valve}.p")
        c.join(f"{valve}.t", c.back)
        c.cylinder(f"{name}_cylinder", *rng.choice(BORES[:4]))
        cap = f"{valve}.a"
        if rng.random() < 0.5:
            c.part(f"{name}_restrictor", "flow_restrictor")
            c.join(cap, f"{name}_restrictor.in", f"{name}_restrictor_line")
            cap = f"{name}_restrictor.out"
        c.join(cap, f"{name}_cylinder.cap", f"{name}_cap_line")
        c.join(f"{valve}.b", f"{name}_cylinder.rod", f"{name}_rod_line")
        source = rng.choice(["pump.out", "pump.out", "accumulator.port"])
        c.function(f"{name}_out", f"{name}_cylinder", "extend", {valve: "a"}, source)
        c.function(f"{name}_in", f"{name}_cylinder", "retract", {valve: "b"}, source)
    return c.doc


FAMILIES = [truck_sections, press, open_centre, motor, accumulators]


def correct_circuits(count=40, seed=21):
    rng = random.Random(seed)
    return [FAMILIES[i % len(FAMILIES)](rng, i) for i in range(count)]
