"""The rarer commands: options, speed, where am I, what remains, go to, keys.

Each comes back to what was open, save go-to, which asks for the part with a grammar of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import SetPace, SpeechKind
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Menus"]

_AT_ONCE = 5
"""Parts named in one sentence, so that a long list can be stopped."""


class Menus:
    """Runs the menus."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def options(self) -> None:
        """Say what else can be said."""
        desk = self._desk
        assert desk.opened is not None
        if desk.flow.state is not State.OPTIONS:
            self._parts.drop_stage("left for the options")
            desk.flow.move("options")
        desk.ask("options")
        keys = "keys, " if desk.opened.has_keys else ""
        desk.say(
            f"Slower, faster, where am I, go to, what remains, {keys}or resume.",
            kind=SpeechKind.PROMPT,
        )
        desk.listen(commands=vocabulary.MENU)

    def pace(self, step: int) -> None:
        """Speak faster or slower from now on."""
        self._desk.emit(SetPace(step=step))
        self._parts.asking.reask("Faster." if step > 0 else "Slower.")

    def where(self) -> None:
        """Say which part is open and how many are left."""
        desk = self._desk
        assert desk.turn is not None
        left = len(desk.progress.regions_left())
        self._parts.asking.reask(
            f"You are at {desk.turn.step.region.title}.",
            "This is the last part." if left <= 1 else f"{left} parts to go, this one counted.",
        )

    def remaining(self) -> None:
        """Say what is left, a few parts at a time."""
        titles = self._desk.progress.regions_left()
        groups = [titles[i : i + _AT_ONCE] for i in range(0, len(titles), _AT_ONCE)]
        named = [f"{phrases.list_of(group, 'and')}." for group in groups]
        count = "One part remains:" if len(titles) == 1 else f"{len(titles)} parts remain:"
        self._desk.say(*(text[:1].upper() + text[1:] for text in (count, *named)),
                       kind=SpeechKind.HELP)  # fmt: skip
        self._parts.asking.reask()

    def keys(self) -> None:
        """Say the choices of the open question with their keys."""
        desk = self._desk
        assert desk.turn is not None
        if desk.turn.pending is None and desk.flow.state in (State.ASKING, State.OPTIONS):
            self._parts.ladder.by_key()
        else:
            self._parts.asking.reask()

    def goto(self) -> None:
        """Ask for the part."""
        desk = self._desk
        self._parts.drop_stage("left for another part")
        desk.flow.move("goto")
        desk.ask("goto")
        desk.say("Which part? For instance: the ears.", kind=SpeechKind.PROMPT)
        self.listen_region()

    def listen_region(self, *, quiet: bool = False) -> None:
        """Open the microphone for the name of a part."""
        self._desk.listen("region", commands=vocabulary.GOTO, quiet=quiet)

    def go_to(self, region: str) -> None:
        """Go there; all of it is asked, and what was answered there stands until answered anew."""
        desk, parts = self._desk, self._parts
        if not desk.progress.has_region(region):
            parts.asking.reask("That is not part of this check.")
            return
        parts.settling.settle_echo()
        parts.settling.leave_open()
        desk.progress.go_to_region(region)
        desk.turn = None
        parts.asking.enter_anew()
        parts.asking.next(f"Going to {desk.protocol.regions[region].title}.")
