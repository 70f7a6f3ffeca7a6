"""What the room does to a check: too loud, spoke on, and answers about the past.

None of it is an answer. While a measurement runs nothing may sound, so it is said afterwards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue.actions import Hush
from handsfree.dialogue.events import Retracted, Told, TooLoud
from handsfree.dialogue.ladder import LAST_RUNG
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Room"]

Place = tuple[str, str | None]

_SAYS_NOTHING = {
    State.HOLDING,
    State.TIMING,
    State.RESTING,
    State.COUNTING,
    State.PAUSED,
    State.ALARM,
    State.CONCLUDING,
}
_STAYS = {State.PAUSED, State.ALARM, State.CONCLUDING}
"""Where a retracted answer is taken back without leaving what is open."""


class Room:
    """Takes what the room brings."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._said_loud = False
        self._retractions: dict[Place, int] = {}
        self._held: list[tuple[Place | None, str]] = []

    def too_loud(self, event: TooLoud) -> None:
        """The room is too loud to hear safely, or quiet again; said once."""
        desk = self._desk
        assert desk.opened is not None
        desk.note("too_loud" if event.loud else "quiet_again")
        if not event.loud or self._said_loud:
            return
        self._said_loud = True
        keys = (
            "Use keys or a headset, or wait." if desk.opened.has_keys else "Use a headset, or wait."
        )
        self._say_or_hold(f"It is too loud to hear you safely. {keys}")

    def told(self, event: Told) -> None:
        """An answer about the past: never before today's answer, so that it does not lead it."""
        place = (event.item, event.side) if event.item else None
        if place is not None and self._is_due(place):
            self._held.append((place, event.text))
            self._say_or_hold("I tell you after today's answer.")
        else:
            self._say_or_hold(event.text)

    def _say_or_hold(self, text: str) -> None:
        if self._desk.flow.state in _SAYS_NOTHING:
            self._held.append((None, text))
            return
        self._desk.say(text)
        self._parts.asking.listen_again()

    def held_back(self) -> tuple[str, ...]:
        """Return, once, what can be said by now."""
        ready = tuple(
            text for place, text in self._held if place is None or not self._is_due(place)
        )
        self._held = [(p, text) for p, text in self._held if p is not None and self._is_due(p)]
        return ready

    def _is_due(self, place: Place) -> bool:
        """Whether this item is still to be answered; without a side, any side of it."""
        item, side = place
        progress = self._desk.progress
        return any(
            step.applicable and progress.is_open(step)
            for step in progress.steps
            if step.item == item and side in (None, step.side)
        )

    # spoke on

    def retractions(self, place: Place) -> int:
        """Return how often an answer was taken back here because the person spoke on."""
        return min(self._retractions.get(place, 0), LAST_RUNG)

    def retracted(self, event: Retracted) -> None:
        """The person spoke on: what was taken as an answer was none, and is asked anew."""
        parts, desk, state = self._parts, self._desk, self._desk.flow.state
        place = parts.settling.retractable(event.stream, event.start)
        if place is None:
            return
        desk.emit(Hush())
        desk.note("retracted", item=place[0], side=place[1] or "")
        parts.drop_stage("spoke on")
        if desk.turn is not None and desk.turn.place != place:
            parts.settling.leave_open()
        parts.settling.undo(place, "retracted")
        desk.turn = None
        self._retractions[place] = self._retractions.get(place, 0) + 1
        if self._retractions[place] > LAST_RUNG:
            # So much talk is no conversation with us: the question is left.
            desk.progress.skip_to(place)
            before = "I leave that one open."
        else:
            desk.progress.reopen(place)
            before = "I did not take that as an answer."
        if state in _STAYS or (state is State.TELLING and parts.closing.stopped_early):
            if state is not State.CONCLUDING:
                parts.asking.listen_again(quiet=True)
            return
        parts.asking.next(before)
