"""Reading the rule table from its files, and checking all of it at once.

One ``DataError`` names every mistake: an unknown item, value or unit, two rows of one id, a watch
row without a time to look again, a source that nobody listed. What rows do lives in ``engine``.

A row's ``all``, ``any`` and ``dog`` must hold together. ``all`` and ``any`` are lists of tests;
a test names an item with ``values``, ``not_values``, ``at_least``, ``above``, ``at_most``,
``below`` (these four with a ``unit``), or is itself ``{all = [...]}``, ``{any = [...]}``,
``{none = [...]}`` or ``{dog = {...}}``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING, Any, get_args

from handsfree.errors import DataError
from handsfree.judging.catalogue import Catalogue, ItemInfo, catalogue_of
from handsfree.judging.conditions import DogTest, Group, ItemTest, Test, triggers_of
from handsfree.judging.model import Basis, Level, Read, Rule, Step

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol

__all__ = ["Contradiction", "SourceRow", "Table", "load_table", "read_table", "table_for"]

_BOUNDS = ("at_least", "above", "at_most", "below")
_RULE_KEYS = frozenset(
    {"id", "level", "topic", "name", "all", "any", "dog", "say", "meanwhile", "avoid", "recheck"}
    | {"recheck_h", "source", "basis", "read", "no_step", "calm_recheck", "breathing", "waits"}
    | {"cautions"}
)
_STEP_KEYS = frozenset(
    {"id", "all", "any", "dog", "because", "breathing_only", "two_same_day", "source"}
)
_DOG_WORDS = {
    "sex": ("female", "male", "unknown"),
    "neutered": ("yes", "no", "unknown"),
    "shape": ("usual", "flat_faced", "sighthound", "giant", "toy", "long_backed"),
    "size": ("toy", "small", "medium", "large", "giant"),
}
_DOG_FLAGS = frozenset({"senior", "pregnant", "pigmented_gums", "adult", "deep_chest"})
_DOG_SETS = frozenset({"conditions", "medicines"})
_DOG_NUMBERS = frozenset({"age_months", "weight_kg", "season_days"})


@dataclass(frozen=True, kw_only=True)
class SourceRow:
    """A source of the table."""

    key: str
    cite: str
    basis: Basis
    read: Read


@dataclass(frozen=True, kw_only=True)
class Contradiction:
    """Answers that cannot both be true, and what to say of it."""

    id: str
    test: Test
    say: str


@dataclass(frozen=True, kw_only=True)
class Table:
    """The whole table as loaded and checked.

    Attributes:
        version: Stored with each result: the stated version and a digest of the files.
        rules: Rows in the order of the files.
        steps: Stated steps up.
        vital: Name of each vital sign to the answers that count as having looked at it.
        contradictions: Pairs of answers that cannot both be true.
        sources: Sources by key.
        catalogue: Every item that rows may look at.
        triggers: Item to its tests, each with the row that it can fire.
    """

    version: str
    rules: tuple[Rule, ...]
    steps: tuple[Step, ...]
    vital: Mapping[str, tuple[ItemTest, ...]]
    contradictions: tuple[Contradiction, ...]
    sources: Mapping[str, SourceRow]
    catalogue: Catalogue
    triggers: Mapping[str, tuple[tuple[ItemTest, Rule], ...]]

    def rule(self, rule_id: str) -> Rule:
        """The row of that id.

        Raises:
            KeyError: No such row.
        """
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(rule_id)


class _Reader:
    """Gathers mistakes instead of stopping at the first."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.wrong: list[str] = []
        self.where = ""

    def bad(self, what: str) -> None:
        self.wrong.append(f"{self.where}: {what}")

    def tests(self, row: Mapping[str, Any]) -> Test:
        """The row's ``all``, ``any`` and ``dog`` together."""
        parts: list[Test] = []
        if "all" in row:
            parts.extend(self.test(part) for part in self._list(row["all"], "all"))
        if "any" in row:
            parts.append(self._group("any", row["any"]))
        if "dog" in row:
            parts.extend(self.dog(row["dog"]))
        if not parts:
            self.bad("has no condition; give it all, any or dog")
        return parts[0] if len(parts) == 1 else Group(how="all", parts=tuple(parts))

    def test(self, raw: object) -> Test:
        if not isinstance(raw, Mapping):
            self.bad(f"a condition must be a table, not {raw!r}")
            return Group(how="any", parts=())
        for how in ("all", "any", "none"):
            if how in raw:
                extra = set(raw) - {how, "least"}
                if extra:
                    self.bad(f"unknown key {', '.join(sorted(extra))} beside {how}")
                return self._group(how, raw[how], int(raw.get("least", 1)))
        if "dog" in raw:
            return Group(how="all", parts=self.dog(raw["dog"]))
        return self._item(raw)

    def _list(self, raw: object, what: str) -> Sequence[object]:
        if not isinstance(raw, list) or not raw:
            self.bad(f"{what} must be a list of conditions")
            return ()
        return raw

    def _group(self, how: str, raw: object, least: int = 1) -> Group:
        parts = tuple(self.test(part) for part in self._list(raw, how))
        return Group(how=how, parts=parts, least=least)

    def _item(self, raw: Mapping[str, Any]) -> ItemTest:
        known = {"item", "values", "not_values", *_BOUNDS, "unit", "side", "any_side", "sides_min"}
        if extra := set(raw) - known:
            self.bad(f"unknown key {', '.join(sorted(extra))} in a condition")
        item = str(raw.get("item", ""))
        info = self.catalogue.items.get(item)
        if info is None:
            self.bad(f"unknown item {item or '(none named)'}")
        else:
            self._check_values(info, raw)
        return ItemTest(
            item=item,
            values=frozenset(raw.get("values", ())),
            not_values=frozenset(raw.get("not_values", ())),
            **{bound: float(raw[bound]) for bound in _BOUNDS if bound in raw},
            unit=raw.get("unit"),
            side=raw.get("side"),
            any_side=bool(raw.get("any_side", False)),
            sides_min=int(raw.get("sides_min", 1)),
        )

    def _check_values(self, info: ItemInfo, raw: Mapping[str, Any]) -> None:
        bounds = [bound for bound in _BOUNDS if bound in raw]
        for value in (*raw.get("values", ()), *raw.get("not_values", ())):
            if value not in info.values:
                self.bad(f"{info.item} has no value {value!r}; it has {', '.join(info.values)}")
        if not bounds and not (raw.get("values") or raw.get("not_values")):
            self.bad(f"the condition on {info.item} tests nothing")
        if bounds and info.unit is None:
            self.bad(f"{info.item} is no number, so {', '.join(bounds)} cannot hold")
        elif bounds and raw.get("unit") != info.unit:
            self.bad(f"{info.item} is in {info.unit}, not in {raw.get('unit') or 'no unit'}")
        if (side := raw.get("side")) is not None and side not in info.sides:
            self.bad(f"{info.item} has no side {side!r}")

    def dog(self, raw: object) -> tuple[Test, ...]:
        if not isinstance(raw, Mapping):
            self.bad(f"dog must be a table, not {raw!r}")
            return ()
        tests: list[Test] = []
        for key, value in raw.items():
            fact, _, bound = key.rpartition("_from")
            if bound == "" and fact in _DOG_NUMBERS:
                tests.append(DogTest(fact=fact, at_least=float(value)))
                continue
            fact, _, bound = key.rpartition("_under")
            if bound == "" and fact in _DOG_NUMBERS:
                tests.append(DogTest(fact=fact, below=float(value)))
            elif key in _DOG_FLAGS:
                tests.append(DogTest(fact=key, is_true=bool(value)))
            elif key in _DOG_WORDS or key in _DOG_SETS:
                words = frozenset((value,) if isinstance(value, str) else value)
                for word in words - frozenset(_DOG_WORDS.get(key, words)):
                    self.bad(f"dog fact {key} has no value {word!r}")
                tests.append(DogTest(fact=key, values=words))
            else:
                self.bad(f"unknown dog fact {key}")
        return tuple(tests)

    def rule(self, raw: Mapping[str, Any], sources: Mapping[str, SourceRow]) -> Rule | None:
        """One row, or None where it is too broken to stand for anything."""
        before = len(self.wrong)
        if extra := set(raw) - _RULE_KEYS:
            self.bad(f"unknown key {', '.join(sorted(extra))}")
        for key in ("id", "level", "topic", "name", "say", "source"):
            if not isinstance(raw.get(key), str) or not raw[key].strip():
                self.bad(f"needs {key}")
        level = raw.get("level")
        if level not in ("now", "same_day", "days", "next_visit", "watch"):
            self.bad(f"level {level!r} is none of now, same_day, days, next_visit, watch")
        if level == "watch" and not (raw.get("recheck") and raw.get("recheck_h")):
            self.bad("a watch row needs recheck and recheck_h")
        source = sources.get(str(raw.get("source")))
        if source is None:
            self.bad(f"unknown source {raw.get('source')!r}")
        basis = raw.get("basis", source.basis if source else "judgement")
        read = raw.get("read", source.read if source else "ours")
        if basis not in get_args(Basis):
            self.bad(f"basis {basis!r} is none of {', '.join(get_args(Basis))}")
        if read not in get_args(Read):
            self.bad(f"read {read!r} is none of {', '.join(get_args(Read))}")
        if (waits := raw.get("waits")) and waits not in self.catalogue.items:
            self.bad(f"waits for unknown item {waits}")
        for key in raw.get("cautions", ()):
            if key not in self.catalogue.cautions:
                self.bad(f"unknown caution {key!r}")
        test = self.tests(raw)
        if not triggers_of(test):
            self.bad("fires on no answer; name an item outside none")
        if len(self.wrong) > before or source is None:
            return None
        return Rule(
            **{k: v for k, v in raw.items() if k in _RULE_KEYS - {"all", "any", "dog"}}
            | {
                "level": Level(raw["level"]),
                "basis": basis,
                "read": read,
                "cautions": tuple(raw.get("cautions", ())),
            },
            test=test,
            cite=source.cite,
            when={key: raw[key] for key in ("all", "any", "dog") if key in raw},
        )


def table_for(protocol: Protocol) -> Table:
    """The shipped table, checked against a protocol.

    Raises:
        DataError: The table has mistakes; all of them are named.
    """
    folder = files("handsfree.judging") / "data"
    return load_table(folder, catalogue_of(protocol))


@cache
def read_table() -> Table:
    """The shipped table for the shipped protocol; read once."""
    from handsfree.protocol.loader import load

    return table_for(load())


def load_table(folder: Traversable, catalogue: Catalogue) -> Table:
    """Load every ``.toml`` file of a folder as one table.

    Raises:
        DataError: A file is no TOML, or the table has mistakes; all of them are named.
    """
    reader = _Reader(catalogue)
    raws: dict[str, dict[str, Any]] = {}
    digest = sha256()
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if file.name.endswith(".toml"):
            text = file.read_text(encoding="utf-8")
            digest.update(text.encode())
            try:
                raws[file.name] = tomllib.loads(text)
            except tomllib.TOMLDecodeError as error:
                reader.wrong.append(f"{file.name}: {error}")
    sources = _sources(reader, raws)
    rules = _rules(reader, raws, sources)
    steps = _steps(reader, raws, sources)
    contradictions = _contradictions(reader, raws)
    vital = _vital(reader, raws)
    versions = [str(raw["version"]) for raw in raws.values() if "version" in raw]
    if len(versions) != 1:
        reader.wrong.append("exactly one file must state the table's version")
    if reader.wrong:
        msg = f"The rule table has {len(reader.wrong)} mistakes; correct them:\n" + "\n".join(
            f"  {line}" for line in reader.wrong
        )
        raise DataError(msg)
    triggers: dict[str, list[tuple[ItemTest, Rule]]] = {}
    for rule in rules:
        for test in triggers_of(rule.test):
            triggers.setdefault(test.item, []).append((test, rule))
    return Table(
        version=f"{versions[0]}+{digest.hexdigest()[:8]}",
        rules=rules,
        steps=steps,
        vital=vital,
        contradictions=contradictions,
        sources=sources,
        catalogue=catalogue,
        triggers={item: tuple(found) for item, found in triggers.items()},
    )


def _sources(reader: _Reader, raws: Mapping[str, Mapping[str, Any]]) -> dict[str, SourceRow]:
    sources: dict[str, SourceRow] = {}
    for name, raw in raws.items():
        for entry in raw.get("source", ()):
            reader.where = f"{name}, source {entry.get('key', '(no key)')}"
            missing = {"key", "cite", "basis", "read"} ^ set(entry)
            if missing:
                reader.bad(f"needs exactly key, cite, basis, read; look at {', '.join(missing)}")
                continue
            if entry["key"] in sources:
                reader.bad("is listed twice")
            if entry["basis"] not in get_args(Basis) or entry["read"] not in get_args(Read):
                reader.bad(f"basis {entry['basis']!r} or read {entry['read']!r} is unknown")
            sources[entry["key"]] = SourceRow(**entry)
    return sources


def _rules(
    reader: _Reader, raws: Mapping[str, Mapping[str, Any]], sources: Mapping[str, SourceRow]
) -> tuple[Rule, ...]:
    rules: dict[str, Rule] = {}
    homes: dict[str, str] = {}
    for name, raw in raws.items():
        for entry in raw.get("rule", ()):
            rule_id = str(entry.get("id", "(no id)"))
            reader.where = f"{name}, rule {rule_id}"
            if rule_id in homes:
                reader.bad(f"that id is taken already in {homes[rule_id]}")
            homes[rule_id] = name
            rule = reader.rule(entry, sources)
            if rule is not None:
                rules[rule.id] = rule
    return tuple(rules.values())


def _steps(
    reader: _Reader, raws: Mapping[str, Mapping[str, Any]], sources: Mapping[str, SourceRow]
) -> tuple[Step, ...]:
    steps = []
    for name, raw in raws.items():
        for entry in raw.get("step", ()):
            reader.where = f"{name}, step {entry.get('id', '(no id)')}"
            if extra := set(entry) - _STEP_KEYS:
                reader.bad(f"unknown key {', '.join(sorted(extra))}")
            if entry.get("source") not in sources:
                reader.bad(f"unknown source {entry.get('source')!r}")
            steps.append(
                Step(
                    id=str(entry.get("id")),
                    test=None if entry.get("two_same_day") else reader.tests(entry),
                    two_same_day=bool(entry.get("two_same_day", False)),
                    because=str(entry.get("because", "")),
                    breathing_only=bool(entry.get("breathing_only", False)),
                    source=str(entry.get("source")),
                )
            )
    return tuple(steps)


def _contradictions(
    reader: _Reader, raws: Mapping[str, Mapping[str, Any]]
) -> tuple[Contradiction, ...]:
    found = []
    for name, raw in raws.items():
        for entry in raw.get("contradiction", ()):
            reader.where = f"{name}, contradiction {entry.get('id', '(no id)')}"
            if not entry.get("say"):
                reader.bad("needs say")
            found.append(
                Contradiction(
                    id=str(entry.get("id")),
                    test=reader.tests(entry),
                    say=str(entry.get("say")),
                )
            )
    return tuple(found)


def _vital(
    reader: _Reader, raws: Mapping[str, Mapping[str, Any]]
) -> dict[str, tuple[ItemTest, ...]]:
    vital: dict[str, tuple[ItemTest, ...]] = {}
    for name, raw in raws.items():
        for key, tests in raw.get("vital", {}).items():
            reader.where = f"{name}, vital {key}"
            read = tuple(reader.test(test) for test in tests)
            vital[key] = tuple(test for test in read if isinstance(test, ItemTest))
    return vital
