"""The one exception of the binding."""


class FaultoddsError(Exception):
    """The library refused a call.

    code     what went wrong, for programs: "invalid_case", "conflicting_evidence", ...
    message  a sentence for a person: the field, the value and what was expected
    pointer  RFC 6901 JSON pointer into the document at fault; "" for the whole of it
    """

    def __init__(self, code: str, message: str, pointer: str = "") -> None:
        super().__init__(code, message, pointer)
        self.code = code
        self.message = message
        self.pointer = pointer

    def __str__(self) -> str:
        place = f" (at {self.pointer})" if self.pointer else ""
        return f"{self.code}: {self.message}{place}"
