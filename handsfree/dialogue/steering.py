"""Commands: one table from word to deed; which are open where stands in ``vocabulary``."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Verdict

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Steering"]

Spot = tuple[State, str, str | None, int]
"""Where help was given: asked for a repeat there, it is given again."""


class Steering:
    """Obeys commands."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._helped_at: Spot | None = None
        # Bound late, because the other parts are being made as well.
        self._commands: dict[str, Callable[[], None]] = {
            "help": self._help,
            "repeat": self._repeat,
            "back": self._back,
            "pause": lambda: parts.pausing.pause("asked"),
            "resume": lambda: parts.pausing.resume(),
            "stop": lambda: parts.closing.stop(),
            "options": lambda: parts.menus.options(),
            "slower": lambda: parts.menus.pace(-1),
            "faster": lambda: parts.menus.pace(+1),
            "where": lambda: parts.menus.where(),
            "goto": lambda: parts.menus.goto(),
            "remaining": lambda: parts.menus.remaining(),
            "keys": lambda: parts.menus.keys(),
            "scrap": self._scrap,
            "go_on": lambda: parts.alarms.go_on(),
            "told": lambda: parts.alarms.told_someone(),
            "done": lambda: parts.closing.done(),
            **{word: self._refuser(reason) for word, reason in vocabulary.REFUSALS.items()},
        }

    def heard(self, word: str, verdict: Verdict) -> None:
        """A command was heard: a refusal can be retracted; the echo before it stands."""
        turn = self._desk.turn
        if turn is not None and word in vocabulary.REFUSALS:
            self._parts.settling.remember(verdict.start, turn.place)
        self.obey(word)

    def typed(self, word: str) -> bool:
        """Obey a typed command; return False if it is not open here."""
        return self.obey(word)

    def obey(self, word: str) -> bool:
        """Do what ``word`` says; return False, with nothing done, if it is not open here."""
        if word not in vocabulary.open_in(self._desk.flow.state):
            return False
        if word != "back":
            self._parts.settling.settle_echo()
        self._commands[word]()
        return True

    def _help(self) -> None:
        self._parts.asking.help()
        self._helped_at = self._spot()

    def _repeat(self) -> None:
        if self._helped_at is not None and self._helped_at == self._spot():
            self._help()
        else:
            self._parts.asking.repeat()

    def _spot(self) -> Spot | None:
        turn = self._desk.turn
        if turn is None:
            return None
        return (self._desk.flow.state, turn.step.item, turn.step.side, turn.attempt)

    def _back(self) -> None:
        """Undo: the menu, the read-back, the count just made, or the last answer."""
        desk, parts = self._desk, self._parts
        turn = desk.turn
        if desk.flow.state is State.GOTO:
            parts.asking.reask("Back.")
        elif turn is not None and turn.pending is not None:
            parts.read_back.deny()
        elif turn is not None and turn.window_s is not None:
            parts.asking.ask()
        else:
            self._back_to_last()

    def _back_to_last(self) -> None:
        desk, parts = self._desk, self._parts
        place = desk.progress.previous()
        if place is None:
            parts.asking.reask("This is the first question.")
            return
        parts.drop_stage("went back")
        parts.settling.leave_open()
        parts.settling.undo(place, "undone")
        desk.progress.reopen(place)
        desk.turn = None
        parts.asking.next("Back.")

    def _scrap(self) -> None:
        if self._desk.flow.state is State.COUNTING:
            self._parts.count.scrap()
        else:
            self._parts.refill.scrap()

    def _refuser(self, reason: str) -> Callable[[], None]:
        return lambda: self._parts.ladder.refuse(reason)
