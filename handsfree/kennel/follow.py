"""What follows from a dog's exam, before the next dog: flags, doses, and who was told.

Everything stored goes through the records' own doors.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from handsfree.kennel import wordings
from handsfree.kennel.asking import Asker
from handsfree.kennel.contagion import signs_in
from handsfree.kennel.doses import challenge, state_of
from handsfree.kennel.findings import judge_left
from handsfree.kennel.model import ContactKind, DoseOutcome, FlagKind
from handsfree.kennel.order import Stop
from handsfree.kennel.question import STOP
from handsfree.protocol.loader import load
from handsfree.records.store import Store

__all__ = ["Follow"]

_NOT_ABOUT_LOOKS = ("kennel.medicine", "kennel.looks", "kennel.drunk")
"""Answers that put no dog on the list for a full check by themselves."""
_CONTACTS = {"vet": ContactKind.VET, "owner": ContactKind.OWNER}


class Follow:
    """Asks and stores what follows.

    Args:
        store: The records.
        asker: Asks.
        person_id: Who leads at this moment.
        now: The time, with offset.
    """

    def __init__(
        self,
        store: Store,
        asker: Asker,
        person_id: Callable[[], str | None],
        now: Callable[[], datetime],
    ) -> None:
        self._store = store
        self._asker = asker
        self._person_id = person_id
        self._now = now

    def flags(self, stop: Stop, values: Mapping[str, object]) -> tuple[str, ...] | None:
        """Raise what flags follow; return the dogs of its pen flagged with it, None for no sign."""
        signs = signs_in(values.items())
        if signs:
            return self._flag(stop, ", ".join(signs))
        if why := _for_a_full_check(values):
            self._store.rounds.flag(
                stop.dog_id, FlagKind.FULL_CHECK, why, person_id=self._person_id()
            )
            self._asker.say(f"{stop.name} is on the list for a full check.")
        return None

    def after(self, stop: Stop, exam_id: str, values: Mapping[str, object]) -> None:
        """Ask for doses, and for who was told of what cannot wait."""
        word = values.get("kennel.medicine")
        if word in ("given", "missed", "refused"):
            self._doses(stop.dog_id, DoseOutcome(str(word)))
        elif word == "not_due":
            for line in self.medicine_lines(stop.dog_id):
                self._asker.say(f"By what is stored that is not so. {line}")
        self.told(exam_id)

    def told(self, exam_id: str) -> None:
        """Ask who was told of what cannot wait in this exam."""
        for dog_id, found_in, rule, say in self._store.rounds.open_findings():
            if found_in == exam_id:
                self._who_was_told(dog_id, found_in, rule, say)

    def _flag(self, stop: Stop, why: str) -> tuple[str, ...]:
        rounds, person_id = self._store.rounds, self._person_id()
        mates = tuple(
            dog
            for dog, pen in self._store.kennel.placed().items()
            if pen == stop.pen_id and dog != stop.dog_id
        )
        up = {(f.dog_id, f.kind): f.why for f in rounds.flags()}
        if up.get((stop.dog_id, FlagKind.CONTAGIOUS)) == why and all(
            (mate, FlagKind.EXPOSED) in up for mate in mates
        ):
            return mates  # known already
        with self._store.transaction():
            rounds.flag(stop.dog_id, FlagKind.CONTAGIOUS, why, person_id=person_id)
            rounds.flag(stop.dog_id, FlagKind.FULL_CHECK, why, person_id=person_id)
            for mate in mates:
                rounds.flag(
                    mate, FlagKind.EXPOSED, why, from_dog_id=stop.dog_id, person_id=person_id
                )
        names = [self._store.dogs.get(mate).name for mate in mates]
        if len(names) > 1:
            others = f" {', '.join(names)} share its pen and are flagged too."
        else:
            others = f" {names[0]} shares its pen and is flagged too." if names else ""
        self._asker.say(
            f"{stop.name} is flagged: {why} may be catching.{others}",
            "Isolation is proposed; ask the vet.",
        )
        return mates

    # medicines

    def medicine_lines(self, dog_id: str) -> tuple[str, ...]:
        """Return which medicine is due or missed, with its last stored dose."""
        lines = []
        doses = self._store.rounds.doses(dog_id)
        for medicine in self._store.kennel.medicines.all(dog_id=dog_id):
            state = state_of(medicine, doses, self._now())
            if state.word in ("due", "missed"):
                last = f"last stored {state.last.given_at:%H:%M}" if state.last else "none stored"
                lines.append(
                    f"{medicine.name}, {medicine.amount}, set by {medicine.set_by}: "
                    f"{state.word}, {last}."
                )
        return tuple(lines)

    def _doses(self, dog_id: str, outcome: DoseOutcome) -> None:
        asker, medicines = self._asker, self._store.kennel.medicines.all(dog_id=dog_id)
        if not medicines:
            asker.say("No medicine is set for this dog: ask who set it. Nothing was stored of it.")
            return
        doses = self._store.rounds.doses(dog_id)
        for medicine in medicines:
            state = state_of(medicine, doses, self._now())
            if state.word in ("not_begun", "ended"):
                continue
            early = challenge(state, self._now()) if outcome is DoseOutcome.GIVEN else ""
            if (early and not asker.yes(wordings.dose(medicine, outcome.value, early=early))) or (
                not asker.yes(wordings.dose(medicine, outcome.value))
            ):
                asker.say(f"Not stored: {medicine.name}.")
                continue
            self._store.rounds.dose(
                medicine.id, dog_id, outcome, amount=medicine.amount, given_at=self._now(),
                early=bool(early), person_id=self._person_id(),
            )  # fmt: skip
            asker.say(f"Stored: {medicine.name}, {medicine.amount}, {outcome.value}.")

    # what cannot wait

    def chase(self) -> None:
        """Come back to each finding of the highest level until somebody acknowledges it."""
        judge_left(self._store, self._now())
        for dog_id, exam_id, rule, say in self._store.rounds.open_findings():
            if self._asker.gone:
                return
            told = [t for t in self._store.rounds.told(exam_id) if t.rule == rule]
            name = self._store.dogs.get(dog_id).name
            if not told:
                self._who_was_told(dog_id, exam_id, rule, say)
            elif self._asker.yes(wordings.acknowledged(name, say, told[-1].name)):
                self._store.rounds.tell(
                    dog_id, exam_id, rule, told[-1].name, acknowledged=True,
                    person_id=self._person_id(),
                )  # fmt: skip

    def _who_was_told(self, dog_id: str, exam_id: str, rule: str, say: str) -> None:
        asker = self._asker
        who = asker.ask(wordings.told(self._store.dogs.get(dog_id).name, say))
        name = self._whom(dog_id, who)
        if not name:
            if not asker.gone:
                asker.say("Nobody yet: I ask again.")
            return
        when = self._clock(asker.ask(wordings.when_told()))
        self._store.rounds.tell(
            dog_id, exam_id, rule, name, told_at=when, person_id=self._person_id()
        )
        asker.say(f"Stored: {name} was told at {when}.")

    def _whom(self, dog_id: str, token: str | None) -> str:
        """Return the name to store; empty for nobody."""
        if token in (None, STOP, wordings.NOBODY):
            return ""
        assert token is not None
        if token == "other":
            return self._asker.spelled()
        kind = _CONTACTS.get(token)
        if kind is not None:
            known = [c for c in self._store.kennel.contacts.all(dog_id=dog_id) if c.kind is kind]
            return known[0].name if len(known) == 1 else f"the {token}"
        return f"the {token}" if token == "manager" else token.removeprefix("text:")

    def _clock(self, token: str | None) -> str:
        """Return a time of the day: typed, so many minutes ago, or now."""
        if token is not None and ":" in token:
            return token
        minutes = int(token) if token is not None and token.isdigit() else 0
        return f"{self._now() - timedelta(minutes=minutes):%H:%M}"


def _for_a_full_check(values: Mapping[str, object]) -> str:
    """Return which answers put a dog on the list for a full check, in words; empty for none."""
    protocol = load()
    found = []
    for item, value in values.items():
        if item in _NOT_ABOUT_LOOKS or not isinstance(value, str):
            continue
        question = protocol.question(item)
        if value in question.alarming or (
            question.normal and value not in question.normal and item != "kennel.eaten"
        ):
            found.append(question.values[value].lower())
    return ", ".join(found)
