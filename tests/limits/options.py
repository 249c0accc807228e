"""The option structs of the C interface, as ctypes has them."""
import ctypes


class CallOptions(ctypes.Structure):
    """faultodds_call_options."""

    _fields_ = [("struct_size", ctypes.c_size_t), ("cancel", ctypes.c_void_p)]


class NetworkOptions(ctypes.Structure):
    """faultodds_network_options."""

    _fields_ = [("struct_size", ctypes.c_size_t), ("memory_budget", ctypes.c_uint64), ("cancel", ctypes.c_void_p)]
