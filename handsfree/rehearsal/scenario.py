"""A rehearsal's scenario: an invented dog, an invented person, the truth, and how they behave.

Read from TOML files under ``scenarios/``; every dog and person in them is made up. The truth
belongs to the examiner alone: nothing on the assistant's side may hold a scenario.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handsfree.errors import CallerError, DataError
from handsfree.protocol.model import Kind, Protocol, Question

__all__ = ["Behaviour", "Scenario", "Truth", "checked_truth", "load_scenario", "scenario_names"]

_FOLDER = Path(__file__).parent / "scenarios"


@dataclass(frozen=True, kw_only=True)
class Behaviour:
    """What the person says at a question before answering it.

    Attributes:
        at: Item id.
        side: Side, or None for the first time that the item comes up.
        do: Utterances, each said when the assistant next listens. ``aside:...`` is said to the
            dog; ``wrong:VALUE`` is a slip that the person then corrects; anything else is said as
            it stands.
    """

    at: str
    side: str | None = None
    do: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What is so about the dog, as only the examiner knows it.

    Attributes:
        values: ``item`` or ``item/side`` to the true value; the rest is normal.
        refuse: ``region.*`` or item to the refusal that is said there (``wont_let`` ...).
        refill_s: True refill times, one a repeat, over and over.
    """

    values: Mapping[str, str | float]
    refuse: Mapping[str, str] = field(default_factory=dict)
    refill_s: tuple[float, ...] = (1.3, 1.4, 1.2, 1.3)

    def refusal(self, item: str) -> str | None:
        """Return how the person refuses this item, or None."""
        region = item.split(".")[0]
        return self.refuse.get(item) or self.refuse.get(f"{region}.*")

    def value(self, item: str, side: str | None, question: Question) -> str | float:
        """Return what is true at an item."""
        for key in (f"{item}/{side}", item):
            if key in self.values:
                return self.values[key]
        if question.kind is Kind.CHOICE:
            return (question.normal or tuple(question.values))[0]
        limits = question.limits
        if limits is None:
            return 10.0
        return float(round((limits.usual_low + limits.usual_high) / 2))


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """One rehearsal.

    Attributes:
        id: File name without ending.
        title: One line for lists.
        routine: Routine id.
        dog: Fields of the dog, as ``dog add`` takes them.
        person: Fields of the person.
        known: What the records know of the dog before: ``weight_kg``, ``lumps``.
        truth: The truth.
        behaviours: What the person does besides answering.
        voices: Voices of the person, one drawn at the start.
        seed: For every draw.
        asks: Questions about the past, asked after the result.
        helper: A sighted person is there.
        vet_number: The vet's number in the settings; None where none is set.
    """

    id: str
    title: str
    routine: str
    dog: Mapping[str, Any]
    person: Mapping[str, Any]
    known: Mapping[str, Any]
    truth: Truth
    behaviours: tuple[Behaviour, ...]
    voices: tuple[str, ...]
    seed: int
    asks: tuple[str, ...] = ()
    helper: bool = False
    vet_number: str | None = None


def scenario_names() -> list[str]:
    """Return the ids of the scenarios that come with the program."""
    return sorted(path.stem for path in _FOLDER.glob("*.toml"))


def load_scenario(name: str, protocol: Protocol) -> Scenario:
    """Return a scenario by its id, checked against the protocol.

    Raises:
        CallerError: There is no such scenario.
        DataError: It names an item or value that the protocol lacks.
    """
    path = _FOLDER / f"{name}.toml"
    if not path.is_file():
        known = ", ".join(scenario_names())
        msg = f"There is no scenario {name!r}. There are: {known}."
        raise CallerError(msg)
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    truth = Truth(
        values=data.get("truth", {}),
        refuse=data.get("refuse", {}),
        refill_s=tuple(data.get("refill_s", (1.3, 1.4, 1.2, 1.3))),
    )
    checked_truth(name, truth, protocol)
    return Scenario(
        id=name,
        title=data["title"],
        routine=data["routine"],
        dog=data["dog"],
        person=data["person"],
        known=data.get("known", {}),
        truth=truth,
        behaviours=tuple(
            Behaviour(at=b["at"], side=b.get("side"), do=tuple(b["do"]))
            for b in data.get("behaviour", ())
        ),
        voices=tuple(data["voices"]),
        seed=int(data.get("seed", 1)),
        asks=tuple(data.get("asks", ())),
        helper=bool(data.get("helper", False)),
        vet_number=data.get("vet_number"),
    )


def checked_truth(name: str, truth: Truth, protocol: Protocol) -> None:
    """Check what a scenario calls true against what is asked.

    Raises:
        DataError: It names an item or value that the protocol lacks.
    """
    for key, value in truth.values.items():
        item = key.split("/")[0]
        try:
            question = protocol.question(item)
        except KeyError:
            msg = f"Scenario {name} tells the truth of {item}, which the protocol does not ask."
            raise DataError(msg) from None
        if question.kind is Kind.CHOICE and value not in question.values:
            msg = f"Scenario {name}: {item} cannot be {value!r}."
            raise DataError(msg)
