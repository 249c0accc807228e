"""What is freed by close() or at the end of a ``with``."""

import threading
from contextlib import contextmanager
from types import TracebackType
from typing import Iterator, List, Optional, Type, TypeVar

from ._declarations import Handle
from ._library import library

Self = TypeVar("Self", bound="Closing")


class Closing:
    """Base of what owns a handle; each says itself what close() does."""

    def close(self) -> None:
        raise NotImplementedError

    def __enter__(self: Self) -> Self:
        return self

    def __exit__(
        self,
        kind: Optional[Type[BaseException]],
        value: Optional[BaseException],
        trace: Optional[TracebackType],
    ) -> None:
        self.close()


class Shared(Closing):
    """Base of what many threads may use at once."""

    def __init__(self, what: str, free: str) -> None:
        """``what``: its name in a refusal; ``free``: the library's function that frees it. ``_handle`` is the
        owner's to set."""
        self._what = what
        self._free = getattr(library(), free)
        self._handle: Optional[Handle] = None
        self._changing = threading.Condition()
        self._users: List[int] = []  # threads of the calls that have the handle

    def close(self) -> None:
        """Frees it once the calls that have it have returned. May be called again."""
        with self._changing:
            if threading.get_ident() in self._users:
                raise ValueError(f"a call of this thread has the {self._what}; expected none when it is closed")
            handle, self._handle = self._handle, None
            self._changing.wait_for(lambda: not self._users)
        if handle is not None:
            self._free(handle)

    @contextmanager
    def _using(self) -> Iterator[Handle]:
        """The handle, which is not freed meanwhile."""
        with self._changing:
            handle = self._handle
            if handle is None:
                raise ValueError(f"the {self._what} is closed")
            self._users.append(threading.get_ident())
        try:
            yield handle
        finally:
            with self._changing:
                self._users.remove(threading.get_ident())
                self._changing.notify_all()

    def __del__(self) -> None:
        # Nobody refers to it any more, so no call has the handle.
        handle = getattr(self, "_handle", None)
        if handle is not None:
            self._handle = None
            self._free(handle)
