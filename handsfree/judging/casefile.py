"""A made-up or copied case as a JSON file, so that a vet can try the table.

An object with ``dog`` (``age_months``, ``sex``, ``neutered``, ``weight_kg``, ``shape``, ``known``)
and ``findings``: item to value, as in the protocol. A value may be a token or number; for items
with sides an object of side to value; or an object with ``value``, ``unit``, ``side``, ``status``,
``reason`` and ``certainty``; or a list of these. ``past`` may list earlier exams, each with ``on``
and ``findings``; ``on`` is the day, else today. Every mistake is named at once.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from handsfree.errors import CallerError
from handsfree.judging.catalogue import Catalogue, ItemInfo
from handsfree.judging.model import Finding, PastExam
from handsfree.protocol.subject import KnownLump, Neutered, Sex, Shape, Size, Subject

__all__ = ["Case", "case_of", "read_case"]

CONDITIONS = frozenset({"heart", "kidney", "diabetes", "addison", "surgery"})
MEDICINES = frozenset({"pain_relief", "steroid"})

_DOG_KEYS = frozenset(
    {"name", "age_months", "born", "sex", "neutered", "weight_kg", "shape", "size", "known"}
    | {"conditions", "medicines", "pregnant", "pigmented_gums", "season_days", "lumps"}
)
_VALUE_KEYS = frozenset({"value", "unit", "side", "status", "reason", "certainty"})


@dataclass(frozen=True, kw_only=True)
class Case:
    """A case as read: the dog, its findings, its past, the day, and whether it is unfinished."""

    subject: Subject
    findings: tuple[Finding, ...]
    past: tuple[PastExam, ...]
    on: date
    unfinished: bool = False


class _Reader:
    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.wrong: list[str] = []

    def day(self, raw: object, what: str) -> date | None:
        try:
            return date.fromisoformat(str(raw))
        except ValueError:
            self.wrong.append(f"{what}: {raw!r} is no date; give year-month-day")
            return None

    def findings(self, raw: object, where: str) -> tuple[Finding, ...]:
        if not isinstance(raw, Mapping):
            self.wrong.append(f"{where} must be an object of item to value")
            return ()
        found: list[Finding] = []
        for item, value in raw.items():
            info = self.catalogue.items.get(item)
            if info is None or info.kind == "derived":
                self.wrong.append(f"{where}: there is no item {item!r}; see handsfree items")
                continue
            found += self._of_item(info, value)
        return tuple(found)

    def _of_item(self, info: ItemInfo, raw: object) -> list[Finding]:
        if isinstance(raw, list):
            return [finding for part in raw for finding in self._of_item(info, part)]
        if isinstance(raw, Mapping) and not set(raw) <= _VALUE_KEYS:
            return [
                finding
                for side, value in raw.items()
                for finding in self._one(info, value, str(side))
            ]
        return self._one(info, raw, None)

    def _one(self, info: ItemInfo, raw: object, side: str | None) -> list[Finding]:
        given: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {"value": raw}
        if unknown := set(given) - _VALUE_KEYS:
            self.wrong.append(f"{info.item}: unknown key {', '.join(sorted(unknown))}")
            return []
        side = given.get("side", side)
        value = given.get("value")
        if value in ("not_observed", "not_applicable"):
            given, value = {**given, "status": value}, None
        status = given.get("status", "observed" if value is not None else "not_observed")
        if side is not None and info.sides and side not in info.sides:
            self.wrong.append(f"{info.item} has no side {side!r}; it has {', '.join(info.sides)}")
            return []
        unit = given.get("unit", info.unit)
        if value is not None and not self._value_fits(info, value, unit):
            return []
        try:
            finding = Finding(
                item=info.item,
                side=side,
                status=status,
                value=float(value) if info.unit is not None and value is not None else value,
                unit=info.unit,
                certainty=given.get("certainty", "confirmed"),
                reason=str(given.get("reason", "")),
            )
        except ValueError as error:
            self.wrong.append(str(error))
            return []
        return [finding]

    def _value_fits(self, info: ItemInfo, value: object, unit: object) -> bool:
        if info.unit is None:
            if value in info.values:
                return True
            known = ", ".join(info.values)
            self.wrong.append(f"{info.item} has no value {value!r}; it has {known}")
            return False
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.wrong.append(f"{info.item} is a number in {info.unit}, not {value!r}")
            return False
        if unit != info.unit:
            self.wrong.append(f"{info.item} is in {info.unit}, not in {unit}: convert it first")
            return False
        return True

    def subject(self, raw: object, on: date) -> Subject:
        if not isinstance(raw, Mapping):
            self.wrong.append("dog must be an object")
            raw = {}
        if isinstance(raw.get("known"), Mapping):
            raw = {**raw, **raw["known"], "known": ()}
        if unknown := set(raw) - _DOG_KEYS:
            self.wrong.append(f"dog: unknown key {', '.join(sorted(unknown))}")
        fields: dict[str, Any] = {"name": str(raw.get("name", "the dog"))}
        fields["age_months"] = self._age(raw, on)
        fields["weight_kg"] = self._number(raw, "weight_kg")
        fields["season"] = self._whole(raw, "season_days")
        fields["sex"] = self._word(raw, "sex", Sex, Sex.UNKNOWN)
        fields["shape"] = self._word(raw, "shape", Shape, Shape.USUAL)
        fields["size"] = self._word(raw, "size", Size, None)
        neutered = raw.get("neutered")
        if isinstance(neutered, bool):
            fields["neutered"] = Neutered.YES if neutered else Neutered.NO
        else:
            fields["neutered"] = self._word(raw, "neutered", Neutered, Neutered.UNKNOWN)
        known = self._words(raw, "known")
        tokens = {word.strip().lower().replace(" ", "_").replace("-", "_") for word in known}
        fields["conditions"] = (tokens | set(self._words(raw, "conditions"))) & CONDITIONS
        fields["conditions"] = frozenset(fields["conditions"])
        medicines = (tokens & MEDICINES) | set(self._words(raw, "medicines"))
        fields["medicines"] = frozenset(medicines)
        fields["pregnant"] = bool(raw.get("pregnant")) or "pregnant" in tokens
        fields["pigmented_gums"] = bool(raw.get("pigmented_gums")) or "pigmented_gums" in tokens
        fields["known"] = known
        fields["lumps"] = self._lumps(raw)
        try:
            return Subject(**fields)
        except ValueError as error:
            self.wrong.append(f"dog: {error}")
            return Subject(name="the dog")

    def _age(self, raw: Mapping[str, Any], on: date) -> int | None:
        if (age := self._whole(raw, "age_months")) is not None:
            return age
        if "born" not in raw:
            return None
        born = self.day(raw["born"], "dog: born")
        if born is None:
            return None
        if born > on:
            self.wrong.append(f"dog: born {born} lies in the future of {on}; check the date")
            return None
        return (on.year - born.year) * 12 + on.month - born.month - (on.day < born.day)

    def _number(self, raw: Mapping[str, Any], key: str) -> float | None:
        value = raw.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or value < 0:
            self.wrong.append(f"dog: {key} is {value!r}; give a number of 0 or more")
            return None
        return float(value)

    def _whole(self, raw: Mapping[str, Any], key: str) -> int | None:
        number = self._number(raw, key)
        return None if number is None else int(number)

    def _word(self, raw: Mapping[str, Any], key: str, kind: Any, default: Any) -> Any:
        value = raw.get(key)
        if value is None:
            return default
        try:
            return kind(value)
        except ValueError:
            known = ", ".join(kind)
            self.wrong.append(f"dog: {key} is {value!r}; choose one of {known}")
            return default

    def _words(self, raw: Mapping[str, Any], key: str) -> tuple[str, ...]:
        value = raw.get(key, ())
        if isinstance(value, str):
            return (value,)
        if isinstance(value, (list, tuple)) and all(isinstance(word, str) for word in value):
            return tuple(value)
        self.wrong.append(f"dog: {key} must be a list of words")
        return ()

    def _lumps(self, raw: Mapping[str, Any]) -> tuple[KnownLump, ...]:
        found = []
        for entry in raw.get("lumps", ()):
            try:
                found.append(KnownLump(**{"place": "a known place", **entry}))
            except TypeError as error:
                self.wrong.append(f"dog: lump {entry!r} cannot be read ({error})")
        return tuple(found)


def read_case(path: Path, catalogue: Catalogue, today: date) -> Case:
    """Read one case.

    Raises:
        CallerError: The file cannot be read or holds mistakes; all of them are named.
    """
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        msg = f"{path} cannot be read ({error.strerror}): check the name of the file."
        raise CallerError(msg) from error
    except (ValueError, UnicodeDecodeError) as error:
        msg = f"{path} is no JSON ({error}): correct it and try again."
        raise CallerError(msg) from error
    return case_of(raw, catalogue, today, str(path))


def case_of(raw: object, catalogue: Catalogue, today: date, name: str = "The case") -> Case:
    """Read one case from JSON data.

    Args:
        raw: The data.
        catalogue: Items that findings may name.
        today: The day, where the case names none.
        name: What the case is called in messages.

    Raises:
        CallerError: It holds mistakes; all of them are named.
    """
    if not isinstance(raw, Mapping):
        msg = f"{name} must hold one object with dog and findings."
        raise CallerError(msg)
    reader = _Reader(catalogue)
    if unknown := set(raw) - {"dog", "findings", "past", "on", "unfinished", "comment"}:
        reader.wrong.append(f"unknown key {', '.join(sorted(unknown))}")
    on = reader.day(raw["on"], "on") if "on" in raw else today
    on = on or today
    case = Case(
        subject=reader.subject(raw.get("dog", {}), on),
        findings=reader.findings(raw.get("findings", {}), "findings"),
        past=_past(reader, raw.get("past", []), on),
        on=on,
        unfinished=bool(raw.get("unfinished", False)),
    )
    if reader.wrong:
        mistakes = "mistake" if len(reader.wrong) == 1 else "mistakes"
        msg = f"{name} has {len(reader.wrong)} {mistakes}; correct what is wrong:\n" + "\n".join(
            f"  {line}" for line in reader.wrong
        )
        raise CallerError(msg)
    return case


def _past(reader: _Reader, raw: object, on: date) -> tuple[PastExam, ...]:
    if not isinstance(raw, list):
        reader.wrong.append("past must be a list of exams")
        return ()
    found = []
    for number, exam in enumerate(raw, start=1):
        if not isinstance(exam, Mapping) or "on" not in exam:
            reader.wrong.append(f"past exam {number} needs on and findings")
            continue
        day = reader.day(exam["on"], f"past exam {number}")
        if day is None:
            continue
        if day > on:
            reader.wrong.append(f"past exam {number} of {day} lies after {on}")
        findings = reader.findings(exam.get("findings", {}), f"past exam {number}")
        found.append(PastExam(exam_id=str(number), on=day, findings=findings))
    return tuple(found)
