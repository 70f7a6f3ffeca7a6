"""Which commands are open where, and how a doubtful one is taken.

Sets of tokens from ``commands.jsgf``. The machine reads them; nothing is decided here by branches.
"""

from __future__ import annotations

__all__ = [
    "ALARM",
    "CONFIRM",
    "GOTO",
    "MENU",
    "OBEYED_WHEN_DOUBTFUL",
    "PAUSED",
    "QUESTION",
    "REFUSALS",
    "TELLING",
    "TIMED",
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
MENU = frozenset(
    {"slower", "faster", "where", "goto", "remaining", "resume", "repeat", "pause", "stop"}
)
GOTO = frozenset({"back", "repeat", "pause", "stop"})
ALARM = frozenset({"go_on", "repeat", "told", "pause", "stop"})
TELLING = frozenset({"repeat", "done", "pause", "stop"})

OBEYED_WHEN_DOUBTFUL = {"stop": "pause", "pause": "pause", "repeat": "repeat", "help": "help"}
"""A doubtful stop or pause is obeyed, by falling silent; a doubtful skip or go-to never is."""
