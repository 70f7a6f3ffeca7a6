"""Which commands are open where, and how a doubtful one is taken.

Sets of tokens from ``commands.jsgf``. The machine reads them; nothing is decided here by branches.
"""

from __future__ import annotations

from handsfree.dialogue.states import State

__all__ = [
    "ALARM",
    "CONFIRM",
    "GOTO",
    "HELPER",
    "MENU",
    "NEVER_WHEN_DOUBTFUL",
    "OBEYED_WHEN_DOUBTFUL",
    "PAUSED",
    "QUESTION",
    "REFUSALS",
    "TELLING",
    "TIMED",
    "open_in",
]

REFUSALS = {
    "skip": "skipped",
    "cant_see": "cannot_see",
    "wont_let": "dog_refused",
    "dont_know": "not_known",
}
"""Command to the reason that is stored."""

QUESTION = frozenset({"help", "repeat", "back", "pause", "stop", "options", *REFUSALS})
CONFIRM = QUESTION - {"cant_see", "wont_let", "dont_know", "options"}
TIMED = frozenset({"help", "back", "pause", "stop", "scrap", "skip", "wont_let", "cant_see"})
PAUSED = frozenset({"resume", "stop"})
_RARE = frozenset({"slower", "faster", "where", "goto", "remaining"})
MENU = _RARE | {"keys", "resume", "help", "repeat", "pause", "stop"}
GOTO = frozenset({"help", "back", "repeat", "pause", "stop"})
HELPER = frozenset({"help", "repeat", "pause", "stop"})
ALARM = frozenset({"go_on", "repeat", "told", "pause", "stop"})
TELLING = frozenset({"repeat", "done", "pause", "stop"})

_OPEN: dict[State, frozenset[str]] = {
    State.READY: frozenset(),
    State.HELPER: HELPER,
    # What the menu holds is open at a question as well to one who types it.
    State.ASKING: QUESTION | _RARE | {"keys"},
    State.CONFIRMING: CONFIRM,
    State.PRESSING: TIMED | _RARE | {"repeat", "options", "dont_know"},
    State.HOLDING: TIMED | {"repeat"},
    State.TIMING: TIMED | {"repeat"},
    State.RESTING: TIMED | {"repeat"},
    State.COUNT_READY: QUESTION | _RARE,
    State.COUNTING: TIMED | {"repeat"},
    State.OPTIONS: MENU,
    State.GOTO: GOTO,
    State.PAUSED: PAUSED,
    State.ALARM: ALARM,
    State.CONCLUDING: frozenset({"stop"}),
    State.TELLING: TELLING,
    State.FINISHED: frozenset(),
}


def open_in(state: State) -> frozenset[str]:
    """Return the commands that are obeyed while the exam is in ``state``."""
    return _OPEN[state]


OBEYED_WHEN_DOUBTFUL = {"stop": "pause", "pause": "pause", "repeat": "repeat", "help": "help"}
"""A doubtful stop or pause is obeyed, by falling silent."""

NEVER_WHEN_DOUBTFUL = frozenset({"goto", *REFUSALS})
"""Not obeyed on a doubtful hearing, however often."""
