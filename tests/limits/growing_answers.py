"""Kinds of documents that grow in one way each, as growing.py, of what is asked of circuits besides assessing a case: what
their authors ask, what a screen shows, and what a case says of the work. growing.GROWING has them too once this is imported."""
from growing import (GROWING, ONE_SEAL, TWO, chain_of_lines, changed_components, line_pairs, one_volume, seals, small,
                     titles, unconnected, uses_of_an_assembly, with_case)
from hostile import case, circuit, compact


def circuit_text(kind, n):
    """Of another kind its circuit."""
    return kind(n)[1][0]


def checked_chain(n):
    return "check", [circuit_text(chain_of_lines, n)]


def checked_uses(n):
    return "check", [circuit_text(uses_of_an_assembly, n)]


def checked_mistakes(n):
    """Every component of a type that is not there, every joint at a port that is not there: by names near the right ones."""
    return "check", [circuit(ONE_SEAL, [{"id": f"c{i}", "type": "v"} for i in range(n)],
                             [{"from": f"c{i}.b", "to": f"d{i}.a"} for i in range(n)])]


def checked_warnings(n):
    return "check", [circuit({}, [{"id": f"r{i}", "type": "port_relief", "setting": "4000 bar", "rating": "9 bar"}
                                  for i in range(n)],
                             [{"from": f"r{i}.in", "to": f"r{i + 1}.in", "line": f"l{i}"} for i in range(n - 1)])]


def checked_ratings(n):
    """Reliefs that nothing joins, each with a rating of its own."""
    return "check", [circuit({}, [{"id": f"r{i}", "type": "port_relief", "setting": "200 bar", "rating": "90 bar"}
                                  for i in range(n)], [])]


def checked_sections(n):
    return "check", [circuit({}, [{"id": "pump", "type": "fixed_pump"}] + [
        {"id": f"v{i}", "type": "closed_centre_section"} for i in range(n)],
        [{"from": f"v{i}.{port}", "to": to} for i in range(n) for port, to in (("p", "pump.out"), ("t", "tank"))])]


def checked_machine(n):
    """Sections on one gallery, each with a cylinder behind a load-holding valve and a function, and reliefs of their own."""
    components = [{"id": "pump", "type": "fixed_pump"}, {"id": "relief", "type": "main_relief", "setting": "200 bar"}]
    connections = [{"from": "relief.in", "to": "pump.out"}, {"from": "relief.out", "to": "tank"}, {"from": "pump.in", "to": "tank"}]
    for i in range(n):
        components += [{"id": f"v{i}", "type": "closed_centre_section"}, {"id": f"c{i}", "type": "load_check"},
                       {"id": f"h{i}", "type": "counterbalance_valve", "setting": "250 bar", "ratio": 4},
                       {"id": f"r{i}", "type": "port_relief", "setting": "220 bar"}, {"id": f"y{i}", "type": "single_rod_cylinder"}]
        connections += [{"from": one, "to": to} for one, to in (
            (f"c{i}.in", "pump.out"), (f"v{i}.p", f"c{i}.out"), (f"v{i}.t", "tank"), (f"h{i}.valve", f"v{i}.a"),
            (f"h{i}.pilot", f"v{i}.b"), (f"r{i}.in", f"v{i}.b"), (f"r{i}.out", "tank"))]
        connections += [{"from": f"h{i}.load", "to": f"y{i}.cap", "line": f"a{i}"},
                        {"from": f"v{i}.b", "to": f"y{i}.rod", "line": f"b{i}"}]
    return "check", [circuit({}, components, connections)]


def checked_holds(n):
    """As many holds as are allowed by names that are not there."""
    text = circuit_text(chain_of_lines, n)
    return "check", [text[:-1] + ',"allow_hold":' + compact([f"static/d{i}.a" for i in range(n)]) + "}"]


def drawn_chain(n):
    return "draw alone", [circuit_text(chain_of_lines, n)]


def drawn_volume(n):
    return "draw alone", [circuit_text(one_volume, n)]


def drawn_cylinders(n):
    return "draw alone", [circuit({}, [{"id": "pump", "type": "fixed_pump"}] + [
        {"id": f"y{i}", "type": "double_rod_cylinder", "title": "t" * (i % 90)} for i in range(n)],
        [{"from": f"y{i}.left", "to": f"y{i + 1}.right", "line": f"a{i}"} for i in range(n - 1)])]


def drawn_titles(n):
    return "draw alone", [circuit_text(titles, n)]


def drawn_case(n):
    return "draw", [line_pairs(n), case([TWO])]


def drawing_of_a_case(n):
    return "case drawing", [line_pairs(n), case([TWO])]


def explained(n):
    return "explain", [circuit_text(chain_of_lines, n), "static/c1.a"]


def explained_one_volume(n):
    return "explain", [circuit_text(one_volume, n), "static/c0.a"]


def compared(n):
    return "compare", [line_pairs(n), line_pairs(n).replace('"l1"', '"m1"')]


def compared_with_nothing_alike(n):
    return "compare", [line_pairs(n), circuit_text(unconnected, n).replace('"c', '"d')]


def written_out_uses(n):
    return "expand", [circuit_text(uses_of_an_assembly, n)]


def written_out_variant(n):
    return "expand", [circuit_text(changed_components, n)]


def list_of_parts(n):
    return "new", [compact({"format": "faultodds-parts/1", "id": "new", "parts": [
        {"id": f"p{i}", "type": ("port_relief", "closed_centre_section", "single_rod_cylinder")[i % 3]} for i in range(n)]})]


def described(n):
    return "describe", [line_pairs(n)]


def screen_of_a_model(n):
    return "screen", [line_pairs(n)]


def proposed(n):
    """Parts of many titles, and a sentence that names some."""
    return "propose", [circuit({}, [{"id": f"y{i}", "type": "double_rod_cylinder", "title": f"arm cylinder {i}"}
                                    for i in range(n)], []), "the arm cylinder 7 sinks by itself, arm cylinder 8 does not"]


def long_complaint(n):
    return "propose", [small(), "the cylinder sinks " * (n // 19)]


def note_of_many(n):
    return "note", [line_pairs(n), case([TWO])]


def card_of_many(n):
    return "card", [line_pairs(n), case([TWO])]


def not_possible(n):
    return with_case(line_pairs(n), case([TWO], not_possible=[
        {"observation": f"static/c{i}.a", "reason": "r"} for i in range(2, n)]))


def tests_in_order(n):
    return with_case(line_pairs(n), case([TWO], work={"order": [f"static/c{i}.a" for i in range(1, n)]}))


def parts_at_hand(n):
    return with_case(line_pairs(n), case([TWO], work={"at_hand": {"parts": [f"c{i}" for i in range(n)]}}))


def fittings_at_hand(n):
    return with_case(line_pairs(n), case([TWO], work={"at_hand": {"fittings": [
        {"what": "plug", "size": f"M{i}"} for i in range(n)]}}))


GROWING.update({function.__name__.replace("_", " "): function for function in (
    checked_chain, checked_uses, checked_mistakes, checked_warnings, checked_ratings, checked_sections, checked_machine,
    checked_holds, drawn_chain, drawn_volume, drawn_cylinders,
    drawn_titles, drawn_case, drawing_of_a_case, explained, explained_one_volume, compared,
    compared_with_nothing_alike, written_out_uses, written_out_variant, list_of_parts, described,
    screen_of_a_model, proposed, long_complaint, note_of_many, card_of_many, not_possible, tests_in_order,
    parts_at_hand, fittings_at_hand)})
