"""A round over the records, by keys: the round machine between dogs, the exam machine at each.

Everything stored goes through the records' own doors; what follows from an exam (flags, doses, who
was told) is asked and stored here before the next dog.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from datetime import datetime

from handsfree.errors import CallerError
from handsfree.kennel.contagion import signs_in
from handsfree.kennel.doses import challenge, state_of
from handsfree.kennel.looks import Looks
from handsfree.kennel.model import DoseOutcome, FlagKind, RowKind
from handsfree.kennel.order import Stop, in_order
from handsfree.kennel.round import Begin, Ended, Note, Round, RoundAction, Say, SignIn
from handsfree.protocol.loader import load
from handsfree.records.dogs import age_months
from handsfree.records.model import Person
from handsfree.records.store import Store
from handsfree.session.assembly import open_check
from handsfree.session.runner import Judge
from handsfree.session.typed import TypedDriver

__all__ = ["FULL_WORDS_ROUNDS", "KeyRound", "stops_of"]

FULL_WORDS_ROUNDS = 10
"""After so many rounds a person gets short prompts, unless set otherwise."""

YOUNG_MONTHS = 6
"""A dog younger than this is seen first; our own judgement, awaiting a vet."""


def stops_of(store: Store, *, site_id: str | None, row_id: str | None, now: datetime) -> list[Stop]:
    """Return the dogs of a round, in order."""
    kennel = store.kennel
    flags = {(f.dog_id, f.kind) for f in store.rounds.flags()}
    placed = kennel.placed()
    stops = []
    for dog in store.dogs.all():
        pen_id = placed.get(dog.id)
        if pen_id is None:
            continue
        pen = kennel.pens.get(pen_id)
        row = kennel.rows.get(pen.row_id)
        if (row_id and row.id != row_id) or (site_id and row.site_id != site_id):
            continue
        months = age_months(dog, now.date())
        stops.append(
            Stop(
                dog_id=dog.id, name=dog.name, pen_id=pen.id, pen=f"{row.name} {pen.name}",
                kind=RowKind(row.kind), row_position=row.position, pen_position=pen.position,
                young=months is not None and months < YOUNG_MONTHS,
                exposed=(dog.id, FlagKind.EXPOSED) in flags,
                contagious=(dog.id, FlagKind.CONTAGIOUS) in flags,
                has_bitten=dog.has_bitten,
            )
        )  # fmt: skip
    return list(in_order(stops))


class KeyRound:
    """Runs one round by typed lines.

    Args:
        store: The records.
        driver: Reads lines and writes sentences.
        write: Writes one line.
        person: Who begins the round.
    """

    def __init__(
        self, store: Store, driver: TypedDriver, write: Callable[[str], None], person: Person | None
    ) -> None:
        self._store = store
        self._driver = driver
        self._write = write
        self._person = person
        self._now = store.file.clock

    def run(self, *, site_id: str | None, row_id: str | None) -> tuple[Stop, ...]:
        """Run the round; return the dogs that were not seen.

        Raises:
            CallerError: There is no dog in it.
        """
        stops = stops_of(self._store, site_id=site_id, row_id=row_id, now=self._now())
        if not stops:
            msg = "There is no dog in this round. See who is where with: handsfree kennel list"
            raise CallerError(msg)
        self._round_id = self._store.rounds.begin(
            site_id=site_id, row_id=row_id, person_id=self._person_id
        )
        if self._person:
            self._note("signed_in", detail={"name": self._person.name})
        self._chase()
        machine = Round(stops, brief=self._brief())
        waiting: deque[RoundAction] = deque(machine.begin())
        while True:
            while waiting:
                action = waiting.popleft()
                if isinstance(action, Ended):
                    self._note("ended", detail={"not_seen": len(action.not_seen)})
                    self._chase()
                    return action.not_seen
                waiting.extendleft(reversed(self._do(action, machine)))
            words = self._driver.next_line()
            waiting.extend(machine.take("stop" if words is None else words.strip()))

    @property
    def _person_id(self) -> str | None:
        return self._person.id if self._person else None

    def _brief(self) -> bool:
        if self._person is None:
            return False
        if self._person.brief is not None:
            return self._person.brief
        return self._store.rounds.done_by(self._person.id) >= FULL_WORDS_ROUNDS

    def _do(self, action: RoundAction, machine: Round) -> list[RoundAction]:
        if isinstance(action, Say):
            self._write(action.text)
            if action.choices:
                self._write("  " + ", ".join(f"{n} {c}" for n, c in enumerate(action.choices, 1)))
        elif isinstance(action, Note):
            self._note(action.name, dog_id=action.dog_id, detail=dict(action.detail))
        elif isinstance(action, SignIn):
            self._sign_in(action.name, machine)
        elif isinstance(action, Begin):
            return self._check(action, machine)
        return []

    def _sign_in(self, name: str, machine: Round) -> None:
        try:
            self._person = self._store.people.find(name)
        except CallerError as error:
            self._write(str(error))
            return
        machine.brief = self._brief()
        self._note("signed_in", detail={"name": self._person.name})
        self._write(f"Signed in: {self._person.name}.")

    def _check(self, action: Begin, machine: Round) -> list[RoundAction]:
        stop = action.stop
        dog = self._store.dogs.get(stop.dog_id)
        for line in self._medicine_lines(dog.id):
            self._write(line)
        put_in: list[Looks] = []

        def around(exam_id: str, judge: Judge) -> Judge:
            looks = Looks(
                judge, lambda record: self._store.exams.record(exam_id, record), time.monotonic
            )
            put_in.append(looks)
            return looks

        check = open_check(
            self._store, dog, person=self._person, settings=self._store.settings.get(),
            routine="kennel_open" if action.closer else "kennel", output=self._driver,
            engine="keys", on=self._now().date(), around_judge=around, resume=False,
        )  # fmt: skip
        outcome = self._driver.run(check.runner, check.opened)
        looks = put_in[0]
        unusual = self._unusual(looks.values)
        self._follow(stop, check.exam_id, looks.values)
        if action.closer:
            self._note("looked_closer", dog_id=dog.id, exam_id=check.exam_id)
            return []
        return machine.seen(
            unusual=unusual, looked_s=looks.looked_s, complete=outcome == "complete"
        )

    @staticmethod
    def _unusual(values: dict[str, object]) -> bool:
        protocol = load()
        for item, value in values.items():
            normal = protocol.question(item).normal
            if normal and value is not None and value not in normal and item != "now.signs":
                return True
        return False

    def _follow(self, stop: Stop, exam_id: str, values: dict[str, object]) -> None:
        signs = signs_in(values.items())
        if signs:
            self._flag(stop, ", ".join(signs))
        word = values.get("kennel.medicine")
        if word in ("given", "missed", "refused"):
            self._doses(stop.dog_id, DoseOutcome(str(word)))
        for dog_id, found_in, rule, say in self._store.rounds.open_findings():
            if found_in == exam_id:
                self._who_was_told(dog_id, found_in, rule, say)

    def _flag(self, stop: Stop, why: str) -> None:
        rounds = self._store.rounds
        with self._store.transaction():
            rounds.flag(stop.dog_id, FlagKind.CONTAGIOUS, why, person_id=self._person_id)
            rounds.flag(stop.dog_id, FlagKind.FULL_CHECK, why, person_id=self._person_id)
            mates = [
                dog
                for dog, pen in self._store.kennel.placed().items()
                if pen == stop.pen_id and dog != stop.dog_id
            ]
            for mate in mates:
                rounds.flag(
                    mate, FlagKind.EXPOSED, why, from_dog_id=stop.dog_id, person_id=self._person_id
                )
        names = ", ".join(self._store.dogs.get(mate).name for mate in mates)
        others = f" {names} shares its pen and is flagged too." if mates else ""
        self._write(
            f"{stop.name} is flagged: {why} may be catching.{others} Isolation is proposed; "
            "ask the vet."
        )

    def _medicine_lines(self, dog_id: str) -> list[str]:
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
        return lines

    def _doses(self, dog_id: str, outcome: DoseOutcome) -> None:
        medicines = self._store.kennel.medicines.all(dog_id=dog_id)
        if not medicines:
            self._write(
                "No medicine is set for this dog: ask who set it. Nothing was stored of it."
            )
            return
        doses = self._store.rounds.doses(dog_id)
        for medicine in medicines:
            state = state_of(medicine, doses, self._now())
            if state.word in ("not_begun", "ended"):
                continue
            early = challenge(state, self._now()) if outcome is DoseOutcome.GIVEN else ""
            if early and not self._yes(early):
                self._write(f"Not stored: {medicine.name}.")
                continue
            asked = f"{medicine.name}, {medicine.amount}, {outcome.value}: is that right?"
            if not self._yes(asked):
                self._write(f"Not stored: {medicine.name}.")
                continue
            self._store.rounds.dose(
                medicine.id, dog_id, outcome, amount=medicine.amount, given_at=self._now(),
                early=bool(early), person_id=self._person_id,
            )  # fmt: skip
            self._write(f"Stored: {medicine.name}, {medicine.amount}, {outcome.value}.")

    def _chase(self) -> None:
        """Come back to each finding of the highest level until somebody acknowledges it."""
        for dog_id, exam_id, rule, say in self._store.rounds.open_findings():
            name = self._store.dogs.get(dog_id).name
            told = [t for t in self._store.rounds.told(exam_id) if t.rule == rule]
            if not told:
                self._who_was_told(dog_id, exam_id, rule, say)
            elif self._yes(f"{name}: {say} {told[-1].name} was told. Is it acknowledged?"):
                self._store.rounds.tell(
                    dog_id, exam_id, rule, told[-1].name, acknowledged=True,
                    person_id=self._person_id,
                )  # fmt: skip

    def _who_was_told(self, dog_id: str, exam_id: str, rule: str, say: str) -> None:
        self._write(f"! {self._store.dogs.get(dog_id).name}: {say}")
        self._write("Who was told? Type the name, or Enter for nobody yet.")
        name = (self._driver.next_line() or "").strip()
        if not name:
            self._write("Nobody yet: I ask again.")
            return
        self._write("When was that? Enter for now.")
        when = (self._driver.next_line() or "").strip() or f"{self._now():%H:%M}"
        self._store.rounds.tell(
            dog_id, exam_id, rule, name, told_at=when, person_id=self._person_id
        )
        self._write(f"Stored: {name} was told at {when}.")

    def _yes(self, question: str) -> bool:
        self._write(question)
        self._write("  1 yes, 2 no")
        while True:
            line = self._driver.next_line()
            text = "no" if line is None else line.strip().lower()
            if text in ("1", "yes", "y", "", "2", "no", "n"):
                return text in ("1", "yes", "y", "")
            self._write("  1 yes, 2 no")

    def _note(
        self, name: str, *, dog_id: str | None = None, exam_id: str | None = None,
        detail: dict[str, object] | None = None,
    ) -> None:  # fmt: skip
        self._store.rounds.note(
            self._round_id, name, person_id=self._person_id, dog_id=dog_id, exam_id=exam_id,
            detail=detail,
        )  # fmt: skip
