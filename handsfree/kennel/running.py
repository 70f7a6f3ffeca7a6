"""A round over the records, by voice and by keys: the round machine between dogs, an exam at each.

One driver serves the whole round, so one stream is open from its first word to its last. What
follows from an exam (flags, doses, who was told) is asked and stored before the next dog.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from handsfree.errors import CallerError, DeviceError
from handsfree.kennel import wordings
from handsfree.kennel.asking import Asker
from handsfree.kennel.dog_exam import examine
from handsfree.kennel.follow import Follow
from handsfree.kennel.model import FlagKind, RowKind
from handsfree.kennel.names import Names
from handsfree.kennel.order import Stop, in_order
from handsfree.kennel.question import STOP, Topic
from handsfree.kennel.round import (
    AskInstead,
    AskLooked,
    AskPlace,
    AskStopping,
    AskWhich,
    AskWho,
    Begin,
    Ended,
    Note,
    Round,
    RoundAction,
    Say,
    SignIn,
)
from handsfree.records.dogs import age_months
from handsfree.records.model import Person
from handsfree.records.store import Store
from handsfree.session.runner import Observer, Output
from handsfree.session.talks import Runs

__all__ = ["FULL_WORDS_ROUNDS", "RoundRun", "stops_of"]

FULL_WORDS_ROUNDS = 10
"""After so many rounds a person gets short prompts, unless set otherwise."""

YOUNG_MONTHS = 6
"""A dog younger than this is seen first; our own judgement, awaiting a vet."""

GOES_ON_FOR = timedelta(hours=8)
"""A round left longer ago than this is another shift's; our own judgement."""

_FIRST_WORDS = (
    "This does not replace a vet.",
    "Answer after the tone. Say help, pause or stop at any time.",
)


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
                row_name=row.name, pen_name=pen.name,
                kind=RowKind(row.kind), row_position=row.position, pen_position=pen.position,
                young=months is not None and months < YOUNG_MONTHS,
                exposed=(dog.id, FlagKind.EXPOSED) in flags,
                contagious=(dog.id, FlagKind.CONTAGIOUS) in flags,
                has_bitten=dog.has_bitten,
            )
        )  # fmt: skip
    return list(in_order(stops))


class RoundRun:
    """Runs one round.

    Args:
        store: The records.
        stops: Its dogs, as ``stops_of`` gives them.
        names: What names mean in it; handed to hearing as well.
        driver: Runs exams and talks, over sound or keys.
        output: The same driver, as who speaks and listens.
        engine: What hears, for the record.
        person: Who begins the round.
        by_keys: There is no sound.
        has_keys: Keys can answer.
        observers: Told each event with its actions.
        on_person: Told who takes over, so that the voice suits them.

    Raises:
        CallerError: There is no dog in it.
    """

    def __init__(
        self,
        store: Store,
        stops: Sequence[Stop],
        names: Names,
        *,
        driver: Runs,
        output: Output,
        engine: str,
        person: Person | None,
        by_keys: bool,
        has_keys: bool = True,
        observers: Sequence[Observer] = (),
        on_person: Callable[[Person], None] = lambda _person: None,
    ) -> None:
        if not stops:
            msg = "There is no dog in this round. See who is where with: handsfree kennel list"
            raise CallerError(msg)
        self._store = store
        self._stops = list(stops)
        self._driver, self._output, self._engine = driver, output, engine
        self._person = person
        self._has_keys = has_keys
        self._observers = tuple(observers)
        self._on_person = on_person
        self._now = store.file.clock
        self._told: frozenset[str] = frozenset()
        self._asker = Asker(
            store, driver, output, names=names, stops=stops, by_keys=by_keys, observers=observers
        )
        self._follow = Follow(store, self._asker, lambda: self._person_id, self._now)

    def run(
        self, *, site_id: str | None = None, row_id: str | None = None, anew: bool = False
    ) -> tuple[Stop, ...]:
        """Run the round, or go on with the one that was left; return the dogs not seen.

        Args:
            site_id: Its site, for the record; None for all.
            row_id: Its row.
            anew: Do not ask whether to go on with a round that was left.

        Raises:
            DeviceError: The sound is gone and does not come back; all is saved.
        """
        machine = self._begin(site_id, row_id, anew=anew)
        waiting: deque[RoundAction] = deque(machine.begin(again=self._says_so))
        try:
            while waiting:
                action = waiting.popleft()
                if isinstance(action, Ended):
                    return self._end(action)
                waiting.extendleft(reversed(self._do(action, machine)))
        except DeviceError:
            self._note("stopped", detail={"why": "sound was lost"})
            raise
        msg = "a round came to no end"
        raise RuntimeError(msg)

    @property
    def was_left(self) -> bool:
        """Whether nobody answered any more, or the program was told to end."""
        return self._asker.gone

    # beginning and ending

    def _begin(self, site_id: str | None, row_id: str | None, *, anew: bool) -> Round:
        rounds = self._store.rounds
        if not self._brief():
            self._asker.say(*_FIRST_WORDS)
        left = rounds.unfinished(site_id=site_id, row_id=row_id, since=self._now() - GOES_ON_FOR)
        seen, aside = self._seen_in(*left) if left else (frozenset(), frozenset())
        # Where nothing was done yet there is nothing to ask: a check that broke off is taken up.
        self._goes_on = left is not None and not anew
        if left and self._goes_on and (seen or aside):
            self._goes_on = self._go_on(left[1], seen)
        self._says_so = self._goes_on and bool(seen or aside)
        if left and self._goes_on:
            self._round_id, self._begun_at = left
            self._note("resumed")
        else:
            seen = aside = frozenset()
            self._begun_at = self._now()
            self._round_id = rounds.begin(site_id=site_id, row_id=row_id, person_id=self._person_id)
        if self._person:
            self._note("signed_in", detail={"name": self._person.name})
        self._follow.chase()
        return Round(
            [s for s in self._stops if s.dog_id not in seen],
            brief=self._brief(),
            seen=[s for s in self._stops if s.dog_id in seen],
            put_aside=aside,
        )

    def _go_on(self, begun: datetime, seen: frozenset[str]) -> bool:
        left = sum(stop.dog_id not in seen for stop in self._stops)
        if not left:
            return False
        text = (
            f"The round of {begun.astimezone():%H:%M} was left with {left} "
            f"dog{'' if left == 1 else 's'} not seen. Go on with it?"
        )
        return self._asker.yes(
            wordings.yes_or_no(Topic.GO_ON, text, about=str(left), left="I begin anew.")
        )

    def _seen_in(self, round_id: str, begun: datetime) -> tuple[frozenset[str], frozenset[str]]:
        """Return the dogs of a round that were seen, and those that were put aside."""
        seen: set[str] = set()
        aside: set[str] = set()
        for fact in self._store.rounds.facts(begun):
            if fact.round_id != round_id or fact.dog_id is None:
                continue
            if fact.name == "seen":
                seen.add(fact.dog_id)
                aside.discard(fact.dog_id)
            elif fact.name == "again":
                seen.discard(fact.dog_id)
            elif fact.name == "parked":
                aside.add(fact.dog_id)
        return frozenset(seen), frozenset(aside - seen)

    def _end(self, ended: Ended) -> tuple[Stop, ...]:
        detail: dict[str, object] = {"not_seen": len(ended.not_seen)}
        self._note("stopped" if ended.stopped else "ended", detail=detail)
        if ended.stopped:
            self._asker.say("All is saved. Begin the round again to go on from here.")
        else:
            self._follow.chase()
        self._asker.flush()
        return ended.not_seen

    @property
    def _person_id(self) -> str | None:
        return self._person.id if self._person else None

    def _brief(self) -> bool:
        if self._person is None:
            return False
        if self._person.brief is not None:
            return self._person.brief
        return self._store.rounds.done_by(self._person.id) >= FULL_WORDS_ROUNDS

    # what the machine wants

    def _do(self, action: RoundAction, machine: Round) -> list[RoundAction]:
        asker = self._asker
        match action:
            case Say(text=text):
                asker.say(text)
            case Note(name=name, dog_id=dog_id, detail=detail):
                self._note(name, dog_id=dog_id, detail=dict(detail))
            case AskPlace(stop=stop, text=text):
                return self._place(stop, text, machine)
            case AskInstead(stop=stop):
                text = f"{stop.name} is not here. Which dog is? Its name or pen, or nobody."
                asked = wordings.which_dog(
                    text, asker.names, topic=Topic.INSTEAD, about=stop.dog_id
                )
                return self._named(asker.dog(asked, confirm=True), machine)
            case AskWhich():
                asked = wordings.which_dog("Which dog? Say its name or its pen.", asker.names)
                return self._named(asker.dog(asked, confirm=False), machine)
            case AskLooked(stops=stops):
                return machine.take(asker.ask(wordings.looked(stops)) or STOP, spoken=True)
            case AskStopping(left=left):
                return machine.take(asker.ask(wordings.stopping(left)) or STOP)
            case AskWho():
                self._sign_in(asker.person(), machine)
            case SignIn(name=name):
                self._sign_in(asker.person_of(name), machine)
            case Begin(stop=stop, again=again):
                return self._check(stop, machine, again=again)
            case _:
                raise AssertionError(action)
        return []

    def _place(self, stop: Stop, text: str, machine: Round) -> list[RoundAction]:
        asker = self._asker
        asked = wordings.place(stop, asker.names, brief=machine.brief, text=text)
        token = asker.ask(asked)
        if token is None:
            return machine.take(STOP)
        if asker.names.meant(token):
            self._sign_in(asker.person_of(token), machine)
            return machine.ask_again()
        return machine.take(token, spoken=not asker.is_sure)

    def _named(self, dog_id: str | None, machine: Round) -> list[RoundAction]:
        if dog_id is None:
            return machine.ask_again() if not self._asker.gone else machine.take(STOP)
        if dog_id == STOP:
            return machine.take(STOP, spoken=True)
        return machine.named(dog_id)

    def _sign_in(self, person: Person | None, machine: Round) -> None:
        if person is None:
            return
        self._person = person
        self._told = frozenset()
        self._on_person(person)
        machine.brief = self._brief()
        self._note("signed_in", detail={"name": person.name})
        self._asker.say(f"Signed in: {person.name}.")

    def _check(self, stop: Stop, machine: Round, *, again: bool) -> list[RoundAction]:
        asker = self._asker
        dog = self._store.dogs.get(stop.dog_id)
        seen = examine(
            self._store, dog, person=self._person, driver=self._driver, output=self._output,
            engine=self._engine, on=self._now().date(), left=lambda: machine.left_words,
            before=(*asker.said_before(), *self._follow.medicine_lines(dog.id)), told=self._told,
            brief=machine.brief, not_before=self._begun_at if again or self._goes_on else None,
            has_keys=self._has_keys, observers=self._observers,
        )  # fmt: skip
        self._told = seen.told
        mates = self._follow.flags(stop, seen.values)
        if seen.cut_off and seen.outcome != "complete":
            asker.gone = True
            return machine.take(STOP)
        if seen.outcome != "complete":
            self._follow.told(seen.exam_id)
            return machine.left_open(stopped=not seen.parked, flagged_with=mates)
        self._note("seen", dog_id=dog.id, exam_id=seen.exam_id)
        self._follow.after(stop, seen.exam_id, seen.values)
        return machine.seen(looked_s=seen.looked_s, flagged_with=mates)

    def _note(
        self, name: str, *, dog_id: str | None = None, exam_id: str | None = None,
        detail: dict[str, object] | None = None,
    ) -> None:  # fmt: skip
        self._store.rounds.note(
            self._round_id, name, person_id=self._person_id, dog_id=dog_id, exam_id=exam_id,
            detail=detail,
        )  # fmt: skip
