"""What is freed by close() or at the end of a ``with``."""

from types import TracebackType
from typing import Optional, Type, TypeVar

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
