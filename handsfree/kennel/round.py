"""A round between its dogs: which is next, parked, left; who is signed in. Pure.

An exam of one dog is the exam machine's; here is only what lies between two of them. Words come in,
actions go out. What was not seen stays so and is named at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from handsfree.kennel.order import Stop, reminder

__all__ = ["Begin", "Ended", "Note", "Round", "RoundAction", "Say", "SignIn"]

LOOK_S = 4.0
"""A look at five things takes at least this long; our own judgement."""

TOO_FAST_IN_A_ROW = 3
"""So many faster ones in a row are asked back."""


@dataclass(frozen=True, kw_only=True)
class Say:
    """Say this; ``choices`` are what can be answered."""

    text: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Begin:
    """Begin the exam of this dog; ``closer`` for the full questions."""

    stop: Stop
    closer: bool = False


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
    """The round is over; these dogs were not seen."""

    not_seen: tuple[Stop, ...]


RoundAction = Say | Begin | Note | SignIn | Ended
CHOICES = ("yes", "wrong place", "park this one", "dogs left", "sign in NAME", "stop")


class Round:
    """The machine.

    Args:
        stops: The dogs, in order.
        brief: Short wording, for a practised person.
    """

    def __init__(self, stops: Sequence[Stop], *, brief: bool = False) -> None:
        self._todo = list(stops)
        self._parked: list[Stop] = []
        self._missed: list[Stop] = []
        self._before: Stop | None = None
        self._fast: list[Stop] = []
        self._asking_back = False
        self.brief = brief
        self.ended = False

    @property
    def left(self) -> int:
        """How many dogs are still to be seen, parked ones with them."""
        return len(self._todo) + len(self._parked)

    def begin(self) -> list[RoundAction]:
        """Return what is said first."""
        count = self.left
        return [Say(text=f"{count} dog{'' if count == 1 else 's'} in this round."), *self._next()]

    def take(self, words: str) -> list[RoundAction]:
        """Take what was said or typed between two dogs."""
        text = " ".join(words.lower().split())
        if self.ended:
            return []
        if self._asking_back:
            return self._asked_back(text)
        stop = self._todo[0]
        if text in ("", "yes", "y", "1"):
            return [Begin(stop=stop)]
        if text in ("wrong place", "wrong", "no", "2"):
            self._missed.append(self._todo.pop(0))
            return [
                Note(name="wrong_place", dog_id=stop.dog_id, detail={"pen": stop.pen}),
                Say(text=f"Noted: {stop.name} is not as the list has it. It stays not seen."),
                *self._next(),
            ]
        if text in ("park this one", "park", "3"):
            self._parked.append(self._todo.pop(0))
            return [
                Note(name="parked", dog_id=stop.dog_id),
                Say(text=f"{stop.name} is parked."),
                *self._next(),
            ]
        if text in ("dogs left", "left", "4"):
            return [self._count(), *self._ask(stop)]
        if text.startswith("sign in ") and words.split()[2:]:
            name = " ".join(words.split()[2:])
            return [SignIn(name=name), *self._ask(stop)]
        if text in ("sign in", "5"):
            return [Say(text="Say sign in, and your name."), *self._ask(stop)]
        if text in ("stop", "q", "6"):
            return self._end()
        return [
            Say(text="I did not understand that.", choices=CHOICES),
            *self._ask(stop),
        ]

    def seen(self, *, unusual: bool, looked_s: float | None, complete: bool) -> list[RoundAction]:
        """An exam of the present dog is over.

        Args:
            unusual: Something was not well: the full questions follow.
            looked_s: How long the five looks took if they were said in one go; None otherwise.
            complete: Whether the exam went to its end.
        """
        stop = self._todo.pop(0)
        if not complete:
            self._missed.append(stop)
            return [
                Note(name="not_seen", dog_id=stop.dog_id, detail={"why": "stopped"}),
                *self._next(),
            ]
        self._before = stop
        actions: list[RoundAction] = [Note(name="seen", dog_id=stop.dog_id)]
        if unusual:
            actions.append(Begin(stop=stop, closer=True))
        if looked_s is not None and looked_s < LOOK_S:
            self._fast.append(stop)
        else:
            self._fast.clear()
        if len(self._fast) >= TOO_FAST_IN_A_ROW:
            self._asking_back = True
            names = ", ".join(s.name for s in self._fast)
            return [
                *actions,
                Say(
                    text=f"{names}: all well in a row, faster than five looks take. Did you look "
                    "at each of them?",
                    choices=("yes", "no"),
                ),
            ]
        return [*actions, *self._next()]

    def _asked_back(self, text: str) -> list[RoundAction]:
        if text not in ("yes", "y", "1", "no", "n", "2"):
            return [Say(text="Did you look at each of them? Say yes or no.", choices=("yes", "no"))]
        self._asking_back = False
        looked = text in ("yes", "y", "1")
        dogs = list(self._fast)
        self._fast.clear()
        actions: list[RoundAction] = [
            Note(name="too_fast", dog_id=s.dog_id, detail={"looked": looked}) for s in dogs
        ]
        if not looked:
            self._todo += dogs
            actions.append(Say(text="They come again at the end."))
        return [*actions, *self._next()]

    def _next(self) -> list[RoundAction]:
        if not self._todo and self._parked:
            self._todo, self._parked = self._parked, []
            return [Say(text="Now the parked ones."), *self._next()]
        if not self._todo:
            return self._end()
        stop = self._todo[0]
        hands = reminder(self._before, stop)
        return [*([Say(text=hands)] if hands else []), *self._ask(stop)]

    def _ask(self, stop: Stop) -> list[RoundAction]:
        bites = " Careful: it has bitten before." if stop.has_bitten else ""
        if self.brief:
            return [Say(text=f"{stop.pen}, {stop.name}?{bites}")]
        return [
            Say(
                text=f"Pen {stop.pen}: {stop.name}. Is that this dog, in its place?{bites}",
                choices=CHOICES,
            )
        ]

    def _count(self) -> Say:
        parked = f", {len(self._parked)} of them parked" if self._parked else ""
        return Say(text=f"{self.left} dogs left{parked}.")

    def _end(self) -> list[RoundAction]:
        self.ended = True
        missed = (*self._missed, *self._todo, *self._parked)
        names = ", ".join(f"{s.name} in {s.pen}" for s in missed)
        text = f"Not seen in this round: {names}." if missed else "Every dog of the round was seen."
        return [
            *(
                Note(name="not_seen", dog_id=s.dog_id, detail={"why": "round ended"})
                for s in missed
            ),
            Say(text=text),
            Ended(not_seen=missed),
        ]
