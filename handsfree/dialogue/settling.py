"""What an answer is worth until it is settled: the echo, undoing, and alarms that are not dropped.

A normal answer stands once the person goes on after its echo. An alarming one that was denied,
undone or left is kept as possible until another answer is confirmed in its place, and again once
that other answer is taken back; where a later answer already stands there, the alarming one is
recorded anew, so that the last word is never lost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue.actions import Confirmed, Status
from handsfree.dialogue.turn import Held
from handsfree.protocol.plan import Step

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Settling"]

Place = tuple[str, str | None]


class Settling:
    """Keeps echoes and doubts."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._echo: tuple[str, ...] = ()
        self._tentative: int | None = None
        self._last: tuple[str, int, Place] | None = None

    # the echo

    def echo_later(self, ref: int, said: str) -> None:
        """Say ``said`` inside the next prompt; ``ref`` stands once the person goes on."""
        self._tentative = ref
        self._echo = (said,)

    def take_echo(self) -> tuple[str, ...]:
        """Return the last normal answer as it is echoed, once."""
        echo, self._echo = self._echo, ()
        return echo

    def settle_echo(self) -> None:
        """The person went on after the echo: the answer stands."""
        if self._tentative is not None:
            self._desk.confirm(self._tentative)
            self._tentative = None

    # what can be retracted

    def remember(self, start: int, place: Place) -> None:
        """The utterance that began at ``start`` was taken at ``place``."""
        assert self._desk.event is not None
        self._last = (self._desk.event.stream, start, place)

    def retractable(self, stream: str, start: int) -> Place | None:
        """Return where the utterance that began at ``start`` was taken, or None."""
        if self._last is None or self._last[:2] != (stream, start):
            return None
        place = self._last[2]
        self._last = None
        return place if place in self._desk.progress.answers else None

    # undoing

    def undo(self, place: Place, reason: str) -> None:
        """Take back the answer at ``place``, to be asked anew.

        An alarming one stays meanwhile, and one that the answer taken back had replaced returns.
        """
        desk = self._desk
        settled = desk.progress.answers[place]
        if self._tentative == settled.ref:
            self._tentative = None
        self._echo = ()
        self._parts.alarms.forget(settled.ref)
        step, alarm = self._step(place), desk.progress.alarms.get(place)
        if alarm is None:
            desk.record_missing(step, Status.NOT_OBSERVED, reason)
        elif alarm.ref != settled.ref:
            desk.record(alarm.answer, step, Confirmed.POSSIBLE)
        elif settled.confirmed is not Confirmed.POSSIBLE:
            desk.confirm(settled.ref, Confirmed.POSSIBLE)

    # what must not be lost

    def keep_possible(self, held: Held) -> None:
        """Keep an alarming answer of the open question that is not settled."""
        turn = self._desk.turn
        assert turn is not None
        self._keep(turn.step, held)
        turn.doubt = None

    def keep_standing(self, step: Step) -> bool:
        """Keep what was answered at a step that cannot be asked any more; False if nothing was."""
        progress, place = self._desk.progress, (step.item, step.side)
        alarm, latest = progress.standing_alarm(place), progress.answers.get(place)
        if alarm is not None:
            self._keep(step, alarm)
        elif latest is not None and latest.is_settled:
            progress.reopened.discard(place)
        else:
            return False
        return True

    def keep_all(self) -> None:
        """The check ends: keep every alarm that stands, also one not asked anew after a crash."""
        for step in self._desk.progress.steps:
            alarm = self._desk.progress.standing_alarm((step.item, step.side))
            if alarm is not None:
                self._keep(step, alarm)

    def _keep(self, step: Step, held: Held) -> None:
        desk, place = self._desk, (step.item, step.side)
        latest = desk.progress.answers[place]
        if latest.ref != held.ref:
            desk.record(held.answer, step, Confirmed.POSSIBLE)
        elif latest.confirmed is Confirmed.UNCONFIRMED:
            desk.confirm(held.ref, Confirmed.POSSIBLE)
        desk.progress.reopened.discard(place)

    def leave_open(self) -> None:
        """The open question is left: keep what could alarm; the question stays due."""
        desk, turn = self._desk, self._desk.turn
        if turn is None:
            return
        held = turn.doubt
        unsettled = turn.pending is not None
        if turn.pending is not None and turn.pending.alarming:
            held = turn.pending
        turn.pending = None
        if held is not None:
            self.keep_possible(held)
        if held is not None or unsettled:
            desk.progress.reopened.add(turn.place)

    def _step(self, place: Place) -> Step:
        return next(s for s in self._desk.progress.steps if (s.item, s.side) == place)
