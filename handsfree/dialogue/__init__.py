"""The exam machine: events in, actions out; imports no audio, clock, file, database or engine.

What is small is at hand at once. ``Exam`` and ``State`` bring the state machine with them, so they
are fetched when first asked for: records and commands need only the shapes.
"""

from typing import TYPE_CHECKING, Any

from handsfree.dialogue.actions import (
    Action,
    Ask,
    Conclude,
    Confirm,
    Confirmed,
    Finish,
    Hush,
    Inquire,
    Listen,
    LogFact,
    Measure,
    Record,
    SetPace,
    Speak,
    SpeechKind,
    Status,
    Tick,
    Tone,
    ToneName,
)
from handsfree.dialogue.events import (
    Alarmed,
    Concluded,
    DeviceLost,
    DeviceRegained,
    Event,
    Heard,
    Key,
    Keyed,
    Opened,
    PriorAnswer,
    Retracted,
    Silence,
    SpokenOut,
    Stopped,
    Ticked,
    Told,
    TooLoud,
)

if TYPE_CHECKING:
    from handsfree.dialogue.machine import Exam
    from handsfree.dialogue.states import State

__all__ = [
    "Action",
    "Alarmed",
    "Ask",
    "Conclude",
    "Concluded",
    "Confirm",
    "Confirmed",
    "DeviceLost",
    "DeviceRegained",
    "Event",
    "Exam",
    "Finish",
    "Heard",
    "Hush",
    "Inquire",
    "Key",
    "Keyed",
    "Listen",
    "LogFact",
    "Measure",
    "Opened",
    "PriorAnswer",
    "Record",
    "Retracted",
    "SetPace",
    "Silence",
    "Speak",
    "SpeechKind",
    "SpokenOut",
    "State",
    "Status",
    "Stopped",
    "Tick",
    "Ticked",
    "Told",
    "Tone",
    "ToneName",
    "TooLoud",
]


def __getattr__(name: str) -> Any:
    """Fetch what brings the state machine with it."""
    if name == "Exam":
        from handsfree.dialogue.machine import Exam

        return Exam
    if name == "State":
        from handsfree.dialogue.states import State

        return State
    msg = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(msg)
