"""Posteriors of published networks against an independent engine, to 1e-9.

The networks are the ones of the Bayesian Network Repository (https://www.bnlearn.com/bnrepository/),
as BIF files inside the wheel of pgmpy 0.1.26; the peer is LazyPropagation of pyagrum, which shares no
code with faultodds. Neither comes with faultodds. This script looks for both in its own interpreter and
then in the virtual environment given by --peers, and ends with code 77 (skipped) where they are not:

    python3 -m venv build/peers
    build/peers/bin/pip install --no-deps numpy pyagrum pgmpy==0.1.26

Of pgmpy only the files are used. They are read here by a reader of a few lines, and the peer is given
the numbers from it: pyagrum's own BIF reader keeps tables in single precision and refuses state names
with a slash. Rows of published tables do not all sum to 1 in the last digits; faultodds rescales them,
so the peer gets them rescaled too. Each network is also written as XMLBIF and must give the same answers.
"""

import argparse
import ctypes
import gzip
import importlib.util
import math
import os
import random
import re
import sys
import unittest
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bindings" / "python"))
from faultodds._declarations import SIGNATURES  # noqa: E402
from faultodds._declarations import NetworkEvidence as Evidence  # noqa: E402

SKIPPED = 77
NETWORKS = (
    "asia cancer earthquake survey sachs child insurance alarm hailfinder win95pts hepar2 water andes "
    "pathfinder mildew pigs"
).split()
ROUNDS = 4
TOLERANCE = 1e-9


def peers_there() -> bool:
    return all(importlib.util.find_spec(name) for name in ("numpy", "pyagrum", "pgmpy"))


class Tables:
    """A network as its BIF text has it: names, states, parents, rows with the last parent fastest."""

    def __init__(self, text: str):
        self.states, self.parents, self.rows = {}, {}, {}
        for name, states in re.findall(
            r"variable\s+(\S+)\s*\{\s*type discrete \[ \d+ \] \{([^}]*)\};", text
        ):
            self.states[name] = [state.strip() for state in states.split(",")]
        for scope, body in re.findall(r"probability \( ([^)]*) \) \{([^}]*)\}", text):
            child, _, given = scope.partition("|")
            child = child.strip()
            parents = [name.strip() for name in given.split(",")] if given else []
            self.parents[child] = parents
            rows = {}
            for states, numbers in re.findall(r"\(([^)]*)\)\s*([^;]*);", body):
                rows[tuple(s.strip() for s in states.split(","))] = numbers.split(",")
            if not parents:
                rows[()] = re.search(r"table\s+([^;]*);", body).group(1).split(",")
            self.rows[child] = [
                [number.strip() for number in rows[combination]]
                for combination in self._combinations(parents)
            ]

    def _combinations(self, parents):
        combinations = [()]
        for parent in parents:
            combinations = [c + (state,) for c in combinations for state in self.states[parent]]
        return combinations

    def rescaled(self, child):
        rows = [[float(number) for number in row] for row in self.rows[child]]
        return [[p / sum(row) for p in row] for row in rows]

    def order(self):
        """Parents before children."""
        done, result = set(), []
        for start in self.states:
            stack = [start]
            while stack:
                name = stack[-1]
                ahead = [p for p in self.parents[name] if p not in done]
                if name in done:
                    stack.pop()
                elif ahead:
                    stack.extend(ahead)
                else:
                    done.add(name)
                    result.append(name)
        return result

    def xmlbif(self) -> str:
        def escaped(text):
            return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")

        parts = ['<?xml version="1.0"?>\n<!DOCTYPE BIF [ <!ELEMENT BIF (NETWORK)*> ]>\n']
        parts.append('<BIF VERSION="0.3"><NETWORK><NAME>n</NAME>\n')
        for name, states in self.states.items():
            outcomes = "".join(f"<OUTCOME>{escaped(s)}</OUTCOME>" for s in states)
            parts.append(f'<VARIABLE TYPE="nature"><NAME>{escaped(name)}</NAME>{outcomes}</VARIABLE>\n')
        for name in self.states:
            given = "".join(f"<GIVEN>{escaped(p)}</GIVEN>" for p in self.parents[name])
            table = "\n".join(" ".join(row) for row in self.rows[name])
            parts.append(
                f"<DEFINITION><FOR>{escaped(name)}</FOR>{given}<TABLE>\n{table}\n</TABLE></DEFINITION>\n"
            )
        parts.append("</NETWORK></BIF>\n")
        return "".join(parts)


class Ours:
    """faultodds through its C interface."""

    BIF, XMLBIF = 1, 2

    def __init__(self, library, text: str, form: int):
        self.library = library
        data = text.encode()
        self.handle, error = ctypes.c_void_p(), ctypes.c_void_p()
        status = library.faultodds_network_load(
            data, len(data), form, None, ctypes.byref(self.handle), ctypes.byref(error)
        )
        self._check(status, error)
        count = library.faultodds_network_variable_count(self.handle)
        name, state = library.faultodds_network_variable_name, library.faultodds_network_state_name
        self.states = {
            name(self.handle, v).decode(): [
                state(self.handle, v, s).decode()
                for s in range(library.faultodds_network_state_count(self.handle, v))
            ]
            for v in range(count)
        }
        self.index = {name: v for v, name in enumerate(self.states)}

    def _check(self, status, error):
        if status:
            message = self.library.faultodds_error_message(error).decode()
            self.library.faultodds_error_free(error)
            raise AssertionError(message)

    def query(self, evidence):
        entries = (Evidence * max(1, len(evidence)))()
        kept = []
        for entry, (name, likelihood) in zip(entries, evidence.items()):
            entry.struct_size = ctypes.sizeof(Evidence)
            entry.variable = self.index[name]
            if isinstance(likelihood, int):
                entry.state = likelihood
            else:
                kept.append((ctypes.c_double * len(likelihood))(*likelihood))
                entry.state = -1
                entry.likelihood = kept[-1]
                entry.likelihood_count = len(likelihood)
        size = self.library.faultodds_network_posterior_count(self.handle)
        posteriors, written = (ctypes.c_double * size)(), ctypes.c_size_t()
        log_evidence, error = ctypes.c_double(), ctypes.c_void_p()
        status = self.library.faultodds_network_query(
            self.handle, entries, len(evidence), None, posteriors, size, ctypes.byref(written),
            ctypes.byref(log_evidence), ctypes.byref(error),
        )
        self._check(status, error)
        result, at = {}, 0
        for name, states in self.states.items():
            result[name] = posteriors[at : at + len(states)]
            at += len(states)
        assert at == written.value == size
        return result, log_evidence.value

    def close(self):
        self.library.faultodds_network_free(self.handle)


def declare(library):
    for name, (result, arguments) in SIGNATURES.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library


class Peer:
    """The same tables in pyagrum."""

    def __init__(self, tables: Tables):
        import numpy
        import pyagrum

        self.network = pyagrum.BayesNet()
        for name, states in tables.states.items():
            self.network.add(pyagrum.LabelizedVariable(name, "", len(states)))
        for name, parents in tables.parents.items():
            for parent in reversed(parents):  # pyagrum lists a table's variables slowest last
                self.network.addArc(parent, name)
        for name, parents in tables.parents.items():
            shape = [len(tables.states[n]) for n in parents + [name]]
            self.network.cpt(name)[:] = numpy.array(tables.rescaled(name)).reshape(shape)
        self.engine = pyagrum.LazyPropagation(self.network)

    def query(self, evidence):
        self.engine.setEvidence(dict(evidence))
        self.engine.makeInference()
        posteriors = {name: self.engine.posterior(name).toarray() for name in self.network.names()}
        return posteriors, self.engine.evidenceProbability()


def possible_evidence(tables: Tables, order, chance: random.Random, share: float, soft: float):
    """Evidence on a share of the variables, likelihoods on a part of those. It is possible, since a
    draw from the network agrees with it."""
    drawn = {}
    for name in order:
        row = 0
        for parent in tables.parents[name]:
            row = row * len(tables.states[parent]) + drawn[parent]
        numbers = [float(number) for number in tables.rows[name][row]]
        drawn[name] = chance.choices(range(len(numbers)), numbers)[0]
    evidence = {}
    for name in tables.states:
        if chance.random() >= share:
            continue
        if chance.random() < soft:
            likelihood = [chance.choice((0.0, chance.random())) for _ in tables.states[name]]
            # Two positive numbers at least: of a likelihood with one, the peer answers the likelihood.
            for state in (drawn[name], (drawn[name] + 1) % len(likelihood)):
                likelihood[state] = 0.05 + chance.random()
            evidence[name] = likelihood
        else:
            evidence[name] = drawn[name]
    return evidence


class PublishedNetworks(unittest.TestCase):
    library = None
    folder = None

    def check(self, name):
        with gzip.open(self.folder / f"{name}.bif.gz", "rt", encoding="utf-8") as file:
            text = file.read()
        tables = Tables(text)
        ours = Ours(self.library, text, Ours.BIF)
        self.addCleanup(ours.close)
        as_xml = Ours(self.library, tables.xmlbif(), Ours.XMLBIF)
        self.addCleanup(as_xml.close)
        self.assertEqual(ours.states, tables.states)
        self.assertEqual(as_xml.states, tables.states)
        peer = Peer(tables)
        order = tables.order()
        chance = random.Random(name)
        largest = 0.0
        for round_ in range(ROUNDS):
            share = 0.0 if round_ == 0 else chance.choice((0.05, 0.15, 0.4))
            evidence = possible_evidence(tables, order, chance, share, soft=0.4)
            got, log_evidence = ours.query(evidence)
            self.assertEqual((got, log_evidence), as_xml.query(evidence), "BIF and XMLBIF differ")
            expected, probability = peer.query(evidence)
            for variable, values in got.items():
                for state, (mine, theirs) in enumerate(zip(values, expected[variable])):
                    largest = max(largest, abs(mine - theirs))
                    if not abs(mine - theirs) <= TOLERANCE:
                        self.fail(
                            f"P({variable} = {tables.states[variable][state]} | round {round_}) is "
                            f"{mine!r}; the peer says {theirs!r}"
                        )
            if probability > 1e-290:
                self.assertAlmostEqual(log_evidence, math.log(probability), delta=1e-9)
        print(f"{name}: {len(tables.states)} variables, {ROUNDS} rounds, largest difference {largest:.1e}")


def add_test(name):
    setattr(PublishedNetworks, f"test_{name}", lambda self: self.check(name))


for network in NETWORKS:
    add_test(network)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--library", required=True, help="libfaultodds.so")
    parser.add_argument("--peers", type=Path, help="a virtual environment with the peers")
    parser.add_argument("names", nargs="*", help="networks; default all")
    options = parser.parse_args()
    if not peers_there():
        python = options.peers / "bin" / "python" if options.peers else None
        if python and python.exists() and Path(sys.prefix) != options.peers.resolve():
            os.execv(python, [str(python), *sys.argv])
        print("skipped: numpy, pyagrum or pgmpy 0.1.26 is missing; tests/run installs them")
        sys.exit(SKIPPED)
    PublishedNetworks.library = declare(ctypes.CDLL(options.library))
    package = Path(importlib.util.find_spec("pgmpy").submodule_search_locations[0])
    PublishedNetworks.folder = package / "utils" / "example_models"
    names = [f"PublishedNetworks.test_{name}" for name in options.names]
    unittest.main(argv=[sys.argv[0], "-v", *names])


if __name__ == "__main__":
    main()
