"""Kinds of documents that grow in one way each, for growth.py: each kind is given a number of
things and returns what is called and the texts to call it with."""
import functools

from hostile import LEAK, case, circuit, compact, one_state_parents, pack, records, seal_type, star

ONE_SEAL = {"v": seal_type(["a", "b"], [("a", "b")])}


def seals(n):
    return [{"id": f"c{i}", "type": "v"} for i in range(n)]


def only(text):
    """A circuit by itself, with an empty case."""
    return "assess", [text, case([])]


def with_case(circuit_text, case_text):
    return "assess", [circuit_text, case_text]


def unconnected(n):
    return only(circuit(ONE_SEAL, seals(n), []))


def chain_of_lines(n):
    return only(circuit(ONE_SEAL, seals(n), [
        {"from": f"c{i}.b", "to": f"c{i + 1}.a", "line": f"l{i}"} for i in range(n - 1)]))


def sections(n):
    """Cylinders, each behind a valve block of its own on one pump gallery."""
    block = {"ports": ["p", "t", "a", "b"],
             "elements": {"pa": {"kind": "seal", "from": "p", "to": "a", "open_in": ["up"]},
                          "pb": {"kind": "seal", "from": "p", "to": "b", "open_in": ["down"]},
                          "at": {"kind": "seal", "from": "a", "to": "t", "open_in": ["down"]},
                          "bt": {"kind": "seal", "from": "b", "to": "t", "open_in": ["up"]}},
             "failure_modes": {"spool": dict(LEAK, leaks=["pa", "pb", "at", "bt"])}}
    components = [{"id": "pump", "type": "fixed_pump"}]
    connections, functions = [], []
    for i in range(n):
        components += [{"id": f"v{i}", "type": "block"}, {"id": f"y{i}", "type": "double_rod_cylinder"}]
        connections += [{"from": f"v{i}.p", "to": "pump.out"}, {"from": f"v{i}.t", "to": "tank"},
                        {"from": f"v{i}.a", "to": f"y{i}.left", "line": f"a{i}"},
                        {"from": f"v{i}.b", "to": f"y{i}.right", "line": f"b{i}"}]
        functions.append({"id": f"f{i}", "title": "t", "actuator": f"y{i}", "direction": "left",
                          "positions": {f"v{i}": "down"}, "source": "pump"})
    return only(circuit({"block": block}, components, connections, functions=functions))


def lines_at_one_port(n):
    return only(circuit(ONE_SEAL, seals(n), [
        {"from": f"c{i}.a", "to": "c0.b", "line": f"l{i}"} for i in range(1, n)] +
        [{"from": f"c{i}.b", "to": "tank"} for i in range(1, n)]))


def one_volume(n):
    return only(circuit(ONE_SEAL, seals(n), [
        {"from": "c0.a", "to": "c1.a", "line": "l"}] +
        [{"from": f"c{i}.a", "to": "c1.a"} for i in range(2, n)] +
        [{"from": f"c{i}.b", "to": "tank"} for i in range(n)]))


def raising(components, patterns):
    return only(circuit(ONE_SEAL, seals(components), [], conditions=[
        {"id": "k", "title": "t", "probability": 0.1, "raises": patterns}]))


def conditions(n):
    return only(circuit(ONE_SEAL, seals(n), [], conditions=[
        {"id": f"k{i}", "title": "t", "probability": 0.1, "raises": {f"c{i}.m0": 3}}
        for i in range(n)]))


def conditions_on_all(n):
    return only(circuit(ONE_SEAL, seals(n), [], conditions=[
        {"id": f"k{i}", "title": "t", "probability": 0.1, "raises": {"*": 3}} for i in range(n)]))


def exact_patterns(n):
    return raising(n, {f"c{i}.m0": 2 for i in range(n)})


def patterns_with_a_beginning(n):
    return raising(n, {f"c{i}*": 2 for i in range(n)})


def patterns_with_an_end(n):
    return raising(n, {f"*{i}.m0": 2 for i in range(n)})


def patterns_with_a_middle(n):
    return raising(n, {f"*{i}*0": 2 for i in range(n)})


def stars_against_one_long_id(n):
    return only(circuit(ONE_SEAL, [{"id": "a" * n, "type": "v"}], [], conditions=[
        {"id": "k", "title": "t", "probability": 0.1, "raises": {"*a" * (n // 2) + "b": 2}}]))


def stars_against_long_ids(n):
    return only(circuit(ONE_SEAL, [{"id": "a" * 190 + str(i), "type": "v"} for i in range(n)], [],
                        conditions=[{"id": "k", "title": "t", "probability": 0.1,
                                     "raises": {"*aab" * 40 + "*" + "a" * i: 2 for i in range(n % 97 + 3)}}]))


def types(n):
    return only(circuit({f"t{i}": ONE_SEAL["v"] for i in range(n)}, [{"id": "c", "type": "t0"}], []))


def ports(n):
    names = [f"p{i}" for i in range(n)]
    return only(circuit({"x": {"ports": names, "elements": {}, "failure_modes": {}}},
                        [{"id": "c", "type": "x"}, {"id": "d", "type": "x"}], []))


def elements(n):
    names = [f"p{i}" for i in range(n + 1)]
    return only(circuit({"x": seal_type(names, list(zip(names, names[1:])))},
                        [{"id": "c", "type": "x"}, {"id": "d", "type": "x"}], []))


def parallel_modes(n):
    kind = {"ports": ["a", "b"], "elements": {"e": {"kind": "seal", "from": "a", "to": "b"}},
            "failure_modes": {f"m{i}": dict(LEAK, leaks=["e"]) for i in range(n)}}
    return only(circuit({"x": kind}, [{"id": "c", "type": "x"}], []))


def modes_times_components(n):
    kind = seal_type(["a", "b"], [("a", "b")] * n)
    return only(circuit({"x": kind}, [{"id": f"c{i}", "type": "x"} for i in range(2 * n)], []))


def ports_times_components(n):
    kind = {"ports": [f"p{i}" for i in range(n)], "elements": {}, "failure_modes": {}}
    return only(circuit({"x": kind}, [{"id": f"c{i}", "type": "x"} for i in range(n)], []))


def one_mode_on_all(n):
    kind = {"ports": ["a", "b"],
            "elements": {f"e{i}": {"kind": "seal", "from": "a", "to": "b"} for i in range(n)},
            "failure_modes": {"m": dict(LEAK, leaks=[f"e{i}" for i in range(n)])}}
    return only(circuit({"x": kind}, [{"id": "c", "type": "x"}], []))


def positions(n):
    kind = {"ports": ["a", "b"], "elements": {
        f"e{i}": {"kind": "seal", "from": "a", "to": "b", "open_in": [f"s{i}"]} for i in range(n)},
        "failure_modes": {}}
    return only(circuit(
        {"x": kind}, [{"id": "pump", "type": "fixed_pump"}, {"id": "v", "type": "x"},
                      {"id": "ram", "type": "double_rod_cylinder"}],
        [{"from": "pump.out", "to": "v.a"}, {"from": "v.b", "to": "ram.left"}, {"from": "ram.right", "to": "tank"}],
        functions=[{"id": f"f{i}", "title": "t", "actuator": "ram", "direction": "right",
                    "positions": {"v": f"s{i}"}, "source": "pump"} for i in range(n)]))


def valves_of_a_function(n):
    kind = {"ports": ["a", "b"], "elements": {
        "e": {"kind": "seal", "from": "a", "to": "b", "open_in": ["s"]}}, "failure_modes": {}}
    return only(circuit(
        {"x": kind}, [{"id": "pump", "type": "fixed_pump"}, {"id": "ram", "type": "double_rod_cylinder"}] +
        [{"id": f"v{i}", "type": "x"} for i in range(n)],
        [{"from": "pump.out", "to": "ram.left"}, {"from": "ram.right", "to": "tank"}],
        functions=[{"id": "f", "title": "t", "actuator": "ram", "direction": "right",
                    "positions": {f"v{i}": "s" for i in range(n)}, "source": "pump"}]))


def written(n):
    return only(circuit(ONE_SEAL, seals(n), [], observations=[
        {"id": f"o{i}", "kind": "static", "shows": [{"modes": [f"c{i}.m0"]}]} for i in range(n)]))


def written_sets(n):
    return only(circuit(ONE_SEAL, seals(n), [], observations=[
        {"id": "o", "kind": "static", "shows": [{"modes": [f"c{i}.m0"]} for i in range(n)]}]))


def overrides(n):
    return only(circuit(ONE_SEAL, seals(n), [
        {"from": f"c{i}.a", "to": f"c{(i + 1) % n}.a", "line": f"l{i}"} for i in range(0, n - 1, 2)] +
        [{"from": f"c{i}.b", "to": "tank"} for i in range(n)],
        observations=[{"id": f"static/c{i}.a", "minutes": 4} for i in range(0, n - 1)]))


def cautions(n):
    return only(circuit(ONE_SEAL, seals(2), [], observations=[
        {"id": "o", "kind": "static", "shows": [{"modes": ["c0.m0"]}],
         "cautions": [f"Beware of {i}." for i in range(n)]}]))


def setups(n):
    return only(circuit(ONE_SEAL, seals(n), [
        {"from": f"c{i}.a", "to": f"c{i + 1}.a", "line": f"l{i}"} for i in range(n - 1)],
        observations=[{"id": f"o{i}", "kind": "static", "shows": [{"modes": [f"c{i}.m0"]}],
                       "setup": [f"line/l{i}"]} for i in range(n - 1)]))


def long_ids(n):
    return only(circuit(ONE_SEAL, [{"id": "a" * 180 + str(i), "type": "v"} for i in range(n)], []))


def one_long_id(n):
    return only(circuit(ONE_SEAL, [{"id": "a" * n, "type": "v"}], []))


def modes_of_one_long_id(n):
    kind = {"ports": ["a", "b"], "elements": {"e": {"kind": "seal", "from": "a", "to": "b"}},
            "failure_modes": {f"m{i}": dict(LEAK, leaks=["e"]) for i in range(n // 200)}}
    return only(circuit({"x": kind}, [{"id": "a" * (n // 2), "type": "x"}], []))


def titles(n):
    return only(circuit(ONE_SEAL, [dict(one, title="t" * 1000) for one in seals(n)], []))


def unknown_key(n):
    return only(circuit(ONE_SEAL, seals(2), [], **{"k" * n: 0}))


def last_name_unknown(n):
    return only(circuit(ONE_SEAL, seals(n), [{"from": "c0.a", "to": f"c{i}.b"} for i in range(1, n)] +
                        [{"from": "c0.a", "to": "d.b"}]))


def many_keys(n):
    return only("{" + ",".join(f'"{i}":0' for i in range(n)) + "}")


def deep(n):
    return only('{"a":' * n + "0" + "}" * n)


def nested_lists(n):
    return only('{"a":[' + ",".join("[" * 40 + "]" * 40 for _ in range(n)) + "]}")


def fittings(n):
    return only(circuit(ONE_SEAL, seals(n), [], fittings={
        f"c{i}.a": {"standard": "ISO 6149-1", "size": "M22", "rating": "350 bar"} for i in range(n)}))


TWO = {"observation": "static/c0.a", "outcome": "bled_down"}


def small():
    return one_volume(8)[1][0]


def line_pairs(n):
    """Components in pairs, each pair joined by a line: a static hold for each."""
    return circuit(ONE_SEAL, seals(2 * n), [
        {"from": f"c{2 * i}.a", "to": f"c{2 * i + 1}.a", "line": f"l{i}"} for i in range(n)] +
        [{"from": f"c{i}.b", "to": "tank"} for i in range(2 * n)])


def said_again(n):
    return with_case(small(), case([TWO] * n))


def looked_again(n):
    return with_case(small(), case([dict(TWO, again=True)] * n))


def said_at_other_times(n):
    return with_case(small(), case([dict(TWO, at=f"2026-03-31T08:{i:05d}") for i in range(n)]))


def as_many_observations(n):
    return with_case(line_pairs(n), case([
        {"observation": f"static/c{2 * i}.a", "outcome": "held"} for i in range(n)]))


def repairs(n):
    return with_case(small(), case([e for i in range(n) for e in (TWO, {"repaired": [f"c{i % 8}"]})]))


def one_repair_of_many(n):
    return with_case(unconnected(n)[1][0], case([{"repaired": [f"c{i}" for i in range(n)]}]))


def component_hours(n):
    return with_case(unconnected(n)[1][0],
                     case([], asset={"component_hours": {f"c{i}": 100 for i in range(n)}}))


def costs(n):
    return with_case(unconnected(n)[1][0],
                     case([], economics={"components": {f"c{i}": {"part_cost": 1} for i in range(n)}}))


def setup_done(n):
    return with_case(line_pairs(n), case([], setup_done=[f"line/l{i}" for i in range(n)]))


def long_unknown_observation(n):
    return with_case(small(), case([{"observation": "x" * n, "outcome": "held"}]))


def notes(n):
    return with_case(small(), case([dict(TWO, note="n" * 1000, at=str(i)) for i in range(n)]))


def likelihoods(n):
    return with_case(small(), case([{"observation": "static/c0.a", "likelihood": [1, 0.5, 0.25 + i / 1e6]}
                                    for i in range(n)]))


def pack_of_modes(n):
    return "assess", [small(), case([]), pack(n)]


def pack_for_as_many_components(n):
    kinds = {f"t{i}": ONE_SEAL["v"] for i in range(n)}
    return "assess", [circuit(kinds, [{"id": f"c{i}", "type": f"t{i}"} for i in range(n)], []),
                      case([]), compact({"format": "faultodds-priors/1", "id": "p", "title": "t", "modes": [
                          {"type": f"t{i}", "mode": "m0", "grades": [0.9, 0.06, 0.04]} for i in range(n)]})]


def pack_of_outcomes(n):
    return "assess", [line_pairs(n), case([]), compact({
        "format": "faultodds-priors/1", "id": "p", "title": "t",
        "outcomes": [{"observation": f"static/c{i}.a", "background": [0.9, 0.06, 0.04]} for i in range(2 * n)]})]


def closing(n, **more):
    return "close", [unconnected(n)[1][0], case([]), compact({
        "format": "faultodds-closing/1", "work_order": "1", "closed": "2026-03-31", **more})]


def found(n):
    return closing(n, found=[{"component": f"c{i}", "mode": "m0", "grade": "worn"} for i in range(n)])


def sound(n):
    return closing(n, sound=[f"c{i}" for i in range(n)])


def parts(n):
    return closing(n, parts=[{"component": f"c{i}", "part": "p", "quantity": 1} for i in range(n)])


def diff(n):
    return "diff", [pack(n), pack(n).replace("0.9,0.06", "0.8,0.16")]


def mapping(n, **more):
    return "learn", [records(3), compact({"format": "faultodds-records/1", **more})]


def mapped_findings(n):
    return mapping(n, findings={f"f{i}": "seat_leak" for i in range(n)})


def mapped_types(n):
    return mapping(n, types={f"t{i}": "port_relief" for i in range(n)})


def mapped_classes(n):
    return mapping(n, classes={f"k{i}": f"class_{i}" for i in range(n)})


def rows(n):
    return "learn", ["work_order,closed,asset_class,component,finding,grade\r\n" + "".join(
        f"{i},2024-03-10,k,port_relief,seat_leak,failed\r\n" for i in range(n))]


def a_class_a_row(n):
    return "learn", [records(n)]


def rows_of_one_order(n):
    return "learn", ["work_order,closed,component,finding,grade\r\n" +
                     "7,2024-03-10,port_relief,seat_leak,failed\r\n" * n]


def one_long_row(n):
    return "learn", ["work_order,closed,component,finding,grade\r\n1,2024-03-10,port_relief," + "x" * n]


def many_fields(n):
    return "learn", [",".join(f"h{i}" for i in range(n)) + "\r\n"]


def bif_star(n):
    return "bif", [star(n)]


def bif_parents(n):
    return "bif", [one_state_parents(n)]


def bif_states(n):
    return "bif", [f"variable v {{ type discrete [ {n} ] {{ " + ", ".join(f"s{i}" for i in range(n)) +
                   " }; } probability ( v ) { table " + " ".join(["1"] + ["0"] * (n - 1)) + "; }"]


def bif_rows_by_state(n):
    text = (f"variable h {{ type discrete [ {n} ] {{ " + ", ".join(f"s{i}" for i in range(n)) +
            " }; } probability ( h ) { table " + " ".join(["1"] + ["0"] * (n - 1)) + "; }")
    return "bif", [text + "variable v { type discrete [ 2 ] { x, y }; } probability ( v | h ) { " +
                   " ".join(f"(s{i}) .5 .5;" for i in range(n)) + " }"]


def bif_comment(n):
    return "bif", ["/*" + "*" * n]


def bif_long_name(n):
    return "bif", ["variable " + "v" * n + " { type discrete [ 2 ] { x, y }; }"]


def xmlbif_star(n):
    text = ["<BIF VERSION=\"0.3\"><NETWORK><NAME>n</NAME>"]
    outcomes = "<OUTCOME>x</OUTCOME><OUTCOME>y</OUTCOME>"
    text.append(f"<VARIABLE TYPE=\"nature\"><NAME>h</NAME>{outcomes}</VARIABLE>"
                "<DEFINITION><FOR>h</FOR><TABLE>.5 .5</TABLE></DEFINITION>")
    for i in range(n):
        text.append(f"<VARIABLE TYPE=\"nature\"><NAME>v{i}</NAME>{outcomes}</VARIABLE><DEFINITION>"
                    f"<FOR>v{i}</FOR><GIVEN>h</GIVEN><TABLE>.1 .9 .2 .8</TABLE></DEFINITION>")
    return "xmlbif", ["".join(text) + "</NETWORK></BIF>"]


def xmlbif_attributes(n):
    return "xmlbif", ["<BIF " + " ".join(f'a{i}="0"' for i in range(n)) + "></BIF>"]


def http(body):
    return "http", [body]


def http_members(n):
    return http("{" + ",".join(f'"{i}":0' for i in range(n)) + "}")


def http_long_member(n):
    return http('{"' + "n" * n + '":0}')


def http_escapes(n):
    return http('{"' + "\\u0041" * n + '":0}')


def http_nested(n):
    return http('{"circuit":' + "[" * n + "]" * n + "}")


def http_observations(n):
    return http('{"circuit":' + small() + ',"case":' + case([TWO] * n) + "}")


SEAL_IN = {"components": [{"id": "s", "type": "v"}], "ports": [{"id": "a", "at": "s.a"}, {"id": "b", "at": "s.b"}]}


def uses_of_an_assembly(n):
    return only(circuit(ONE_SEAL, [{"id": f"c{i}", "type": "it"} for i in range(n)], [
        {"from": f"c{i}.b", "to": f"c{i + 1}.a", "line": f"l{i}"} for i in range(n - 1)], assemblies={"it": SEAL_IN}))


def parts_of_an_assembly(n):
    return only(circuit(ONE_SEAL, [{"id": "c", "type": "it"}], [], assemblies={"it": {
        "components": seals(n), "ports": [{"id": f"p{i}", "at": f"c{i}.a"} for i in range(n)],
        "connections": [{"from": f"c{i}.b", "to": f"c{i + 1}.a"} for i in range(n - 1)]}}))


def assemblies(n):
    return only(circuit(ONE_SEAL, [{"id": f"c{i}", "type": f"it{i}"} for i in range(n)], [],
                        assemblies={f"it{i}": SEAL_IN for i in range(n)}))


def parameters(n):
    return only(circuit(ONE_SEAL, [{"id": "c", "type": "it", "parameters": {f"p{i}": "1 min" for i in range(n)}}], [],
                        assemblies={"it": {"parameters": {f"p{i}": None for i in range(n)}, "components": [
                            {"id": f"s{i}", "type": "v", "minutes": f"{{p{i}}}"} for i in range(n)]}}))


def changed_parts(n):
    return only(circuit(ONE_SEAL, [{"id": "c", "type": "it", "parts": {f"c{i}": {"minutes": 5} for i in range(n)}}], [],
                        assemblies={"it": {"components": seals(n)}}))


def parameters_times_uses(n):
    """As many parameters with a value as uses that say nothing of them."""
    return only(circuit(ONE_SEAL, [{"id": f"c{i}", "type": "it"} for i in range(n)], [],
                        assemblies={"it": dict(SEAL_IN, parameters={f"p{i}": 1 for i in range(n)})}))


def empty_each(n):
    """As many entries that are made no time as uses of them."""
    return only(circuit(ONE_SEAL, [{"id": f"c{i}", "type": "it"} for i in range(n)], [],
                        assemblies={"it": dict(SEAL_IN, connections=[
                            {"from": "s.a", "to": "s.b", "each": {"i": 0}} for i in range(n)])}))


def part_titles(n):
    return only(circuit(ONE_SEAL, [{"id": f"c{i}", "type": "it"} for i in range(n)], [],
                        titles={"de": {f"c{i}": "t" for i in range(n)}}, assemblies={"it": SEAL_IN}))


def variant_of(base, **more):
    return only(compact({"format": "faultodds-circuit/1", "id": "hostile", "extends": base, **more}))


def base_of(n):
    return {"format": "faultodds-circuit/1", "id": "base", "types": ONE_SEAL, "components": seals(n),
            "connections": [{"from": f"c{i}.b", "to": f"c{i + 1}.a", "line": f"l{i}"} for i in range(n - 1)]}


def changed_components(n):
    return variant_of(base_of(n), overrides={"components": {f"c{i}": {"minutes": 5} for i in range(n)}})


def changed_connections(n):
    return variant_of(base_of(n), overrides={"connections": {f"l{i}": {"rating": "9 bar"} for i in range(n - 1)}})


def removed_components(n):
    titles = {"de": {f"c{i}": "t" for i in range(n)}}
    return variant_of(dict(base_of(n), titles=titles), overrides={"components": {f"c{i}": None for i in range(1, n)}})


def bases(n):
    document = base_of(n)
    for i in range(15):
        document = {"format": "faultodds-circuit/1", "id": f"v{i}", "extends": document}
    return variant_of(document)


GROWING = {function.__name__.replace("_", " "): function for function in (
    unconnected, chain_of_lines, sections, lines_at_one_port, one_volume, conditions, conditions_on_all,
    exact_patterns, patterns_with_a_beginning, patterns_with_an_end, patterns_with_a_middle,
    stars_against_one_long_id, stars_against_long_ids, types, ports, elements, parallel_modes,
    modes_times_components, ports_times_components, one_mode_on_all, positions, valves_of_a_function,
    written, written_sets, overrides, cautions, setups, long_ids, one_long_id, modes_of_one_long_id,
    titles, unknown_key, last_name_unknown, many_keys, deep, nested_lists, fittings, said_again,
    looked_again, said_at_other_times, as_many_observations, repairs, one_repair_of_many,
    component_hours, costs, setup_done, long_unknown_observation, notes, likelihoods, pack_of_modes,
    pack_for_as_many_components, pack_of_outcomes, found, sound, parts, diff, mapped_findings,
    mapped_types, mapped_classes, rows, a_class_a_row, rows_of_one_order, one_long_row, many_fields,
    bif_star, bif_parents, bif_states, bif_rows_by_state, bif_comment, bif_long_name, xmlbif_star,
    xmlbif_attributes, http_members, http_long_member, http_escapes, http_nested, http_observations,
    uses_of_an_assembly, parts_of_an_assembly, assemblies, parameters, changed_parts, part_titles,
    changed_components, changed_connections, removed_components, bases, parameters_times_uses, empty_each)}


@functools.lru_cache(maxsize=None)
def length(name, n):
    return sum(map(len, GROWING[name](n)[1]))


def of_size(name, size):
    """What is called, and texts that together are as long as can be within `size` bytes."""
    few, many = 2, 4
    while length(name, many) <= size:
        few, many = many, 2 * many
    while many - few > max(1, few // 200):
        middle = (few + many) // 2
        if length(name, middle) <= size:
            few = middle
        else:
            many = middle
    return GROWING[name](few)
