"""Documents made to cost as much as a megabyte can: by paths, width, numbers of things, sizes of
strings and magnitudes. measure.py calls the library with them."""
import json
import pathlib
import random

MEGABYTE = 1_000_000

LEAK = {"code": "INL", "title": "leaks", "prior": [0.9, 0.07, 0.03]}


def compact(document):
    return json.dumps(document, separators=(",", ":"))


def seal_type(ports, pairs, cartridge=False):
    """A type with a leaking seal between each of the pairs of ports."""
    kind = {
        "ports": ports,
        "elements": {f"e{i}": {"kind": "seal", "from": a, "to": b} for i, (a, b) in enumerate(pairs)},
        "failure_modes": {f"m{i}": dict(LEAK, leaks=[f"e{i}"]) for i in range(len(pairs))},
    }
    if cartridge:
        kind["cartridge"] = True
    return kind


def circuit(types, components, connections, **more):
    return compact({"format": "faultodds-circuit/1", "id": "hostile", "title": "t", "types": types,
                    "components": components, "connections": connections, **more})


def grown(make, size=MEGABYTE):
    """The largest make(n) that is no longer than `size`."""
    n = 1
    while len(make(2 * n)) <= size:
        n *= 2
    step = n // 2
    while step:
        if len(make(n + step)) <= size:
            n += step
        step //= 2
    return make(n)


def mesh(side):
    """Seals in a square mesh: the number of leak paths grows without bound."""
    components, connections = [], []
    for r in range(side):
        for c in range(side):
            components.append({"id": f"c{r}_{c}", "type": "cell"})
            if c:
                connections.append({"from": f"c{r}_{c-1}.e", "to": f"c{r}_{c}.w"})
            if r:
                connections.append({"from": f"c{r-1}_{c}.s", "to": f"c{r}_{c}.n",
                                    "line": f"l{r}_{c}"})
            if r == side - 1:
                connections.append({"from": f"c{r}_{c}.s", "to": "tank"})
    return circuit({"cell": seal_type(["n", "e", "s", "w"],
                                      [("n", "s"), ("n", "e"), ("w", "s"), ("w", "e")])},
                   components, connections)


def unconnected(n):
    return circuit({"v": seal_type(["a", "b"], [("a", "b")])},
                   [{"id": f"c{i}", "type": "v"} for i in range(n)], [])


def one_volume(n):
    """Every component leaks the same line: as many sets as components."""
    connections = [{"from": "c0.a", "to": "c1.a", "line": "l"}]
    connections += [{"from": f"c{i}.a", "to": "c1.a"} for i in range(2, n)]
    connections += [{"from": f"c{i}.b", "to": "tank"} for i in range(n)]
    return circuit({"v": seal_type(["a", "b"], [("a", "b")], cartridge=True)},
                   [{"id": f"c{i}", "type": "v"} for i in range(n)], connections)


def many_lines(n):
    """Each of n lines runs to the same volume: n observations of n sets, each with n variants."""
    connections = [{"from": f"c{i}.a", "to": "c0.a", "line": f"l{i}"} for i in range(1, n)]
    connections += [{"from": f"c{i}.b", "to": "tank"} for i in range(n)]
    return circuit({"v": seal_type(["a", "b"], [("a", "b")], cartridge=True)},
                   [{"id": f"c{i}", "type": "v"} for i in range(n)], connections)


def dense_type(n):
    """One component whose n ports all leak to each other."""
    ports = [f"p{i}" for i in range(n)]
    pairs = [(a, b) for i, a in enumerate(ports) for b in ports[i + 1:]]
    connections = [{"from": f"x.{p}", "to": f"y.{p}", "line": p} for p in ports[:-1]]
    connections.append({"from": f"x.{ports[-1]}", "to": "tank"})
    return circuit({"x": seal_type(ports, pairs)},
                   [{"id": "x", "type": "x"}, {"id": "y", "type": "x"}], connections)


def written(modes, count, per_set, sets, seed=1):
    """`count` hand-written symptoms of random sets of modes: a network as wide as can be."""
    pick = random.Random(seed)
    return circuit(
        {"v": seal_type(["a", "b"], [("a", "b")])},
        [{"id": f"c{i}", "type": "v"} for i in range(modes)], [],
        observations=[{"id": f"o{k}", "kind": "static",
                       "shows": [{"modes": [f"c{m}.m0" for m in pick.sample(range(modes), per_set)]}
                                 for _ in range(sets)]} for k in range(count)])


def conditions(n, components=300):
    return circuit({"v": seal_type(["a", "b"], [("a", "b")])},
                   [{"id": f"c{i}", "type": "v"} for i in range(components)], [],
                   conditions=[{"id": f"k{i}", "title": "t", "probability": 0.1,
                                "raises": {f"c{i % components}*": 3, "*.m0" if i < 9 else "c1*": 2}}
                               for i in range(n)])


def ten_conditions(components):
    return circuit({"v": seal_type(["a", "b"], [("a", "b")])},
                   [{"id": f"c{i}", "type": "v"} for i in range(components)], [],
                   conditions=[{"id": f"k{i}", "title": "t", "probability": 0.1,
                                "raises": {"*": 3}} for i in range(10)])


def huge_quantities():
    return circuit({}, [{"id": "ram", "type": "single_rod_cylinder", "bore": "1e154 m", "rod": "1e-300 m"}], [])


def huge_factors():
    return circuit({"v": seal_type(["a", "b"], [("a", "b")])}, [{"id": "c", "type": "v"}], [],
                   conditions=[{"id": f"k{i}", "title": "t", "probability": 0.1,
                                "raises": {"*": 1e308}} for i in range(10)])


def small_circuit():
    return circuit({"v": seal_type(["a", "b"], [("a", "b")])},
                   [{"id": f"c{i}", "type": "v"} for i in range(8)],
                   [{"from": "c0.a", "to": "c1.a", "line": "l"}] +
                   [{"from": f"c{i}.a", "to": "c1.a"} for i in range(2, 8)] +
                   [{"from": f"c{i}.b", "to": "tank"} for i in range(8)])


def case(entries, **more):
    return compact({"format": "faultodds-case/1", "circuit": "hostile", "observations": entries, **more})


def star(n):
    text = ["variable h { type discrete [ 2 ] { x, y }; } probability ( h ) { table .5 .5; }"]
    for i in range(n):
        text.append(f"variable v{i} {{ type discrete [ 2 ] {{ x, y }}; }} "
                    f"probability ( v{i} | h ) {{ (x) .1 .9; (y) .2 .8; }}")
    return "\n".join(text)


def backward_chain(n):
    names = "".join(f"variable v{i} {{ type discrete [ 2 ] {{ x, y }}; }}\n" for i in range(n))
    tables = [f"probability ( v{i} | v{i+1} ) {{ (x) .1 .9; (y) .2 .8; }}" for i in range(n - 1)]
    return names + "\n".join(tables) + f"\nprobability ( v{n-1} ) {{ table .5 .5; }}"


def random_network(n, parents=5, states=2, seed=2):
    pick = random.Random(seed)
    values = ", ".join("xyzuvw"[:states])
    text = []
    for i in range(n):
        above = pick.sample(range(i), min(i, parents))
        row = " ".join([str(1 / states)] * states)
        text.append(f"variable v{i} {{ type discrete [ {states} ] {{ {values} }}; }} probability ( v{i}"
                    + (" | " + ", ".join(f"v{a}" for a in above) if above else "")
                    + (f" ) {{ default {row}; }}" if above else f" ) {{ table {row}; }}"))
    return "\n".join(text)


def one_state_parents(n):
    text = [f"variable v{i} {{ type discrete [ 1 ] {{ x }}; }} probability ( v{i} ) {{ table 1; }}"
            for i in range(n)]
    above = ", ".join(f"v{i}" for i in range(n))
    text.append(f"variable w {{ type discrete [ 1 ] {{ x }}; }} probability ( w | {above} ) {{ table 1; }}")
    return "\n".join(text)


def many_states(n):
    return (f"variable v {{ type discrete [ {n} ] {{ " + ", ".join(f"s{i}" for i in range(n)) +
            " }; } probability ( v ) { table " + " ".join([str(1 / n)] * n) + "; }")


def records(rows, seed=3):
    pick = random.Random(seed)
    text = ["work_order,closed,asset_class,component,finding,grade\r\n"]
    for i in range(rows):
        text.append(f"{i},2024-03-{pick.randrange(1, 29):02d},k{i},port_relief,seat_leak,failed\r\n")
    return "".join(text)


def pack(entries):
    return compact({"format": "faultodds-priors/1", "id": "p", "title": "t",
                    "modes": [{"type": f"t{i}", "mode": "m", "grades": [0.9, 0.06, 0.04],
                               "method": "m"} for i in range(entries)]})


SAME = {"observation": "static/c0.a", "outcome": "bled_down"}
TINY = {"observation": "static/c0.a", "likelihood": [1e-300, 1e-308, 1e-290]}


def repairs(n):
    return case([e for i in range(n) for e in (SAME, {"repaired": [f"c{i % 8}"]})])


TRUCK = pathlib.Path(__file__).resolve().parents[2] / "examples/refuse_truck"


def truck():
    return json.loads((TRUCK / "circuit.json").read_text(encoding="utf-8"))


def truck_repairs(n):
    """The work order of a sinking arm, whose every part is replaced in turn and all seen again."""
    parts = [component["id"] for component in truck()["components"]]
    document = json.loads((TRUCK / "arm_sinks_2_valve_port.json").read_text(encoding="utf-8"))
    seen = document["observations"]
    for i in range(n):
        document["observations"] = document["observations"] + [{"repaired": [parts[i % len(parts)]]}] + seen
    return compact(document)


def titles():
    return circuit({}, [{"id": f"c{i}", "type": "single_rod_cylinder", "title": "t" * 65000}
                        for i in range(14)], [])


# name -> what is called ("circuit": with an empty case; "case", "pack": on a small circuit; "truck": a
# case on a whole machine), and what makes the text
HOSTILE = {
    "a mesh of seals": ("circuit", lambda: grown(lambda n: mesh(max(2, int(n ** 0.5))))),
    "components without connections": ("circuit", lambda: grown(unconnected)),
    "19,000 components without connections": ("circuit", lambda: unconnected(19000)),
    "all components on one volume": ("circuit", lambda: grown(one_volume)),
    "1,000 components on one volume": ("circuit", lambda: one_volume(1000)),
    "as many lines as components": ("circuit", lambda: grown(many_lines)),
    "60 lines on one volume": ("circuit", lambda: many_lines(60)),
    "ports that all leak to each other": ("circuit", lambda: grown(dense_type)),
    "40 ports that all leak to each other": ("circuit", lambda: dense_type(40)),
    "random pairs of 200 modes": ("circuit", lambda: written(200, 2000, 2, 10)),
    "random threes of 60 modes": ("circuit", lambda: written(60, 800, 3, 20)),
    "4,096 sets an observation": ("circuit", lambda: written(300, 8, 2, 4096)),
    "conditions": ("circuit", lambda: grown(conditions)),
    "ten conditions on every mode": ("circuit", lambda: grown(ten_conditions)),
    "lengths of 1e154 m": ("circuit", huge_quantities),
    "condition factors of 1e308": ("circuit", huge_factors),
    "titles of 64 KiB": ("circuit", titles),
    "one observation again and again": ("case", lambda: grown(lambda n: case([SAME] * n))),
    "one likelihood of 1e-300 again and again": ("case", lambda: grown(lambda n: case([TINY] * n))),
    "repairs": ("case", lambda: grown(repairs)),
    "500 repairs": ("case", lambda: repairs(500)),
    "60 repairs of a refuse truck, with advice": ("truck", lambda: truck_repairs(60)),
    "80 repairs of a refuse truck, with advice": ("truck", lambda: truck_repairs(80)),
    "notes of 64 KiB": ("case", lambda: case([dict(SAME, note="n" * 65000)] * 14)),
    "a list of zeros": ("case", lambda: grown(lambda n: "[" + "0," * n + "0]")),
    "an object of 80,000 keys": (
        "case", lambda: "{" + ",".join(f'"k{i}":0' for i in range(80000)) + "}"),
    "500,000 levels": ("case", lambda: "[" * 500000),
    "a prior pack": ("pack", lambda: grown(pack)),
    "a star network": ("network", lambda: grown(star)),
    "a chain written backwards": ("network", lambda: grown(backward_chain)),
    "a random network, 5 parents": ("network", lambda: grown(random_network)),
    "a random network of 60, 5 parents": ("network", lambda: random_network(60)),
    "a node of one-state parents": ("network", lambda: grown(one_state_parents)),
    "a node of many states": ("network", lambda: grown(many_states)),
    "an asset class a row": ("records", lambda: grown(records)),
    "commas": ("records", lambda: "," * MEGABYTE),
    "quotes": ("records", lambda: '"' * (MEGABYTE - 1)),
}


def documents(name):
    """What is called, and the texts to call it with."""
    kind, make = HOSTILE[name]
    if kind == "circuit":
        return "assess", (make(), case([]))
    if kind == "case":
        return "assess", (small_circuit(), make())
    if kind == "truck":
        return "assess", (compact(truck()), make())
    if kind == "pack":
        return "assess", (small_circuit(), case([]), make())
    return kind, (make(),)
