"""Finds the shared library and declares the functions of capi/faultodds.h that the binding uses."""

import ctypes
import os
import sys
import threading
from pathlib import Path
from typing import Optional

_SOVERSION = 1
_loaded: Optional[ctypes.CDLL] = None
_lock = threading.Lock()

# Strings that the caller frees: as c_void_p, since ctypes would copy a c_char_p and lose its address.
OwnedText = ctypes.c_void_p
Handle = ctypes.c_void_p


class ModelOptions(ctypes.Structure):
    """faultodds_model_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("memory_budget", ctypes.c_uint64),
        ("asset_class", ctypes.c_char_p),
        ("asset_class_len", ctypes.c_size_t),
        ("cancel", Handle),
        ("search_steps", ctypes.c_uint64),
        ("sets_per_observation", ctypes.c_uint32),
        ("modes", ctypes.c_uint32),
        ("observations", ctypes.c_uint32),
        ("reserved", ctypes.c_uint32),
    ]


class Causes(ctypes.Structure):
    """faultodds_causes."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("observation", ctypes.c_uint32),
        ("share_count", ctypes.c_uint32),
        ("component_count", ctypes.c_uint64),
        ("by_design", ctypes.c_double),
        ("elsewhere", ctypes.c_double),
        ("nothing", ctypes.c_double),
    ]


class ModelCounters(ctypes.Structure):
    """faultodds_model_counters."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        *(
            (name, ctypes.c_uint64)
            for name in (
                "plans_made",
                "plans_from_cache",
                "plans_evicted",
                "plans_kept",
                "plan_bytes",
                "bytes",
                "memory_budget",
                "by_tree",
                "by_tables",
                "by_products",
                "by_careful_products",
                "by_junction_tree",
                "by_bounded",
            )
        ),
    ]


class RankedTest(ctypes.Structure):
    """faultodds_ranked_test."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("observation", ctypes.c_uint32),
        ("energised", ctypes.c_int32),
        ("information_bits", ctypes.c_double),
        ("cause_bits", ctypes.c_double),
        ("minutes", ctypes.c_double),
        ("bits_per_minute", ctypes.c_double),
    ]


class NetworkEvidence(ctypes.Structure):
    """faultodds_network_evidence."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("variable", ctypes.c_uint32),
        ("state", ctypes.c_int32),
        ("likelihood", ctypes.POINTER(ctypes.c_double)),
        ("likelihood_count", ctypes.c_size_t),
    ]


Progress = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_uint64)
Write = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t)


def _text_field(name: str) -> "list[tuple[str, type]]":
    return [(name, ctypes.c_char_p), (name + "_len", ctypes.c_size_t)]


class Records(ctypes.Structure):
    """faultodds_records."""

    _fields_ = [("struct_size", ctypes.c_size_t), *_text_field("path"), *_text_field("text")]


class LearnOptions(ctypes.Structure):
    """faultodds_learn_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        *_text_field("source"),
        *_text_field("title"),
        *_text_field("mapping"),
        *_text_field("circuit"),
        *_text_field("judgement"),
        ("worth_jobs", ctypes.c_double),
        ("no_pooling", ctypes.c_int32),
        ("through_circuit", ctypes.c_int32),
        ("learn_outcomes", ctypes.c_int32),
        ("threads", ctypes.c_uint32),
        ("reject", Write),
        ("reject_context", ctypes.c_void_p),
        ("progress", Progress),
        ("progress_context", ctypes.c_void_p),
        ("cancel", Handle),
    ]


class BacktestOptions(ctypes.Structure):
    """faultodds_backtest_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        *_text_field("mapping"),
        *_text_field("before"),
        *_text_field("after"),
        *_text_field("asset_class"),
        ("worth_jobs", ctypes.c_double),
        ("isolated", ctypes.c_double),
        ("most_jobs", ctypes.c_uint64),
        ("threads", ctypes.c_uint32),
        ("progress", Progress),
        ("progress_context", ctypes.c_void_p),
        ("cancel", Handle),
    ]


def whole(name: str, value: int, least: int, bits: int) -> int:
    """A number for C, which would take another silently."""
    if not least <= value < 2**bits:
        raise ValueError(f"{name} is {value}; expected {least} to 2**{bits} - 1")
    return value


def file_name(platform: str = sys.platform) -> str:
    """What the library is called on this platform, or another that Python knows."""
    if platform == "win32":
        return f"faultodds-{_SOVERSION}.dll"
    if platform == "darwin":
        return f"libfaultodds.{_SOVERSION}.dylib"
    return f"libfaultodds.so.{_SOVERSION}"


def _where() -> str:
    named = os.environ.get("FAULTODDS_LIBRARY")
    if named:
        return named
    beside = Path(__file__).resolve().parent / file_name()
    return str(beside) if beside.exists() else file_name()


def _declare(lib: ctypes.CDLL) -> None:
    text, size, status = ctypes.c_char_p, ctypes.c_size_t, ctypes.c_int32
    index, number, out = ctypes.c_uint32, ctypes.c_double, ctypes.POINTER
    signatures = {
        "faultodds_version": (text, []),
        "faultodds_status_name": (text, [status]),
        "faultodds_error_code": (status, [Handle]),
        "faultodds_error_message": (text, [Handle]),
        "faultodds_error_pointer": (text, [Handle]),
        "faultodds_error_free": (None, [Handle]),
        "faultodds_free": (None, [OwnedText]),
        "faultodds_cancel_new": (status, [out(Handle), out(Handle)]),
        "faultodds_cancel_free": (None, [Handle]),
        "faultodds_cancel_now": (None, [Handle]),
        "faultodds_cancel_after_ms": (None, [Handle, ctypes.c_uint64]),
        "faultodds_cancel_reset": (None, [Handle]),
        "faultodds_assess_json_until": (
            status,
            [text, size, text, size, text, size, Handle, out(OwnedText), out(OwnedText)],
        ),
        "faultodds_model_load": (
            status,
            [text, size, text, size, out(ModelOptions), out(Handle), out(Handle)],
        ),
        "faultodds_model_free": (None, [Handle]),
        "faultodds_model_describe_json": (status, [Handle, out(OwnedText), out(Handle)]),
        "faultodds_model_assess_json_until": (
            status,
            [Handle, text, size, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_model_note_until": (
            status,
            [Handle, text, size, ctypes.c_int32, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_model_plan": (
            status,
            [Handle, text, size, ctypes.c_int32, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_model_close": (
            status,
            [Handle, text, size, text, size, ctypes.c_int32, out(OwnedText), out(Handle)],
        ),
        "faultodds_model_mode_count": (index, [Handle]),
        "faultodds_model_mode_id": (text, [Handle, index]),
        "faultodds_model_observation_count": (index, [Handle]),
        "faultodds_model_observation_id": (text, [Handle, index]),
        "faultodds_model_component_count": (index, [Handle]),
        "faultodds_model_component_id": (text, [Handle, index]),
        "faultodds_model_read_counters": (status, [Handle, out(ModelCounters), out(Handle)]),
        "faultodds_model_outcome_count": (index, [Handle, index]),
        "faultodds_model_outcome_id": (text, [Handle, index, index]),
        "faultodds_model_find_observation": (
            status,
            [Handle, text, size, out(index), out(Handle)],
        ),
        "faultodds_case_open": (status, [Handle, out(Handle), out(Handle)]),
        "faultodds_case_free": (None, [Handle]),
        "faultodds_case_observe_outcome": (status, [Handle, index, index, out(Handle)]),
        "faultodds_case_observe_likelihood": (
            status,
            [Handle, index, out(number), out(Handle)],
        ),
        "faultodds_case_observe_json": (status, [Handle, text, size, out(Handle)]),
        "faultodds_case_retract": (status, [Handle, index, out(Handle)]),
        "faultodds_case_setup_done": (status, [Handle, text, size, out(Handle)]),
        "faultodds_case_assess_until": (status, [Handle, Handle, out(Handle)]),
        "faultodds_case_log_evidence": (status, [Handle, out(number), out(Handle)]),
        "faultodds_case_method": (status, [Handle, Handle, out(number), out(Handle)]),
        "faultodds_case_posteriors": (
            status,
            [Handle, out(number), size, out(size), out(Handle)],
        ),
        "faultodds_case_cause_count": (status, [Handle, out(index), out(Handle)]),
        "faultodds_case_causes": (status, [Handle, index, out(Causes), out(Handle)]),
        "faultodds_case_shares": (
            status,
            [Handle, index, out(number), out(index), size, out(index), size, out(Handle)],
        ),
        "faultodds_case_test_count": (status, [Handle, out(index), out(Handle)]),
        "faultodds_case_test": (status, [Handle, index, out(RankedTest), out(Handle)]),
        "faultodds_case_answer_json_until": (
            status,
            [Handle, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_cases_assess_until": (
            status,
            [out(Handle), size, index, Handle, out(status), out(Handle)],
        ),
        "faultodds_network_load_until": (
            status,
            [text, size, ctypes.c_int32, ctypes.c_uint64, Handle, out(Handle), out(Handle)],
        ),
        "faultodds_network_free": (None, [Handle]),
        "faultodds_network_variable_count": (index, [Handle]),
        "faultodds_network_variable_name": (text, [Handle, index]),
        "faultodds_network_state_count": (index, [Handle, index]),
        "faultodds_network_state_name": (text, [Handle, index, index]),
        "faultodds_network_query_until": (
            status,
            [Handle, out(NetworkEvidence), size, Handle, out(number), size, out(size), out(number), out(Handle)],
        ),
        "faultodds_priors_learn": (
            status,
            [out(Records), out(Records), out(LearnOptions)] + [out(OwnedText)] * 2 + [out(Handle)],
        ),
        "faultodds_priors_merge": (
            status,
            [out(text), out(size), size, out(OwnedText), out(Handle)],
        ),
        "faultodds_priors_diff_json": (
            status,
            [text, size, text, size, out(OwnedText), out(Handle)],
        ),
        "faultodds_priors_backtest_json": (
            status,
            [text, size, out(Records), out(BacktestOptions), out(OwnedText), out(Handle)],
        ),
        "faultodds_circuit_check_json": (status, [text, size, Handle, out(OwnedText), out(Handle)]),
        "faultodds_circuit_explain_json": (
            status,
            [text, size, text, size, text, size, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_circuit_diff_json": (
            status,
            [text, size, text, size, text, size, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_circuit_new_json": (status, [text, size, Handle, out(OwnedText), out(Handle)]),
        "faultodds_circuit_draw_svg": (
            status,
            [text, size, text, size, Handle, out(OwnedText), out(Handle)],
        ),
        "faultodds_schema_json": (status, [text, size, out(OwnedText), out(Handle)]),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(lib, name)
        function.restype = result
        function.argtypes = arguments


def library() -> ctypes.CDLL:
    """The library, loaded on first use. ctypes releases the interpreter's lock during its calls."""
    global _loaded
    with _lock:
        if _loaded is None:
            path = _where()
            try:
                lib = ctypes.CDLL(path)
            except OSError as problem:
                raise ImportError(
                    f"the faultodds library could not be loaded from {path!r}: {problem}; "
                    "set FAULTODDS_LIBRARY to its path"
                ) from problem
            _declare(lib)
            _loaded = lib
        return _loaded
