"""Discrete Bayesian networks in general, of hydraulics or not: exact posteriors."""

import ctypes
from typing import Dict, List, Mapping, NamedTuple, Optional, Sequence, Tuple, Union

from ._cancel import Cancel, ending, until
from ._closing import Shared
from ._documents import failure
from ._errors import FaultoddsError
from ._declarations import Handle, NetworkEvidence, NetworkOptions
from ._library import library, whole

_FORMATS = {"bif": 1, "xmlbif": 2}  # of capi/faultodds_network.h


class NetworkAnswer(NamedTuple):
    """What follows from evidence."""

    log_evidence: float  # natural logarithm of its probability
    posteriors: Dict[str, Tuple[float, ...]]  # of every variable, in the order of ``Network.states``


class Network(Shared):
    """A compiled network. Immutable: any number of threads may use one at once. ``close`` (or the end of a
    ``with``) frees it as soon as no call runs on it; using it afterwards raises ValueError."""

    def __init__(
        self,
        text: Union[str, bytes],
        *,
        format: str = "bif",
        memory_budget: int = 0,
        cancel: Optional[Cancel] = None,
    ) -> None:
        """Reads ``text``, BIF 0.15 or ("xmlbif") XMLBIF 0.3. ``memory_budget``: bytes of inference tables, 0
        for the library's default of 1 GiB."""
        if format not in _FORMATS:
            raise ValueError(f"format is {format!r}; expected 'bif' or 'xmlbif'")
        super().__init__("network", "faultodds_network_free")
        budget = whole("memory_budget", memory_budget, 0, 64)
        lib = library()
        encoded = text.encode("utf-8") if isinstance(text, str) else text
        handle, error = Handle(), Handle()
        options = NetworkOptions(ctypes.sizeof(NetworkOptions), budget)
        with ending(cancel) as options.cancel:
            status = lib.faultodds_network_load(
                encoded, len(encoded), _FORMATS[format], options, ctypes.byref(handle), ctypes.byref(error)
            )
        if status != 0:
            raise failure(status, error)
        self._handle = handle
        self._states: Dict[str, List[str]] = {
            lib.faultodds_network_variable_name(handle, variable).decode("utf-8"): [
                lib.faultodds_network_state_name(handle, variable, state).decode("utf-8")
                for state in range(lib.faultodds_network_state_count(handle, variable))
            ]
            for variable in range(lib.faultodds_network_variable_count(handle))
        }
        self._index = {name: variable for variable, name in enumerate(self._states)}

    def variables(self) -> List[str]:
        """Names of the variables, in the order of the text."""
        return list(self._states)

    def states(self, variable: str) -> List[str]:
        """Names of the states of a variable."""
        if variable not in self._states:
            raise FaultoddsError("invalid_argument", f"unknown variable `{variable}`")
        return list(self._states[variable])

    def query(
        self,
        evidence: Mapping[str, Union[str, Sequence[float]]] = {},
        *,
        cancel: Optional[Cancel] = None,
    ) -> NetworkAnswer:
        """Posteriors of all variables. ``evidence``: of what is known the state, or a likelihood over the
        states. Impossible evidence is an error that names the variables in conflict."""
        lines = (NetworkEvidence * len(evidence))()
        for line, (variable, what) in zip(lines, evidence.items()):
            self._fill(line, variable, what)
        room = (ctypes.c_double * sum(map(len, self._states.values())))()
        written, log_evidence, error = ctypes.c_size_t(), ctypes.c_double(), Handle()
        with self._using() as handle, until(cancel) as options:
            status = library().faultodds_network_query(
                handle, lines if evidence else None, len(lines), options, room, len(room),
                ctypes.byref(written), ctypes.byref(log_evidence), ctypes.byref(error),
            )
        if status != 0:
            raise failure(status, error)
        posteriors, at = {}, 0
        for variable, states in self._states.items():
            posteriors[variable] = tuple(room[at : at + len(states)])
            at += len(states)
        return NetworkAnswer(log_evidence.value, posteriors)

    def _fill(self, line: NetworkEvidence, variable: str, what: Union[str, Sequence[float]]) -> None:
        states = self.states(variable)
        line.struct_size = ctypes.sizeof(NetworkEvidence)
        line.variable = self._index[variable]
        if isinstance(what, str):
            if what not in states:
                raise FaultoddsError("invalid_argument", f"`{variable}` has no state `{what}`")
            line.state = states.index(what)
            return
        line.state = -1
        line.likelihood = (ctypes.c_double * len(what))(*what)
        line.likelihood_count = len(what)
