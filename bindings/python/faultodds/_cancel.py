"""What ends a call from outside."""

import ctypes
from contextlib import contextmanager, suppress
from typing import Iterator, Optional

from ._closing import Shared
from ._documents import failure
from ._declarations import CallOptions, Handle
from ._library import library


class Cancel(Shared):
    """Ends the calls it is given to as ``cancel``: they raise FaultoddsError with the code "cancelled".
    What they were called on can be used on. One object may serve any number of calls and threads.

    A call does not notice Ctrl-C; one made in another thread can be ended with ``now`` when it comes.
    """

    def __init__(self, seconds: Optional[float] = None) -> None:
        """``seconds``: as ``after``."""
        super().__init__("Cancel", "faultodds_cancel_free")
        handle, error = Handle(), Handle()
        status = library().faultodds_cancel_new(ctypes.byref(handle), ctypes.byref(error))
        if status != 0:
            raise failure(status, error)
        self._handle = handle
        if seconds is not None:
            self.after(seconds)

    def now(self) -> None:
        """Ends the calls that have it, and those that are given it later."""
        with self._using() as handle:
            library().faultodds_cancel_now(handle)

    def after(self, seconds: float) -> None:
        """Ends them so many seconds from now, in place of a time given before."""
        if not seconds >= 0:
            raise ValueError(f"seconds is {seconds}; expected 0 or more")
        milliseconds = min(int(min(seconds, 1e15) * 1000), 2**64 - 1)
        with self._using() as handle:
            library().faultodds_cancel_after_ms(handle, milliseconds)

    def reset(self) -> None:
        """As when new."""
        with self._using() as handle:
            library().faultodds_cancel_reset(handle)

    def close(self) -> None:
        """Ends the calls that still have it, waits for them and frees it. May be called again."""
        with suppress(ValueError):  # closed already
            self.now()
        super().close()


@contextmanager
def ending(cancel: Optional[Cancel]) -> Iterator[Optional[Handle]]:
    """For the options of a call: what ends it, which is not freed meanwhile; NULL where nothing shall."""
    if cancel is None:
        yield None
        return
    with cancel._using() as handle:
        yield handle


@contextmanager
def until(cancel: Optional[Cancel]) -> "Iterator[Optional[ctypes._Pointer[CallOptions]]]":
    """For a call that takes nothing else: its options, NULL where nothing shall end it."""
    if cancel is None:
        yield None
        return
    with ending(cancel) as handle:
        yield ctypes.pointer(CallOptions(ctypes.sizeof(CallOptions), handle))
