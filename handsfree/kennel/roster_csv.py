"""A roster as a CSV file (RFC 4180, first line names the columns): reading and checking it. Pure.

Columns: ``name`` and ``pen`` must be there; ``site``, ``row``, ``kind``, ``chip``, ``sex``,
``neutered``, ``born``, ``breed``, ``looks``, ``arrived``, ``feeding``, ``plan``, ``has_bitten``,
``owner``, ``owner_phone``, ``vet``, ``vet_phone``, ``emergency``, ``emergency_phone`` may be. Every
mistake is named at once, with its line; a file with a mistake changes nothing.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from handsfree.errors import CallerError
from handsfree.kennel.chip import checked_chip
from handsfree.kennel.model import RowKind
from handsfree.protocol.subject import Neutered, Sex
from handsfree.records.matching import folded

__all__ = ["COLUMNS", "RosterLine", "read_roster"]

COLUMNS = (
    "name", "pen", "site", "row", "kind", "chip", "sex", "neutered", "born", "breed", "looks",
    "arrived", "feeding", "plan", "has_bitten", "owner", "owner_phone", "vet", "vet_phone",
    "emergency", "emergency_phone",
)  # fmt: skip
_NEEDED = ("name", "pen")
_YES_NO = {"yes": True, "1": True, "true": True, "no": False, "0": False, "false": False}
SHOWN = 20


@dataclass(frozen=True, kw_only=True)
class RosterLine:
    """One dog of a roster, checked; ``line`` is its line in the file."""

    line: int
    name: str
    pen: str
    site: str = ""
    row: str = ""
    kind: RowKind = RowKind.HEALTHY
    chip: str | None = None
    sex: Sex = Sex.UNKNOWN
    neutered: Neutered = Neutered.UNKNOWN
    born: date | None = None
    breed: str = ""
    looks: str = ""
    arrived: date | None = None
    feeding: str = ""
    plan: str = ""
    has_bitten: bool = False
    contacts: tuple[tuple[str, str, str], ...] = ()


def read_roster(text: str) -> tuple[RosterLine, ...]:
    """Return the dogs of a roster.

    Raises:
        CallerError: The file is no such roster, or lines are wrong or double; says all of them.
    """
    reader = csv.reader(text.lstrip("\ufeff").splitlines())
    header = [folded(name).replace(" ", "_") for name in next(reader, [])]
    missing = [name for name in _NEEDED if name not in header]
    unknown = [name for name in header if name not in COLUMNS]
    if missing or unknown or len(set(header)) != len(header):
        what = f"lacks {', '.join(missing)}" if missing else f"has unknown {', '.join(unknown)}"
        if not missing and not unknown:
            what = "names a column twice"
        msg = f"The first line {what}. The columns are: {', '.join(COLUMNS)}."
        raise CallerError(msg)
    wrong: list[str] = []
    lines: list[RosterLine] = []
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            wrong.append(f"line {reader.line_num}: {len(cells)} fields, not {len(header)}")
            continue
        given = {n: c.strip() for n, c in zip(header, cells, strict=True) if c.strip()}
        line = _line(reader.line_num, given, wrong)
        if line is not None:
            lines.append(line)
    wrong += _doubles(lines)
    if not lines and not wrong:
        wrong.append("there is no dog in it")
    if wrong:
        more = f"\n  and {len(wrong) - SHOWN} more" if len(wrong) > SHOWN else ""
        msg = "The roster was not taken; nothing was changed:\n  " + "\n  ".join(wrong[:SHOWN])
        raise CallerError(msg + more)
    return tuple(lines)


def _line(number: int, given: dict[str, str], wrong: list[str]) -> RosterLine | None:
    before = len(wrong)

    def told(column: str, make: Callable[[str], object], hint: str) -> object:
        if column not in given:
            return None
        try:
            return make(given[column])
        except (ValueError, KeyError):
            wrong.append(f"line {number}: {column} {given[column]!r}: give {hint}")
        except CallerError as error:
            wrong.append(f"line {number}: {error}")
        return None

    wrong += [f"line {number}: {name} is empty" for name in _NEEDED if name not in given]
    kind = told("kind", RowKind, "young, healthy, intake or isolation")
    chip = told("chip", checked_chip, "15 digits")
    sex = told("sex", Sex, "female, male or unknown")
    neutered = told("neutered", Neutered, "yes, no or unknown")
    born = told("born", date.fromisoformat, "year-month-day")
    arrived = told("arrived", date.fromisoformat, "year-month-day")
    bitten = told("has_bitten", lambda text: _YES_NO[text.lower()], "yes or no")
    if len(wrong) > before:
        return None
    contacts = tuple(
        (who, given[who], given.get(f"{who}_phone", ""))
        for who in ("owner", "vet", "emergency")
        if who in given
    )
    return RosterLine(
        line=number,
        name=given["name"],
        pen=given["pen"],
        site=given.get("site", ""),
        row=given.get("row", ""),
        kind=kind if isinstance(kind, RowKind) else RowKind.HEALTHY,
        chip=chip if isinstance(chip, str) else None,
        sex=sex if isinstance(sex, Sex) else Sex.UNKNOWN,
        neutered=neutered if isinstance(neutered, Neutered) else Neutered.UNKNOWN,
        born=born if isinstance(born, date) else None,
        breed=given.get("breed", ""),
        looks=given.get("looks", ""),
        arrived=arrived if isinstance(arrived, date) else None,
        feeding=given.get("feeding", ""),
        plan=given.get("plan", ""),
        has_bitten=bool(bitten),
        contacts=contacts,
    )


def _doubles(lines: list[RosterLine]) -> list[str]:
    """Lines that are the same, one chip twice, and one dog in two pens."""
    wrong = []
    chips: dict[str, RosterLine] = {}
    dogs: dict[tuple[str, str, str], RosterLine] = {}
    for line in lines:
        if line.chip is not None:
            other = chips.setdefault(line.chip, line)
            if other is not line:
                where = "in two pens" if other.pen != line.pen else "twice"
                wrong.append(
                    f"line {line.line}: chip {line.chip} is {where}, see line {other.line}"
                )
                continue
        key = (folded(line.name), folded(line.site + "/" + line.row), folded(line.pen))
        same = dogs.setdefault(key, line)
        if same is not line and same.chip == line.chip:
            wrong.append(f"line {line.line}: {line.name} is there twice, see line {same.line}")
    return wrong
