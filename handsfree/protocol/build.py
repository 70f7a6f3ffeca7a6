"""Turns the raw tables of protocol files into the model, noting every fault on the way.

One function for each kind of table. What spans several tables or files is checked in ``check``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast, get_args

from handsfree.protocol.model import (
    Applies,
    Basis,
    Caution,
    Condition,
    Kind,
    Limits,
    Question,
    Read,
    Region,
    Routine,
    SightNeed,
    Source,
)
from handsfree.protocol.reader import Problems, TableReader
from handsfree.protocol.subject import Part, Shape

__all__ = ["build_cautions", "build_region", "build_routines", "build_sources"]

_PARTS = tuple(part.value for part in Part)
_SHAPES = tuple(shape.value for shape in Shape)
UNITS = ("kg", "Cel", "mm", "mL", "/min", "s")


def _parts(reader: TableReader, key: str) -> tuple[Part, ...]:
    names = reader.tokens(key)
    for name in names:
        if name not in _PARTS:
            reader.fault(key, f"{name!r} is no part; parts are {', '.join(_PARTS)}")
    return tuple(Part(name) for name in names if name in _PARTS)


def _applies(reader: TableReader | None) -> Applies:
    if reader is None:
        return Applies()
    shapes = reader.tokens("shapes")
    for shape in shapes:
        if shape not in _SHAPES:
            reader.fault("shapes", f"{shape!r} is no shape; shapes are {', '.join(_SHAPES)}")
    applies = Applies(
        sex=cast(Any, reader.maybe_one_of("sex", ("female", "male"))),
        neutered=reader.maybe_flag("neutered"),
        not_missing=_parts(reader, "not_missing"),
        needs=_parts(reader, "needs"),
        dewclaws=reader.flag("dewclaws"),
        min_age_months=reader.maybe_integer("min_age_months"),
        max_age_months=reader.maybe_integer("max_age_months"),
        shapes=shapes,
        pigmented_gums=reader.maybe_flag("pigmented_gums"),
        pregnant=reader.maybe_flag("pregnant"),
        known_lumps=reader.maybe_flag("known_lumps"),
    )
    reader.finish()
    return applies


def _conditions(outer: TableReader, key: str) -> tuple[Condition, ...]:
    found = []
    for reader in outer.tables(key):
        above = reader.maybe_number("above")
        below = reader.maybe_number("below")
        values = reader.tokens("values")
        not_values = reader.tokens("not_values")
        item = reader.item("item")
        side = reader.maybe_token("side")
        reader.finish()
        if not (values or not_values) and above is None and below is None:
            reader.fault("item", "needs one of values, not_values, above, below beside it")
            continue
        found.append(
            Condition(
                item=item,
                values=values,
                not_values=not_values,
                above=above,
                below=below,
                side=side,
            )
        )
    return tuple(found)


def _limits(reader: TableReader | None) -> Limits | None:
    if reader is None:
        return None
    limits = Limits(
        hard_low=reader.number("hard_low"),
        hard_high=reader.number("hard_high"),
        usual_low=reader.number("usual_low"),
        usual_high=reader.number("usual_high"),
        source=reader.token("source"),
    )
    reader.finish()
    if not limits.hard_low <= limits.usual_low < limits.usual_high <= limits.hard_high:
        reader.fault("usual_low", "the usual limits must lie within the hard ones, low below high")
    return limits


def _part_of(reader: TableReader, side: str) -> Part | None:
    name = reader.one_of(side, _PARTS)
    return Part(name) if name in _PARTS else None


def _question(reader: TableReader) -> Question:
    values = reader.texts("values")
    offered = reader.texts("choices")
    kind = reader.enum("kind", Kind, Kind.CHOICE)
    for value in offered:
        if value not in values:
            reader.fault(f"choices.{value}", "is offered but is not among the values")
    question = Question(
        id=reader.token("id"),
        kind=kind,
        prompt=reader.sentence("prompt"),
        again=reader.sentence("again"),
        short=reader.sentence("short") if reader.has("short") else None,
        help=reader.sentence("help"),
        grammar=reader.token("grammar"),
        normal=reader.tokens("normal"),
        values=values,
        choices={value: offered.get(value, value.replace("_", " ")) for value in values}
        if kind is Kind.CHOICE
        else {},
        alarming=reader.tokens("alarming"),
        harmless=reader.flag("harmless"),
        unit=reader.one_of("unit", UNITS) if reader.has("unit") else None,
        units_heard=reader.tokens("units_heard"),
        limits=_limits(reader.table("limits")),
        windows_s=reader.integers("windows_s"),
        sides=reader.tokens("sides"),
        part={s: p for s, p in reader.each("part", _part_of).items() if p is not None},
        per_lump=reader.flag("per_lump"),
        sight=reader.enum("sight", SightNeed, SightNeed.TOUCH),
        touch_prompt=reader.maybe_sentence("touch_prompt"),
        touch_help=reader.maybe_sentence("touch_help"),
        when=_conditions(reader, "when"),
        always_from_months=reader.maybe_integer("always_from_months"),
        always_to_months=reader.maybe_integer("always_to_months"),
        when_side=reader.each("when_side", _conditions),
        applies=_applies(reader.table("applies")),
        caution=reader.maybe_token("caution"),
        source=reader.token("source"),
        daylight=reader.flag("daylight"),
    )
    reader.finish()
    return question


def build_region(raw: Mapping[str, Any], file: str, problems: Problems) -> Region:
    """Build a region from its file's table; messages name file, region, question and key."""
    name = raw.get("id", "?")
    reader = TableReader(raw, f"{file}, region {name}", problems)
    questions = []
    for entry in reader.tables("question"):
        entry.place = f"{file}, region {name}, question {entry.raw('id') or '?'}"
        questions.append(_question(entry))
    region = Region(
        id=reader.token("id"),
        title=reader.sentence("title"),
        intro=reader.maybe_sentence("intro"),
        caution=reader.maybe_token("caution"),
        applies=_applies(reader.table("applies")),
        question=tuple(questions),
    )
    if not questions:
        reader.fault("question", "is missing; a region has at least one question")
    reader.finish()
    return region


def _named(raw: Mapping[str, Any], file: str, problems: Problems) -> dict[str, TableReader]:
    found = {}
    for key, table in raw.items():
        if isinstance(table, dict):
            found[key] = TableReader(table, f"{file}, {key}", problems)
        else:
            problems.add(f"{file}, {key}", f"is {table!r}; give a table [{key}]")
    return found


def build_sources(raw: Mapping[str, Any], file: str, problems: Problems) -> dict[str, Source]:
    """Build the sources, each a table named by its key."""
    out = {}
    for key, reader in _named(raw, file, problems).items():
        out[key] = Source(
            key=key,
            cite=reader.sentence("cite"),
            basis=cast(Basis, reader.one_of("basis", get_args(Basis))),
            read=cast(Read, reader.one_of("read", get_args(Read))),
        )
        reader.finish()
    return out


def build_cautions(raw: Mapping[str, Any], file: str, problems: Problems) -> dict[str, Caution]:
    """Build the cautions, each a table named by its key."""
    out = {}
    for key, reader in _named(raw, file, problems).items():
        out[key] = Caution(key=key, say=reader.sentence("say"), source=reader.token("source"))
        reader.finish()
    return out


def _window(reader: TableReader, item: str) -> int:
    value = reader.raw(item)
    if not isinstance(value, int) or isinstance(value, bool):
        reader.fault(item, f"is {value!r}; give whole seconds")
        return 0
    return value


def build_routines(raw: Mapping[str, Any], file: str, problems: Problems) -> dict[str, Routine]:
    """Build the routines, each a table named by its id."""
    out = {}
    for key, reader in _named(raw, file, problems).items():
        reader.place = f"{file}, routine {key}"
        out[key] = Routine(
            id=key,
            title=reader.sentence("title"),
            regions=reader.tokens("regions"),
            only=reader.each("only", lambda inner, region: inner.tokens(region)),
            when=reader.each("when", _conditions),
            window_s=reader.each("window_s", _window),
            minutes=reader.number("minutes"),
        )
        reader.finish()
    return out
