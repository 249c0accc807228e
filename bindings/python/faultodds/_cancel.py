"""What ends a call from outside."""

import ctypes
from typing import Optional

from ._closing import Closing
from ._documents import failure
from ._library import Handle, library


class Cancel(Closing):
    """Ends the calls it is given to as ``cancel``: they raise FaultoddsError with the code "cancelled".
    What they were called on can be used on. One object may serve any number of calls and threads.

    A call does not notice Ctrl-C; one made in another thread can be ended with ``now`` when it comes.
    """

    def __init__(self, seconds: Optional[float] = None) -> None:
        """``seconds``: as ``after``."""
        self._handle: Optional[Handle] = None
        handle, error = Handle(), Handle()
        status = library().faultodds_cancel_new(ctypes.byref(handle), ctypes.byref(error))
        if status != 0:
            raise failure(status, error)
        self._handle = handle
        if seconds is not None:
            self.after(seconds)

    def now(self) -> None:
        """Ends the calls that have it, and those that are given it later."""
        library().faultodds_cancel_now(self._handle)

    def after(self, seconds: float) -> None:
        """Ends them so many seconds from now, in place of a time given before."""
        if not seconds >= 0:
            raise ValueError(f"seconds is {seconds}; expected 0 or more")
        milliseconds = min(int(min(seconds, 1e15) * 1000), 2**64 - 1)
        library().faultodds_cancel_after_ms(self._handle, milliseconds)

    def reset(self) -> None:
        """As when new."""
        library().faultodds_cancel_reset(self._handle)

    def close(self) -> None:
        """Frees it, which no call may have then. May be called again."""
        handle, self._handle = self._handle, None
        if handle is not None:
            library().faultodds_cancel_free(handle)

    def __del__(self) -> None:
        if getattr(self, "_handle", None) is not None:
            self.close()


def handle_of(cancel: Optional[Cancel]) -> Optional[Handle]:
    """For a call: NULL where nothing shall end it."""
    if cancel is None:
        return None
    if cancel._handle is None:
        raise ValueError("the Cancel is closed")
    return cancel._handle
