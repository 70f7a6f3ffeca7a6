"""A rehearsed round's scenario: an invented kennel, its dogs, its people, and what is true of each.

Read from TOML files under ``rounds/``; every dog and person in them is made up. The truth belongs
to the simulated people alone.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handsfree.errors import CallerError, DataError
from handsfree.kennel.looks import FIVE, ITEM
from handsfree.protocol.model import Protocol
from handsfree.rehearsal.scenario import Truth, checked_truth

__all__ = ["Handler", "KennelScenario", "RehearsedDog", "load_round", "round_names"]

_FOLDER = Path(__file__).parent / "rounds"


@dataclass(frozen=True, kw_only=True)
class Handler:
    """Somebody who leads a part of the round; ``speaks`` is the voice they speak with."""

    name: str
    speaks: str
    rate_wpm: int = 160
    brief: bool = False


@dataclass(frozen=True, kw_only=True)
class RehearsedDog:
    """One dog of the round.

    Attributes:
        name: Its name.
        row: Its row.
        pen: Its pen.
        age_months: Its age.
        truth: What is true of it.
        first: What is said, in order, before the dog is begun.
        says: What is said once at an item before it is answered, by item.
        takes_over: Who takes over at this dog; empty for nobody.
        hasty: The person says that all is well without a look.
        absent: It is not in its pen.
        has_bitten: It has bitten before.
        medicine: A medicine that is set for it; empty for none.
    """

    name: str
    row: str
    pen: str
    age_months: int
    truth: Truth
    first: tuple[str, ...] = ()
    says: Mapping[str, str] = field(default_factory=dict)
    takes_over: str = ""
    hasty: bool = False
    absent: bool = False
    has_bitten: bool = False
    medicine: str = ""


@dataclass(frozen=True, kw_only=True)
class KennelScenario:
    """One rehearsed round.

    Attributes:
        id: File name without ending.
        title: One line for lists.
        people: Who leads; the first begins.
        rows: Name and kind of each row.
        dogs: The dogs, in the order of their pens.
        bark_db: Loudness of the barking against the voice.
        bark_share: Share of the time in which dogs bark.
        look_s: How long a person looks before saying that all is well, at least and at most.
        seed: For every draw.
        vet_number: The vet's number in the settings.
    """

    id: str
    title: str
    people: tuple[Handler, ...]
    rows: tuple[tuple[str, str], ...]
    dogs: tuple[RehearsedDog, ...]
    bark_db: float
    bark_share: float
    look_s: tuple[float, float]
    seed: int
    vet_number: str | None = None

    def handler(self, name: str) -> Handler:
        """Return who has this name.

        Raises:
            KeyError: Nobody has.
        """
        for person in self.people:
            if person.name == name:
                return person
        raise KeyError(name)


def round_names() -> list[str]:
    """Return the ids of the rounds that come with the program."""
    return sorted(path.stem for path in _FOLDER.glob("*.toml"))


def load_round(name: str, protocol: Protocol, folder: Path = _FOLDER) -> KennelScenario:
    """Return a rehearsed round by its id, checked against the protocol.

    Raises:
        CallerError: There is no such round.
        DataError: It names an item, a value or a person that there is not.
    """
    path = folder / f"{name}.toml"
    if not path.is_file():
        msg = f"There is no rehearsed round {name!r}. There are: {', '.join(round_names())}."
        raise CallerError(msg)
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    scenario = KennelScenario(
        id=name,
        title=data["title"],
        people=tuple(Handler(**person) for person in data["person"]),
        rows=tuple((row["name"], row["kind"]) for row in data["row"]),
        dogs=tuple(_dog(name, dog, protocol) for dog in data["dog"]),
        bark_db=float(data.get("bark_db", -20.0)),
        bark_share=float(data.get("bark_share", 0.0)),
        look_s=(float(data["look_s"][0]), float(data["look_s"][1])),
        seed=int(data.get("seed", 1)),
        vet_number=data.get("vet_number"),
    )
    known = {person.name for person in scenario.people}
    for dog in scenario.dogs:
        if dog.takes_over and dog.takes_over not in known:
            msg = f"Round {name}: {dog.takes_over} takes over at {dog.name} and is nobody in it."
            raise DataError(msg)
    return scenario


def _dog(name: str, data: Mapping[str, Any], protocol: Protocol) -> RehearsedDog:
    fields = dict(data)
    values = dict(fields.pop("truth", {}))
    if any(values.get(item, well) != well for item, well in FIVE):
        values[ITEM] = "something"
    truth = Truth(values=values)
    checked_truth(name, truth, protocol)
    return RehearsedDog(truth=truth, first=tuple(fields.pop("first", ())), **fields)
