"""A round between its dogs: which is next, parked, left; who is signed in. Pure.

An exam of one dog is the exam machine's; here is only what lies between two of them. Words come in,
actions go out. What was not seen stays so and is named at the end. Every way out ends: a dog that
is put aside too often stays not seen.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from handsfree.kennel.order import Part, Stop, in_order, reminder

__all__ = [
    "LOOK_S", "AskInstead", "AskLooked", "AskPlace", "AskStopping", "AskWhich", "AskWho", "Begin",
    "Ended", "Note", "Round", "RoundAction", "Say", "SignIn",
]  # fmt: skip

LOOK_S = 6.0
"""A look at five things takes at least this long; our own judgement."""

TOO_FAST_IN_A_ROW = 3
"""So many faster ones in a row are asked back."""

PUT_ASIDE_AT_MOST = 3
"""How often one dog is put aside before it stays not seen."""


@dataclass(frozen=True, kw_only=True)
class Say:
    """Say this."""

    text: str


@dataclass(frozen=True, kw_only=True)
class AskPlace:
    """Ask whether this dog is here; ``text`` asks in other words."""

    stop: Stop
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class AskInstead:
    """Ask which dog is here in place of this one."""

    stop: Stop


@dataclass(frozen=True, kw_only=True)
class AskWhich:
    """Ask which dog comes next."""


@dataclass(frozen=True, kw_only=True)
class AskWho:
    """Ask who leads from now on."""


@dataclass(frozen=True, kw_only=True)
class AskLooked:
    """Ask whether each of these was looked at."""

    stops: tuple[Stop, ...]


@dataclass(frozen=True, kw_only=True)
class AskStopping:
    """Ask whether the round is to stop."""

    left: int


@dataclass(frozen=True, kw_only=True)
class Begin:
    """Begin the exam of this dog; ``again`` after one of this round was put aside or undone."""

    stop: Stop
    again: bool = False


@dataclass(frozen=True, kw_only=True)
class Note:
    """Store a fact of the round."""

    name: str
    dog_id: str | None = None
    detail: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class SignIn:
    """From now on this person leads."""

    name: str


@dataclass(frozen=True, kw_only=True)
class Ended:
    """The round is over, or ``stopped`` and to be gone on with; these dogs were not seen."""

    not_seen: tuple[Stop, ...]
    stopped: bool = False


RoundAction = (
    Say | AskPlace | AskInstead | AskWhich | AskWho | AskLooked | AskStopping | Begin | Note
    | SignIn | Ended
)  # fmt: skip


class _Waits(StrEnum):
    PLACE = "place"
    INSTEAD = "instead"
    LOOKED = "looked"
    STOPPING = "stopping"


_WORDS = {
    "": "yes", "y": "yes", "1": "yes", "2": "no", "wrong": "no", "wrong place": "no", "n": "no",
    "park this one": "park", "3": "park", "dogs left": "left", "how many left": "left",
    "4": "left", "another dog": "which", "5": "which", "someone else": "who", "6": "who",
    "q": "stop", "7": "stop",
}  # fmt: skip
"""Typed words and what they mean between two dogs."""


class Round:
    """The machine.

    Args:
        stops: The dogs still to be seen, in order.
        brief: Short wording, for a practised person.
        seen: The dogs seen before the round was taken up again.
        put_aside: Of ``stops``, those that come last.
    """

    def __init__(
        self,
        stops: Sequence[Stop],
        *,
        brief: bool = False,
        seen: Sequence[Stop] = (),
        put_aside: Collection[str] = (),
    ) -> None:
        self._todo = [s for s in stops if s.dog_id not in put_aside]
        self._parked = [s for s in stops if s.dog_id in put_aside]
        self._seen = list(seen)
        self._missed: list[Stop] = []
        self._before: Stop | None = None
        self._aside: dict[str, int] = {}
        self._fast: list[Stop] = []
        self._begun: set[str] = set(put_aside)
        self._here: Stop | None = None
        self._waits = _Waits.PLACE
        self.brief = brief
        self.ended = False

    @property
    def left(self) -> int:
        """How many dogs are still to be seen, parked ones with them."""
        return len(self._todo) + len(self._parked) - (1 if self._here is not None else 0)

    @property
    def left_words(self) -> str:
        """The count of dogs left, as it is said."""
        parked = f", {len(self._parked)} of them parked" if self._parked else ""
        return f"{self.left} dog{'' if self.left == 1 else 's'} left{parked}."

    def begin(self, *, again: bool = False) -> list[RoundAction]:
        """Return what is said first; ``again`` where the round goes on."""
        count = self.left
        many = f"{count} dog{'' if count == 1 else 's'}"
        text = f"The round goes on: {many} left." if again else f"{many} in this round."
        return [Say(text=text), *self._next()]

    def take(self, words: str, *, spoken: bool = False) -> list[RoundAction]:
        """Take what was said or typed to what was asked last."""
        text = " ".join(words.lower().split())
        if self.ended:
            return []
        text = _WORDS.get(text, text)
        if self._waits is _Waits.LOOKED:
            return self._asked_back(text)
        if self._waits is _Waits.STOPPING:
            return self._stopping(text)
        if self._waits is _Waits.INSTEAD:
            return self._stop(spoken=spoken) if text == "stop" else self._gone()
        return self._at_place(text, words, spoken=spoken)

    def _at_place(self, text: str, words: str, *, spoken: bool) -> list[RoundAction]:
        stop = self._todo[0]
        match text:
            case "yes":
                return self._begin(stop)
            case "no" | "park" if self._here is not None:
                self._todo.pop(0)
                return self._next()
            case "no":
                self._waits = _Waits.INSTEAD
                return [AskInstead(stop=stop)]
            case "park":
                return [*self._put_aside(stop, "parked"), *self._next()]
            case "left":
                return [Say(text=self.left_words), *self._ask(stop)]
            case "which":
                return [AskWhich()]
            case "who":
                return [AskWho(), *self._ask(stop)]
            case "back":
                return self._back()
            case "stop":
                return self._stop(spoken=spoken)
        for lead in ("sign in ", "this is "):
            if text.startswith(lead):
                return [SignIn(name=" ".join(words.split()[2:])), *self._ask(stop)]
        if text == "sign in":
            return [AskWho(), *self._ask(stop)]
        return [Say(text="I did not understand that."), *self._ask(stop)]

    # which dog

    def _begin(self, stop: Stop) -> list[RoundAction]:
        again = stop.dog_id in self._begun and self._here is None
        self._begun.add(stop.dog_id)
        anew = [Note(name="again", dog_id=stop.dog_id)] if self._here is not None else []
        return [*anew, Begin(stop=stop, again=again)]

    def _gone(self) -> list[RoundAction]:
        """No dog is here in its place: it may turn up elsewhere, and is asked for once more."""
        self._waits = _Waits.PLACE
        stop = self._todo[0]
        note = Note(name="wrong_place", dog_id=stop.dog_id, detail={"pen": stop.pen})
        if self._aside.get(stop.dog_id):
            self._missed.append(self._todo.pop(0))
            said = f"Noted: {stop.name} is not as the list has it. It stays not seen."
            return [note, Say(text=said), *self._next()]
        said = f"Noted: {stop.name} is not as the list has it. I ask for it once more at the end."
        return [note, *self._put_aside(stop, "not here", say=said), *self._next()]

    def named(self, dog_id: str) -> list[RoundAction]:
        """A dog was named: it comes next, or is here in place of the one that was asked for."""
        instead = self._waits is _Waits.INSTEAD
        self._waits = _Waits.PLACE
        asked = self._todo[0]
        if dog_id == asked.dog_id:
            return self._ask(asked)
        actions: list[RoundAction] = []
        stop = self._take_out(dog_id)
        if stop is None:
            return [Say(text="That dog is not in this round."), *self._ask(asked)]
        if instead:
            self._put_aside(asked, "not here")
            detail: dict[str, object] = {"pen": stop.pen, "found_in": asked.pen}
            actions = [
                Note(name="wrong_place", dog_id=asked.dog_id, detail={"pen": asked.pen}),
                Note(name="wrong_place", dog_id=stop.dog_id, detail=detail),
                Say(text=f"Noted. I ask for {asked.name} once more at the end."),
            ]
        self._todo.insert(0, stop)
        self._here = stop if stop in self._seen else None
        if instead:
            return [*actions, *self._begin(stop)]
        if self._here is not None:
            text = f"{stop.name} was seen already. Once more?"
            return [AskPlace(stop=stop, text=text)]
        return self._ask(stop)

    def _take_out(self, dog_id: str) -> Stop | None:
        for group in (self._todo, self._parked, self._missed):
            for stop in group:
                if stop.dog_id == dog_id:
                    group.remove(stop)
                    return stop
        return next((stop for stop in self._seen if stop.dog_id == dog_id), None)

    def _back(self) -> list[RoundAction]:
        """Back to the dog before, which is looked at anew."""
        if self._before is None:
            return [Say(text="This is the first dog."), *self._ask(self._todo[0])]
        stop = next((s for s in self._seen if s.dog_id == self._before.dog_id), None)
        if stop is None or self._here is not None:
            return self._ask(self._todo[0])
        self._todo.insert(0, stop)
        self._here = stop
        self._waits = _Waits.PLACE
        return [AskPlace(stop=stop, text=f"Back to {stop.name}. Ask all of it anew?")]

    def ask_again(self) -> list[RoundAction]:
        """Come back to the dog that is asked for."""
        if self._waits is _Waits.INSTEAD:
            return self._gone()
        return self._ask(self._todo[0])

    def _put_aside(self, stop: Stop, why: str, *, say: str = "") -> list[RoundAction]:
        """Put the present dog behind all others; too often, and it stays not seen."""
        self._todo.remove(stop)
        count = self._aside[stop.dog_id] = self._aside.get(stop.dog_id, 0) + 1
        note = Note(name="parked", dog_id=stop.dog_id, detail={"why": why})
        if count > PUT_ASIDE_AT_MOST:
            self._missed.append(stop)
            return [note, Say(text=f"{stop.name} was put aside too often. It stays not seen.")]
        self._parked.append(stop)
        return [note, Say(text=say or f"{stop.name} is parked.")]

    # what an exam came to

    def seen(
        self, *, looked_s: float | None, flagged_with: Collection[str] | None = None
    ) -> list[RoundAction]:
        """The exam of the present dog went to its end.

        Args:
            looked_s: How long the five looks took if they were said in one go; None otherwise.
            flagged_with: The dogs of its pen, where it has a sign that may be catching: they come
                later, after all others.
        """
        stop = self._todo.pop(0)
        self._here = None
        if flagged_with is not None:
            stop = replace(stop, contagious=True)
            self._todo = list(in_order(self._exposed(self._todo, flagged_with)))
            self._parked = self._exposed(self._parked, flagged_with)
        self._before = stop
        self._seen = [s for s in self._seen if s.dog_id != stop.dog_id]
        self._seen.append(stop)
        if looked_s is not None and looked_s < LOOK_S:
            self._fast.append(stop)
        else:
            self._fast.clear()
        if len(self._fast) >= TOO_FAST_IN_A_ROW:
            self._waits = _Waits.LOOKED
            return [AskLooked(stops=tuple(self._fast))]
        return self._next()

    @staticmethod
    def _exposed(stops: Sequence[Stop], mates: Collection[str]) -> list[Stop]:
        return [replace(s, exposed=True) if s.dog_id in mates else s for s in stops]

    def left_open(
        self, *, stopped: bool, flagged_with: Collection[str] | None = None
    ) -> list[RoundAction]:
        """The exam of the present dog was put aside; ``stopped`` if the person said stop."""
        stop = self._todo[0]
        if flagged_with is not None:
            self._before = replace(stop, contagious=True)
            rest = in_order(self._exposed(self._todo[1:], flagged_with))
            self._todo = [stop, *rest]
        if self._here is not None:  # seen before: what was said then stands
            self._todo.pop(0)
            self._here = None
            return self._ask_stopping() if stopped else self._next()
        actions = self._put_aside(stop, "stopped" if stopped else "parked")
        if stopped:
            return [*actions, *self._ask_stopping()]
        return [*actions, *self._next()]

    def _asked_back(self, text: str) -> list[RoundAction]:
        if text not in ("yes", "no", "stop"):
            return [AskLooked(stops=tuple(self._fast))]
        self._waits = _Waits.PLACE
        looked = text == "yes"
        dogs = list(self._fast)
        self._fast.clear()
        actions: list[RoundAction] = [
            Note(name="too_fast", dog_id=s.dog_id, detail={"looked": looked}) for s in dogs
        ]
        if not looked:
            keys = {s.dog_id for s in dogs}
            self._seen = [s for s in self._seen if s.dog_id not in keys]
            self._todo += dogs
            actions += [Note(name="again", dog_id=s.dog_id) for s in dogs]
            actions.append(Say(text="They come again at the end."))
        return [*actions, *(self._ask_stopping() if text == "stop" else self._next())]

    # going on, and the end

    def _next(self) -> list[RoundAction]:
        self._here = None
        if back := self._back_from_aside():
            self._parked = [s for s in self._parked if s not in back]
            self._todo = [*back, *self._todo]
            return [Say(text="Now those that were put aside."), *self._next()]
        if not self._todo:
            return self._end()
        stop = self._todo[0]
        hands = reminder(self._before, stop)
        return [*([Say(text=hands)] if hands else []), *self._ask(stop)]

    def _back_from_aside(self) -> list[Stop]:
        """Return who comes back now: all at the end; the well once before what may be catching."""
        if not self._todo:
            return list(self._parked)
        if self._todo[0].part < Part.EXPOSED:
            return []
        well = [s for s in self._parked if s.part < Part.EXPOSED]
        return [s for s in well if self._aside.get(s.dog_id, 0) <= 1]

    def _ask(self, stop: Stop) -> list[RoundAction]:
        self._waits = _Waits.PLACE
        return [AskPlace(stop=stop)]

    def _stop(self, *, spoken: bool) -> list[RoundAction]:
        """A typed stop is sure; a spoken one is asked back."""
        return self._ask_stopping() if spoken else self._end()

    def _ask_stopping(self) -> list[RoundAction]:
        if not self.left:
            return self._end()
        self._waits = _Waits.STOPPING
        return [AskStopping(left=self.left)]

    def _stopping(self, text: str) -> list[RoundAction]:
        self._waits = _Waits.PLACE
        return self._end() if text in ("yes", "stop") else self._next()

    def _end(self) -> list[RoundAction]:
        self.ended = True
        if self._here is not None:
            self._todo.pop(0)
            self._here = None
        stopped = bool(self._todo or self._parked)
        missed = (*self._missed, *self._todo, *self._parked)
        names = ", ".join(f"{s.name} in {s.pen}" for s in missed)
        text = f"Not seen in this round: {names}." if missed else "Every dog of the round was seen."
        return [
            *(
                Note(name="not_seen", dog_id=s.dog_id, detail={"why": "round ended"})
                for s in missed
            ),
            Say(text=text),
            Ended(not_seen=missed, stopped=stopped),
        ]
