"""The errors that users may see, split by whose fault they are.

Every message says what happened, to what, and what to do next. Nothing but error types lives here,
so that any module can import it without a loop.
"""

from __future__ import annotations

__all__ = [
    "CallerError",
    "DataError",
    "DeviceError",
    "EngineError",
    "HandsfreeError",
    "HeardError",
]


class HandsfreeError(Exception):
    """Base of all errors that are told to a person; never raised itself.

    Args:
        message: What happened, to what, and what to do next, in one or two plain sentences.
    """

    exit_code = 1

    def __init__(self, message: str) -> None:
        if type(self) is HandsfreeError:
            msg = "HandsfreeError is a base: raise one of its children"
            raise TypeError(msg)
        super().__init__(message)


class CallerError(HandsfreeError):
    """What was asked for cannot be done as asked: an unknown dog, a wrong option."""

    exit_code = 2


class HeardError(HandsfreeError):
    """What was said cannot be taken as an answer: a number out of reach, words in a wrong order."""

    exit_code = 3


class DeviceError(HandsfreeError):
    """Microphone, loudspeaker or their driver is missing, silent or lost."""

    exit_code = 4


class DataError(HandsfreeError):
    """A file or database is broken, foreign, or of a newer version."""

    exit_code = 5


class EngineError(HandsfreeError):
    """A speech engine, voice or model is missing or does not work."""

    exit_code = 6
