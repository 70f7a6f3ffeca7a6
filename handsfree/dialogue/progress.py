"""How far the exam has come: the plan, the answers so far, and what is due next.

Bookkeeping only: it makes no sentence and no sound. Answers are numbered here, and one that
corrects another names it. Absence is never normal: what is passed over stays due.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.dialogue.events import PriorAnswer
from handsfree.dialogue.turn import Answer, Held
from handsfree.protocol.plan import Given, Step, due

__all__ = ["Progress", "Settled"]

Place = tuple[str, str | None]
"""An item and its side."""


@dataclass(frozen=True, kw_only=True)
class Settled:
    """The latest answer at a place."""

    ref: int
    status: Status
    value: str | float | None
    unit: str | None
    confirmed: Confirmed
    reason: str | None = None

    @property
    def is_settled(self) -> bool:
        """Whether it was observed and confirmed."""
        return self.status is Status.OBSERVED and self.confirmed is Confirmed.CONFIRMED


@dataclass
class Progress:
    """The plan and where the exam stands in it."""

    steps: tuple[Step, ...]
    answers: dict[Place, Settled] = field(default_factory=dict)
    order: list[Place] = field(default_factory=list)
    """Places in the order in which they were answered, for going back."""
    next_ref: int = 1
    index: int = -1
    reopened: set[Place] = field(default_factory=set)
    """Places to be asked anew although they have an answer."""
    alarms: dict[Place, Held] = field(default_factory=dict)
    """The alarming answer given last at each place, whatever was confirmed there since."""
    _given: dict[str, dict[Place, Given]] = field(default_factory=dict)
    """The answers by item, as the protocol's conditions need them."""
    _of_machine: set[Place] = field(default_factory=set)
    """Places that the machine filled by itself: no one goes back to them."""

    def restore(self, prior: tuple[PriorAnswer, ...]) -> None:
        """Take over the answers of an exam that resumes; doubtful ones are asked anew."""
        for answer in prior:
            place = (answer.item, answer.side)
            settled = Settled(
                ref=answer.ref,
                status=Status(answer.status),
                value=answer.value,
                unit=answer.unit,
                confirmed=Confirmed(answer.confirmed),
                reason=answer.reason,
            )
            self._note(place, settled)
            self._restore_alarm(place, answer)
            self.next_ref = max(self.next_ref, answer.ref + 1)
            if settled.status is not Status.NOT_APPLICABLE:
                self.order.append(place)
            self.reopened.discard(place)
            if settled.confirmed is Confirmed.UNCONFIRMED and settled.reason != "undone":
                self.reopened.add(place)
            if settled.reason in {"undone", "retracted"}:
                self.reopened.add(place)
        if self.order:
            # Go on behind the last answer, or with it where it was not settled.
            last = self._index_of(self.order[-1])
            if last is not None:
                self.index = last - 1 if self.order[-1] in self.reopened else last

    def _restore_alarm(self, place: Place, answer: PriorAnswer) -> None:
        index = self._index_of(place)
        alarming = self.steps[index].question.alarming if index is not None else ()
        # Only the latest answer has a number here: an earlier one is recorded anew when it returns.
        given = [(0, value) for value in answer.earlier]
        if isinstance(answer.value, str):
            given.append((answer.ref, answer.value))
        for ref, value in given:
            if value in alarming:
                again = Answer(value=value, by="machine")
                self.alarms[place] = Held(ref=ref, answer=again, alarming=True)

    @property
    def step(self) -> Step:
        """The step being asked."""
        return self.steps[self.index]

    def is_open(self, step: Step) -> bool:
        """Whether this step still wants an answer."""
        place = (step.item, step.side)
        if place in self.answers and place not in self.reopened:
            return False
        return due(step, self._given_for(step))

    def standing_alarm(self, place: Place) -> Held | None:
        """Return the alarming answer at ``place`` that no other, confirmed answer has replaced."""
        held, latest = self.alarms.get(place), self.answers.get(place)
        if held is not None and latest is not None and latest.is_settled:
            return held if latest.ref == held.ref else None
        return held

    def find_next(self) -> int | None:
        """Return the index of the next open step: onwards first, then what was passed over."""
        count = len(self.steps)
        for offset in range(1, count + 1):
            index = (self.index + offset) % count
            if self.is_open(self.steps[index]):
                return index
        return None

    def has_region(self, region: str) -> bool:
        """Whether there is anything to ask in this region."""
        return any(s.region.id == region and s.applicable for s in self.steps)

    def go_to_region(self, region: str) -> None:
        """Make every step of ``region`` open and stand just before it."""
        indices = [i for i, s in enumerate(self.steps) if s.region.id == region and s.applicable]
        places = [(self.steps[i].item, self.steps[i].side) for i in indices]
        self.reopened.update(place for place in places if place in self.answers)
        self.index = indices[0] - 1

    def skip_to(self, place: Place) -> None:
        """Stand at ``place``, which is not asked any more."""
        index = self._index_of(place)
        if index is not None:
            self.index = index
            self.reopened.discard(place)

    def previous(self) -> Place | None:
        """Return the place answered last that is not the open one, or None."""
        here = (self.step.item, self.step.side) if self.index >= 0 else None
        for place in reversed(self.order):
            if place == here or place in self._of_machine:
                continue
            if self._index_of(place) is not None:
                return place
        return None

    def reopen(self, place: Place) -> None:
        """Stand just before ``place``, which is to be asked anew."""
        index = self._index_of(place)
        assert index is not None
        self.reopened.add(place)
        while place in self.order:
            self.order.remove(place)
        self.index = index - 1

    def number(self, record: Record) -> Record:
        """Number ``record``, let it name what it corrects, and count it as the latest answer."""
        place = (record.item, record.side)
        before = self.answers.get(place)
        numbered = replace(
            record, ref=self.next_ref, supersedes=before.ref if before is not None else None
        )
        self.next_ref += 1
        settled = Settled(
            ref=numbered.ref,
            status=record.status,
            value=record.value,
            unit=record.unit,
            confirmed=record.confirmed,
            reason=record.reason,
        )
        self._note(place, settled)
        self.reopened.discard(place)
        if record.by == "machine" and record.status is not Status.OBSERVED:
            self._of_machine.add(place)
        else:
            self._of_machine.discard(place)
        if record.status is not Status.NOT_APPLICABLE:
            while place in self.order:
                self.order.remove(place)
            self.order.append(place)
        return numbered

    def settle(self, ref: int, confirmed: Confirmed) -> None:
        """Note how far the answer ``ref`` is settled."""
        for place, settled in self.answers.items():
            if settled.ref == ref:
                self.answers[place] = replace(settled, confirmed=confirmed)

    def regions_left(self) -> list[str]:
        """Return the titles of the regions that still have an open step, in order."""
        titles = [s.region.title for s in self.steps if self.is_open(s) and s.applicable]
        return list(dict.fromkeys(titles))

    def _note(self, place: Place, settled: Settled) -> None:
        self.answers[place] = settled
        given = self._given.setdefault(place[0], {})
        given[place] = Given(status=settled.status.value, value=settled.value)

    def _given_for(self, step: Step) -> dict[Place, Given]:
        """Return the answers that this step's conditions look at: few, so that asking is cheap."""
        return {
            place: given
            for condition in (*step.when, *step.when_side)
            for place, given in self._given.get(condition.item, {}).items()
        }

    def _index_of(self, place: Place) -> int | None:
        for index, step in enumerate(self.steps):
            if (step.item, step.side) == place:
                return index
        return None
