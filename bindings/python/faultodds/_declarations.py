"""What the binding declares of the C interface. Written by bindings/declare.py; not to be edited."""

import ctypes

# Strings that the caller frees: as c_void_p, since ctypes would copy a c_char_p and lose its address.
OwnedText = ctypes.c_void_p
Handle = ctypes.c_void_p
Progress = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_uint64)
Write = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t)


class CallOptions(ctypes.Structure):
    """faultodds_call_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("cancel", Handle),
    ]


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


class ModelCounters(ctypes.Structure):
    """faultodds_model_counters."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("plans_made", ctypes.c_uint64),
        ("plans_from_cache", ctypes.c_uint64),
        ("plans_evicted", ctypes.c_uint64),
        ("plans_kept", ctypes.c_uint64),
        ("plan_bytes", ctypes.c_uint64),
        ("bytes", ctypes.c_uint64),
        ("memory_budget", ctypes.c_uint64),
        ("by_tree", ctypes.c_uint64),
        ("by_tables", ctypes.c_uint64),
        ("by_products", ctypes.c_uint64),
        ("by_careful_products", ctypes.c_uint64),
        ("by_junction_tree", ctypes.c_uint64),
        ("by_bounded", ctypes.c_uint64),
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


class CaseSummary(ctypes.Structure):
    """faultodds_case_summary."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("method", ctypes.c_char_p),
        ("error_bound", ctypes.c_double),
        ("log_evidence", ctypes.c_double),
        ("cause_count", ctypes.c_uint32),
        ("test_count", ctypes.c_uint32),
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


class Records(ctypes.Structure):
    """faultodds_records."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("path", ctypes.c_char_p),
        ("path_len", ctypes.c_size_t),
        ("text", ctypes.c_char_p),
        ("text_len", ctypes.c_size_t),
    ]


class LearnOptions(ctypes.Structure):
    """faultodds_learn_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("source", ctypes.c_char_p),
        ("source_len", ctypes.c_size_t),
        ("title", ctypes.c_char_p),
        ("title_len", ctypes.c_size_t),
        ("mapping", ctypes.c_char_p),
        ("mapping_len", ctypes.c_size_t),
        ("circuit", ctypes.c_char_p),
        ("circuit_len", ctypes.c_size_t),
        ("judgement", ctypes.c_char_p),
        ("judgement_len", ctypes.c_size_t),
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
        ("audit_orders", ctypes.c_uint32),
        ("count_distinct", ctypes.c_uint32),
    ]


class BacktestOptions(ctypes.Structure):
    """faultodds_backtest_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("mapping", ctypes.c_char_p),
        ("mapping_len", ctypes.c_size_t),
        ("before", ctypes.c_char_p),
        ("before_len", ctypes.c_size_t),
        ("after", ctypes.c_char_p),
        ("after_len", ctypes.c_size_t),
        ("asset_class", ctypes.c_char_p),
        ("asset_class_len", ctypes.c_size_t),
        ("worth_jobs", ctypes.c_double),
        ("isolated", ctypes.c_double),
        ("most_jobs", ctypes.c_uint64),
        ("threads", ctypes.c_uint32),
        ("progress", Progress),
        ("progress_context", ctypes.c_void_p),
        ("cancel", Handle),
    ]


class NetworkOptions(ctypes.Structure):
    """faultodds_network_options."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("memory_budget", ctypes.c_uint64),
        ("cancel", Handle),
    ]


class NetworkStatistics(ctypes.Structure):
    """faultodds_network_statistics."""

    _fields_ = [
        ("struct_size", ctypes.c_size_t),
        ("cliques", ctypes.c_uint64),
        ("entries", ctypes.c_uint64),
        ("dense_entries", ctypes.c_double),
        ("largest_clique", ctypes.c_double),
        ("bytes", ctypes.c_uint64),
        ("query_bytes", ctypes.c_uint64),
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


# By name: what it returns, and what it takes.
SIGNATURES = {
    "faultodds_version": (ctypes.c_char_p, []),
    "faultodds_status_name": (ctypes.c_char_p, [ctypes.c_int32]),
    "faultodds_error_code": (ctypes.c_int32, [Handle]),
    "faultodds_error_message": (ctypes.c_char_p, [Handle]),
    "faultodds_error_pointer": (ctypes.c_char_p, [Handle]),
    "faultodds_error_free": (None, [Handle]),
    "faultodds_free": (None, [OwnedText]),
    "faultodds_cancel_new": (ctypes.c_int32, [ctypes.POINTER(Handle), ctypes.POINTER(Handle)]),
    "faultodds_cancel_free": (None, [Handle]),
    "faultodds_cancel_now": (None, [Handle]),
    "faultodds_cancel_after_ms": (None, [Handle, ctypes.c_uint64]),
    "faultodds_cancel_reset": (None, [Handle]),
    "faultodds_assess_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(OwnedText),
    ]),
    "faultodds_model_load": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(ModelOptions),
        ctypes.POINTER(Handle),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_free": (None, [Handle]),
    "faultodds_model_count": (ctypes.c_uint32, [Handle, ctypes.c_int32]),
    "faultodds_model_id": (ctypes.c_char_p, [Handle, ctypes.c_int32, ctypes.c_uint32]),
    "faultodds_model_find": (ctypes.c_int32, [
        Handle,
        ctypes.c_int32,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_uint32),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_outcome_count": (ctypes.c_uint32, [Handle, ctypes.c_uint32]),
    "faultodds_model_outcome_id": (ctypes.c_char_p, [Handle, ctypes.c_uint32, ctypes.c_uint32]),
    "faultodds_model_read_counters": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(ModelCounters),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_describe_json": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_describe_screen_json": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_assess_json": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_propose_json": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_draw_svg": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_uint32,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_note": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_int32,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_plan": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_int32,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_model_close": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_int32,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_open": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(Handle),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_free": (None, [Handle]),
    "faultodds_case_observe_outcome": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.c_uint32,
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_observe_likelihood": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(ctypes.c_double),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_observe_json": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_retract": (ctypes.c_int32, [Handle, ctypes.c_uint32, ctypes.POINTER(Handle)]),
    "faultodds_case_setup_done": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_assess": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_cases_assess": (ctypes.c_int32, [
        ctypes.POINTER(Handle),
        ctypes.c_size_t,
        ctypes.c_uint32,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(ctypes.c_int32),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_read_summary": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CaseSummary),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_posteriors": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(ctypes.c_double),
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_size_t),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_causes": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(Causes),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_shares": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(ctypes.c_double),
        ctypes.POINTER(ctypes.c_uint32),
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_uint32),
        ctypes.c_size_t,
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_test": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(RankedTest),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_case_answer_json": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_priors_learn": (ctypes.c_int32, [
        ctypes.POINTER(Records),
        ctypes.POINTER(Records),
        ctypes.POINTER(LearnOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_priors_merge": (ctypes.c_int32, [
        ctypes.POINTER(ctypes.c_char_p),
        ctypes.POINTER(ctypes.c_size_t),
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_priors_diff_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_priors_backtest_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(Records),
        ctypes.POINTER(BacktestOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_check_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_explain_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_diff_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_new_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_draw_svg": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_circuit_expand_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_schema_json": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(OwnedText),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_load": (ctypes.c_int32, [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_int32,
        ctypes.POINTER(NetworkOptions),
        ctypes.POINTER(Handle),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_free": (None, [Handle]),
    "faultodds_network_variable_count": (ctypes.c_uint32, [Handle]),
    "faultodds_network_variable_name": (ctypes.c_char_p, [Handle, ctypes.c_uint32]),
    "faultodds_network_state_count": (ctypes.c_uint32, [Handle, ctypes.c_uint32]),
    "faultodds_network_state_name": (ctypes.c_char_p, [Handle, ctypes.c_uint32, ctypes.c_uint32]),
    "faultodds_network_posterior_count": (ctypes.c_size_t, [Handle]),
    "faultodds_network_find_variable": (ctypes.c_int32, [
        Handle,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_uint32),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_find_state": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_uint32),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_read_statistics": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(NetworkStatistics),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_query": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(NetworkEvidence),
        ctypes.c_size_t,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(ctypes.c_double),
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_size_t),
        ctypes.POINTER(ctypes.c_double),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_open": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(Handle),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_free": (None, [Handle]),
    "faultodds_network_case_observe": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(NetworkEvidence),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_retract": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_solve": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(CallOptions),
        ctypes.POINTER(ctypes.c_double),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_posterior": (ctypes.c_int32, [
        Handle,
        ctypes.c_uint32,
        ctypes.POINTER(ctypes.c_double),
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_size_t),
        ctypes.POINTER(Handle),
    ]),
    "faultodds_network_case_posteriors": (ctypes.c_int32, [
        Handle,
        ctypes.POINTER(ctypes.c_double),
        ctypes.c_size_t,
        ctypes.POINTER(ctypes.c_size_t),
        ctypes.POINTER(Handle),
    ]),
}
