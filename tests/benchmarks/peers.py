"""faultodds against general-purpose engines for Bayesian networks, in one process.

Both are given the same networks, the same evidence and one thread, and must give the same answers (the
posteriors of all variables) to 1e-9. Engines: LazyPropagation of pyagrum, whose core is C++; variable
elimination and belief propagation of pgmpy, on networks of up to 100 variables and within a time cap.
Networks: machines of the benchmarks (circuit_bif), without shared conditions and with several, and the
demo circuits as they are; the 24 networks of the Bayesian Network Repository that
the wheel of pgmpy 0.1.26 carries, and two-layer noisy-OR networks made here, all with every max, min and
noisy OR decomposed into tables of two parents, which is the form in which an engine without special
treatment of them does best.

What is timed, always in processor time:
  query    faultodds_network_query. For pyagrum setting the evidence, makeInference and the posterior of
           each variable, less the time that fetching the same posteriors again takes, so that its Python
           binding is not counted; ours is called through ctypes and that is counted. A peer that keeps its
           state between queries is timed twice: with evidence on other variables than before, and on the
           same variables with other states. The faster one counts.
  compile  until the first query can be asked: from the text for faultodds, from a network in memory for
           the peer (BayesNet to LazyPropagation after makeInference without evidence). How long the
           peer's own reader takes for the text is a column of its own.
  memory   what a process of the engine's own that makes the network and answers a query has then
           allocated, by the C library's count; and how far its resident memory rose meanwhile, its peak.

Evidence: five sets, on 1, 3, 5, 10 and 20 leaves (all, where there are fewer), states drawn uniformly as
long as that is possible evidence.
"""

import argparse
import ctypes
import gc
import gzip
import json
import math
import os
import random
import resource
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
import zipfile
from pathlib import Path

import numpy
import pyagrum

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "published"))
from networks_peer_test import Evidence, Ours, Peer, Tables, declare  # noqa: E402

from faultodds._declarations import NetworkOptions  # noqa: E402
from faultodds._declarations import NetworkStatistics as Statistics  # noqa: E402

TOLERANCE = 1e-9
SET_SIZES = (1, 3, 5, 10, 20)
SECTIONS = (1, 4, 16, 64)
SECTIONS_AND_CONDITIONS = ((1, 3), (4, 3), (16, 3), (16, 7))
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
DEMOS = ("refuse_truck", "veneer_press")
CAUSES = (50, 200, 500, 2000)
MEMORY_CAP = 4 << 30  # bytes that a network may take in either engine
TIME_CAP = 60  # seconds of processor time for compiling it and one query
PATIENCE = 8.0  # seconds for all queries of one network and engine; they are repeated within it
SLOW_PEER_CAP = 20  # seconds for pgmpy on one network, each engine
SLOW_PEER_VARIABLES = 100
SLOW_PEER_NUMBERS = 20_000


def now() -> float:
    return time.process_time_ns() * 1e-9


def timed(call):
    start = now()
    result = call()
    return now() - start, result


# ---- networks --------------------------------------------------------------------------------------


def noisy_or(causes: int) -> str:
    """Two layers: as many effects as causes, each with 2 to 6 causes out of 10 neighbours and a leak.

    A cause acts on an effect through a link that may fail; the links are joined by ORs of two inputs.
    Neighbours, because with causes drawn from all there is no exact answer to be had for 2,000.
    """
    chance = random.Random(f"noisy-or {causes}")
    variables, tables = [], []

    def add(name, parents, rows):
        variables.append(f"variable {name} {{\n  type discrete [ 2 ] {{ no, yes }};\n}}\n")
        given = " | " + ", ".join(parents) if parents else ""
        body = ""
        for i, yes in enumerate(rows):
            states = [("no", "yes")[i >> (len(parents) - 1 - k) & 1] for k in range(len(parents))]
            start = f"  ({', '.join(states)}) " if parents else "  table "
            body += f"{start}{1 - yes!r}, {yes!r};\n"
        tables.append(f"probability ( {name}{given} ) {{\n{body}}}\n")

    for i in range(causes):
        add(f"cause{i}", [], [round(chance.uniform(0.01, 0.1), 4)])
    for i in range(causes):
        first = min(max(0, i - 5), causes - 10)
        joined = None
        for cause in sorted(chance.sample(range(first, first + 10), chance.randint(2, 6))):
            link = f"link{i}_{cause}"
            add(link, [f"cause{cause}"], [0.0, round(chance.uniform(0.3, 0.95), 4)])
            if joined:
                add(f"any{i}_{cause}", [joined, link], [0.0, 1.0, 1.0, 1.0])
                joined = f"any{i}_{cause}"
            else:
                joined = link
        add(f"effect{i}", [joined], [round(chance.uniform(0.001, 0.02), 4), 1.0])
    return "network noisy_or {\n}\n" + "".join(variables) + "".join(tables)


def published(wheel: Path):
    with zipfile.ZipFile(wheel) as archive:
        for name in sorted(archive.namelist()):
            if name.endswith(".bif.gz"):
                yield Path(name).name[: -len(".bif.gz")], gzip.decompress(archive.read(name)).decode()


def circuit_bif(options, *arguments) -> str:
    command = [options.circuit_bif, *map(str, arguments)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def all_networks(options):
    def bank(sections):
        return f"{sections} section{'s' if sections > 1 else ''}"

    for sections in SECTIONS:
        yield "circuits", bank(sections), lambda n=sections: circuit_bif(options, n)
    for sections, conditions in SECTIONS_AND_CONDITIONS:
        name = f"{bank(sections)} under {conditions} conditions"
        yield (
            "circuits under shared conditions",
            name,
            lambda n=sections, c=conditions: circuit_bif(options, n, c),
        )
    for demo in DEMOS:
        yield (
            "circuits under shared conditions",
            demo,
            lambda d=demo: circuit_bif(options, EXAMPLES / d / "circuit.json"),
        )
    found = sorted(published(options.wheel), key=lambda network: len(network[1]))
    for name, text in found:
        yield "published networks", name, lambda t=text: t
    for causes in CAUSES:
        yield "noisy-OR", f"{causes} causes", lambda n=causes: noisy_or(n)


def leaves(tables: Tables):
    parents = {parent for several in tables.parents.values() for parent in several}
    return [name for name in tables.states if name not in parents]


def draw(tables: Tables, order, chance):
    states = {}
    for name in order:
        row = 0
        for parent in tables.parents[name]:
            row = row * len(tables.states[parent]) + states[parent]
        numbers = [float(number) for number in tables.rows[name][row]]
        states[name] = chance.choices(range(len(numbers)), numbers)[0]
    return states


def evidence_sets(name: str, tables: Tables, ours: "Faultodds"):
    """For each set two pieces of evidence on the same variables."""
    chance = random.Random(f"evidence {name}")
    order, ends = tables.order(), leaves(tables)
    sets = []
    for size in SET_SIZES:
        chosen = chance.sample(ends, min(size, len(ends)))
        pair = []
        while len(pair) < 2:
            for _ in range(20):
                states = {v: chance.randrange(len(tables.states[v])) for v in chosen}
                if ours.possible(states):
                    break
            else:
                drawn = draw(tables, order, chance)
                states = {v: drawn[v] for v in chosen}
            pair.append(states)
        sets.append(pair)
    return sets


# ---- engines ---------------------------------------------------------------------------------------


class Faultodds:
    """faultodds through its C interface, with arguments made ahead of the call."""

    def __init__(self, library, text: str):
        self.library, self.handle = library, ctypes.c_void_p()
        data, error = text.encode(), ctypes.c_void_p()
        cap = NetworkOptions(ctypes.sizeof(NetworkOptions), MEMORY_CAP)

        def load():
            return library.faultodds_network_load(
                data, len(data), Ours.BIF, ctypes.byref(cap), ctypes.byref(self.handle),
                ctypes.byref(error),
            )

        self.compile_time, status = timed(load)
        self._check(status, error)
        count = library.faultodds_network_variable_count(self.handle)
        self.names = [
            library.faultodds_network_variable_name(self.handle, v).decode() for v in range(count)
        ]
        self.index = {name: v for v, name in enumerate(self.names)}
        size = library.faultodds_network_posterior_count(self.handle)
        self.posteriors = (ctypes.c_double * size)()
        self.written, self.log_evidence = ctypes.c_size_t(), ctypes.c_double()
        self.prepared = {}

    def _check(self, status, error):
        if status:
            message = self.library.faultodds_error_message(error).decode()
            self.library.faultodds_error_free(error)
            raise RuntimeError(message)

    def bytes(self) -> int:
        statistics_ = Statistics(struct_size=ctypes.sizeof(Statistics))
        error = ctypes.c_void_p()
        self._check(
            self.library.faultodds_network_read_statistics(
                self.handle, ctypes.byref(statistics_), ctypes.byref(error)
            ),
            error,
        )
        return statistics_.bytes + statistics_.query_bytes

    def ask(self, states, posteriors=True):
        entries = (Evidence * max(1, len(states)))()
        for entry, (name, state) in zip(entries, states.items()):
            entry.struct_size = ctypes.sizeof(Evidence)
            entry.variable, entry.state = self.index[name], state
        error = ctypes.c_void_p()
        arguments = (
            self.handle, entries, len(states), None,
            self.posteriors if posteriors else None, len(self.posteriors) if posteriors else 0,
            ctypes.byref(self.written), ctypes.byref(self.log_evidence), ctypes.byref(error),
        )  # fmt: skip
        query = self.library.faultodds_network_query
        time_, status = timed(lambda: query(*arguments))
        return time_, status, error

    def possible(self, states) -> bool:
        _, status, error = self.ask(states, posteriors=False)
        self.library.faultodds_error_free(error)
        return status == 0

    def query(self, states) -> float:
        time_, status, error = self.ask(states)
        self._check(status, error)
        return time_

    def answers(self):
        return numpy.array(self.posteriors[: self.written.value])

    def close(self):
        self.library.faultodds_network_free(self.handle)


class Lazy:
    """LazyPropagation of pyagrum."""

    def __init__(self, tables: Tables):
        self.network = Peer(tables).network  # of numbers, not with its own reader, which rounds them
        self.ids = [self.network.idFromName(name) for name in tables.states]
        self.id_of = dict(zip(tables.states, self.ids))

        def compile_():
            engine = pyagrum.LazyPropagation(self.network)
            engine.setNumberOfThreads(1)
            engine.makeInference()
            return engine

        self.compile_time, self.engine = timed(compile_)

    def _infer(self, tell) -> float:
        def infer():
            tell()
            self.engine.makeInference()
            for v in self.ids:
                self.engine.posterior(v)

        def fetch():
            for v in self.ids:
                self.engine.posterior(v)

        all_, _ = timed(infer)
        again, _ = timed(fetch)
        return max(all_ - again, 1e-9)

    def query(self, states) -> float:
        told = {self.id_of[name]: state for name, state in states.items()}
        return self._infer(lambda: self.engine.setEvidence(told))

    def query_same_variables(self, states) -> float:
        told = [(self.id_of[name], state) for name, state in states.items()]

        def tell():
            for v, state in told:
                self.engine.chgEvidence(v, state)

        return self._infer(tell)

    def answers(self):
        return numpy.concatenate([self.engine.posterior(v).toarray() for v in self.ids])


class OutOfTime(Exception):
    pass


def within_time_cap(seconds: float, call):
    """The call's result; OutOfTime after that much time. By the clock on the wall, since a process
    with a timer on its processor time has that counted in steps of 4 ms."""

    def stop(*_):
        raise OutOfTime

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        return call()
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def slow_peer(kind: str, tables: Tables, sets, expected):
    """Median time of a query with pgmpy, or why there is none; largest difference from the expected
    answers."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import BeliefPropagation, VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

    times, largest = [], 0.0

    def run():
        nonlocal largest
        model = DiscreteBayesianNetwork()
        model.add_nodes_from(tables.states)
        for name, parents in tables.parents.items():
            model.add_edges_from((parent, name) for parent in parents)
        for name, parents in tables.parents.items():
            model.add_cpds(
                TabularCPD(
                    name,
                    len(tables.states[name]),
                    numpy.array(tables.rescaled(name)).T,
                    parents or None,
                    [len(tables.states[parent]) for parent in parents] or None,
                )
            )
        if kind == "elimination":
            engine = VariableElimination(model)
        else:
            engine = BeliefPropagation(model)
            engine.calibrate()
        for (states, _), (answers, _) in zip(sets, expected):
            wanted = [name for name in tables.states if name not in states]

            def query():
                return {
                    name: engine.query([name], evidence=states, show_progress=False).values
                    for name in wanted
                }

            time_, found = timed(query)
            times.append(time_)
            at = 0
            for name, its_states in tables.states.items():
                if name in found:
                    difference = found[name] - answers[at : at + len(its_states)]
                    largest = max(largest, float(abs(difference).max()))
                at += len(its_states)

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            within_time_cap(SLOW_PEER_CAP, run)
    except OutOfTime:
        why = f"> {SLOW_PEER_CAP} s"
    except Exception as problem:  # noqa: BLE001: whatever it throws, it does not do this network
        print(f"pgmpy {kind}: {type(problem).__name__}: {problem}", file=sys.stderr)
        why = "fails"
    return (statistics.median(times) if times else why), largest


# ---- measurements ----------------------------------------------------------------------------------


class MallInfo(ctypes.Structure):
    """struct mallinfo2."""

    _fields_ = [
        (name, ctypes.c_size_t)
        for name in "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost".split()
    ]


def allocated() -> int:
    gc.collect()
    count = ctypes.CDLL(None).mallinfo2
    count.restype = MallInfo
    info = count()
    return info.uordblks + info.hblkhd


def status_bytes(key: str) -> int:
    with open("/proc/self/status", encoding="ascii") as status:
        return next(int(line.split()[1]) * 1024 for line in status if line.startswith(key))


def forget_peak() -> int:
    """Makes what is resident now the peak, after what is free has been given back; returns it."""
    ctypes.CDLL(None).malloc_trim(0)
    with open("/proc/self/clear_refs", "w", encoding="ascii") as clear:
        clear.write("5")
    return status_bytes("VmRSS")


def in_child(work):
    """What `work` returns, from a forked process with the caps on it; a string if it did not end well."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        code = 1
        try:
            with open("/proc/self/statm", encoding="ascii") as statm:
                size = int(statm.read().split()[0]) * os.sysconf("SC_PAGE_SIZE")
            cap = size + MEMORY_CAP
            resource.setrlimit(resource.RLIMIT_AS, (cap, cap))
            used = math.ceil(time.process_time())
            resource.setrlimit(resource.RLIMIT_CPU, (used + TIME_CAP, used + TIME_CAP))
            gc.collect()
            result = work()
            os.write(writing, json.dumps(result).encode())
            code = 0
        except MemoryError:
            os.write(writing, json.dumps("out of memory").encode())
        except Exception as problem:  # noqa: BLE001: whatever a peer throws is its answer
            os.write(writing, json.dumps(str(problem).strip()[:200] or "failed").encode())
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        answer = pipe.read()
    _, status = os.waitpid(pid, 0)
    if answer:
        return json.loads(answer)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL):
        return f"over {TIME_CAP} s"
    return "ended abnormally"


def trial(make, states):
    """Memory that an engine takes to make a network and answer a query, and how long that takes."""

    def work():
        before, resident = allocated(), forget_peak()
        engine = make()
        first = engine.query(states)
        return {
            "memory": allocated() - before,
            "peak": max(status_bytes("VmHWM") - resident, 4096),
            "query": first,
            "compile": engine.compile_time,
        }

    return in_child(work)


def read_time(text: str):
    """How long the peer's reader takes; None where it refuses the text."""
    with tempfile.NamedTemporaryFile("w", suffix=".bif") as file:
        file.write(text)
        file.flush()
        try:
            return timed(lambda: pyagrum.loadBN(file.name))[0]
        except Exception:  # noqa: BLE001: its parser raises several kinds
            return None


def measure(library, name: str, text: str):
    """One row of the tables, or a sentence on why there is none."""
    tables = Tables(text)
    ends = leaves(tables)
    some = {v: draw(tables, tables.order(), random.Random(name))[v] for v in ends[:5]}
    mine = trial(lambda: Faultodds(library, text), some)
    theirs = trial(lambda: Lazy(tables), some)
    if isinstance(mine, str) or isinstance(theirs, str):
        return "; ".join(
            f"{engine} {came_out}"
            if isinstance(came_out, str)
            else f"{engine} compiles in {came_out['compile']:.1f} s and answers in "
            f"{came_out['query'] * 1e3:,.0f} ms"
            for engine, came_out in (("faultodds", mine), ("pyagrum", theirs))
        )

    ours, lazy = Faultodds(library, text), Lazy(tables)
    if ours.names != list(tables.states):
        raise RuntimeError(f"{name}: the variables are not in the order of the text")
    sets = evidence_sets(name, tables, ours)
    largest, expected = 0.0, []

    # Answers first, which also warms everything up; then times.
    for first, second in sets:
        pair = []
        for states, query in ((first, lazy.query), (second, lazy.query_same_variables)):
            ours.query(states)
            query(states)
            pair.append(ours.answers())
            largest = max(largest, float(abs(ours.answers() - lazy.answers()).max()))
        expected.append(pair)

    def rounds(one: float, least: int, most: int) -> int:
        return max(least, min(most, int(PATIENCE / (one * 3 * len(sets) + 1e-9))))

    our_times = [[] for _ in sets]
    for _ in range(rounds(mine["query"], 3, 200)):
        for at, (first, second) in enumerate(sets):
            our_times[at] += [ours.query(first), ours.query(second), ours.query(first)]
    other, same = [[] for _ in sets], [[] for _ in sets]
    for _ in range(rounds(theirs["query"], 1, 15)):
        for at, (first, second) in enumerate(sets):
            other[at].append(lazy.query(first))
            same[at] += [lazy.query_same_variables(second), lazy.query_same_variables(first)]

    def middle(times):
        return statistics.median(statistics.median(of_set) for of_set in times)

    compile_ours, compile_lazy = [ours.compile_time], [lazy.compile_time]
    while len(compile_ours) < 5 and sum(compile_ours) + sum(compile_lazy) < PATIENCE / 4:
        again = Faultodds(library, text)
        compile_ours.append(again.compile_time)
        again.close()
        compile_lazy.append(Lazy(tables).compile_time)

    row = {
        "variables": len(tables.states),
        "ours": middle(our_times),
        "other": middle(other),
        "same": middle(same),
        "elimination": "-",
        "propagation": "-",
        "compile": statistics.median(compile_ours),
        "compile_peer": statistics.median(compile_lazy),
        "read_peer": read_time(text),
        "memory": mine["memory"],
        "memory_peer": theirs["memory"],
        "peak": mine["peak"],
        "peak_peer": theirs["peak"],
        "reported": ours.bytes(),
    }
    numbers = sum(len(rows) * len(rows[0]) for rows in tables.rows.values())
    if len(tables.states) <= SLOW_PEER_VARIABLES and numbers <= SLOW_PEER_NUMBERS:
        for kind in ("elimination", "propagation"):
            row[kind], difference = slow_peer(kind, tables, sets, expected)
            largest = max(largest, difference)
    row["difference"] = largest
    peers = [row[key] for key in ("other", "same", "elimination", "propagation")]
    row["ratio"] = min(time_ for time_ in peers if not isinstance(time_, str)) / row["ours"]
    ours.close()
    return row


# ---- tables ----------------------------------------------------------------------------------------


def us(seconds) -> str:
    return seconds if isinstance(seconds, str) else f"{seconds * 1e6:,.0f}"


def geometric_mean(numbers) -> float:
    return math.exp(statistics.fmean(math.log(number) for number in numbers))


def print_table(title: str, head, rows):
    print(f"\n{title}\n", flush=True)
    widths = [max(len(line[i]) for line in [head, *rows]) for i in range(len(head))]
    for line in [head, ["-" * width for width in widths], *rows]:
        cells = [line[0].ljust(widths[0])] + [c.rjust(w) for c, w in zip(line[1:], widths[1:])]
        print("  ".join(cells).rstrip())


def first_answer(row) -> float:
    """Peer to faultodds: until the first answer of a network just made."""
    return (row["compile_peer"] + row["other"]) / (row["compile"] + row["ours"])


def print_behind(found):
    """Where a peer is better."""
    for title, ratio in (
        ("a query takes longer", lambda r: r["ratio"]),
        ("compiling takes longer, its reading left out", lambda r: r["compile_peer"] / r["compile"]),
        ("compiling and a query take longer, its reading left out", first_answer),
        ("more memory is taken", lambda r: r["memory_peer"] / r["memory"]),
        ("the peak of memory is higher", lambda r: r["peak_peer"] / r["peak"]),
    ):
        behind = [f"{name} ({ratio(r):.2f})" for _, name, r in found if ratio(r) < 1]
        print(f"Where {title} than with the peer: {', '.join(behind) or 'nowhere'}.")


def print_left_out(left_out):
    if left_out:
        print(
            f"\nLeft out of the tables because an engine needs more than {MEMORY_CAP >> 30} GiB, or more "
            f"than {TIME_CAP} s for compiling and a query:"
        )
        for name, why in left_out:
            print(f"  {name}: {why}")


def print_tables(found):
    by_group = {}
    for group, name, row in found:
        by_group.setdefault(group, []).append((name, row))

    for group, members in by_group.items():
        rows = [
            [name, str(r["variables"]), us(r["ours"]), us(r["other"]), us(r["same"]),
             us(r["elimination"]), us(r["propagation"]), f"{r['ratio']:.1f}", f"{r['difference']:.0e}"]
            for name, r in members
        ]  # fmt: skip
        print_table(
            f"Time per query, microseconds: {group}",
            ["network", "variables", "faultodds", "pyagrum, other variables", "same variables",
             "pgmpy elimination", "propagation", "fastest peer / faultodds", "largest difference"],
            rows,
        )  # fmt: skip
        ratios = [r["ratio"] for _, r in members]
        print(f"geometric mean of the ratios {geometric_mean(ratios):.1f}, least {min(ratios):.2f}")

    rows = []
    for _, name, r in found:
        read = r["read_peer"]
        rows.append(
            [name, f"{r['compile'] * 1e3:,.2f}", f"{r['compile_peer'] * 1e3:,.2f}",
             "refused" if read is None else f"{read * 1e3:,.2f}",
             f"{r['compile_peer'] / r['compile']:.2f}",
             "-" if read is None else f"{(r['compile_peer'] + read) / r['compile']:.2f}",
             f"{first_answer(r):.2f}",
             f"{r['memory'] / 1024:,.0f}", f"{r['reported'] / 1024:,.0f}",
             f"{r['memory_peer'] / 1024:,.0f}", f"{r['memory_peer'] / r['memory']:.2f}",
             f"{r['peak'] / 1024:,.0f}", f"{r['peak_peer'] / 1024:,.0f}",
             f"{r['peak_peer'] / r['peak']:.2f}"]
        )  # fmt: skip
    print_table(
        "Compile time, milliseconds (faultodds: reading included), and memory, KiB",
        ["network", "faultodds", "pyagrum", "its reading", "ratio", "with reading", "first answer",
         "faultodds KiB", "as it reports", "pyagrum KiB", "ratio", "peak", "pyagrum's", "ratio"],
        rows,
    )  # fmt: skip
    for key, title in (
        ("compile", "compile time without its reading"),
        ("memory", "memory"),
        ("peak", "peak of memory"),
    ):
        ratios = [r[key + "_peer"] / r[key] for _, _, r in found]
        print(
            f"{title}: geometric mean of the ratios {geometric_mean(ratios):.2f}, "
            f"least {min(ratios):.2f}"
        )

    ratios = [first_answer(r) for _, _, r in found]
    print(
        "compile time without its reading and one query: geometric mean of the ratios "
        f"{geometric_mean(ratios):.2f}, least {min(ratios):.2f}"
    )

    print_behind(found)

    circuits = by_group.get("circuits", [])
    if circuits:
        rows = []
        for name, r in circuits:
            sections = int(name.split()[0])
            best = min(r["other"], r["same"])
            rows.append(
                [name, f"{r['ours'] / sections * 1e6:,.1f}", f"{best / sections * 1e6:,.1f}",
                 f"{r['compile'] / sections * 1e3:,.2f}", f"{r['memory'] / sections / 1024:,.0f}"]
            )  # fmt: skip
        print_table(
            "Growth with the circuit, per section",
            ["machine", "query us", "pyagrum us", "compile ms", "memory KiB"],
            rows,
        )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--library", required=True, help="libfaultodds.so")
    parser.add_argument("--circuit-bif", required=True, help="the program circuit_bif")
    parser.add_argument("--wheel", required=True, type=Path, help="pgmpy-0.1.26-py3-none-any.whl")
    parser.add_argument("names", nargs="*", help="networks; default all")
    options = parser.parse_args()

    library = declare(ctypes.CDLL(options.library))
    pyagrum.setNumberOfThreads(1)
    for make in (Faultodds, lambda _, text: Lazy(Tables(text))):  # what is set up once in a process
        make(library, noisy_or(10)).query({})
    found, left_out, wrong = [], [], []
    for group, name, make_text in all_networks(options):
        if options.names and name not in options.names:
            continue
        start = now()
        row = measure(library, name, make_text())
        print(f"{name}: {now() - start:.0f} s", file=sys.stderr, flush=True)
        if isinstance(row, str):
            left_out.append((name, row))
            continue
        found.append((group, name, row))
        if not row["difference"] <= TOLERANCE:
            wrong.append(name)
    print(f"pyagrum {pyagrum.__version__}, pgmpy {slow_peer_version()}, processor time, one thread")
    if found:
        print_tables(found)
    print_left_out(left_out)
    if wrong:
        print(f"\nANSWERS DIFFER by more than {TOLERANCE}: {', '.join(wrong)}")
        sys.exit(1)
    print(f"\nAll answers agree to {TOLERANCE}.")


def slow_peer_version() -> str:
    from importlib.metadata import version

    return version("pgmpy")


if __name__ == "__main__":
    main()
