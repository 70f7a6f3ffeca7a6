"""Reads typed values out of one table of a protocol file and notes every problem it meets.

Knows tokens, sentences, numbers and lists, and which keys were never asked for; knows nothing of
dogs. A library would do this too, but importing it takes longer than loading the whole check.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, TypeVar

__all__ = ["Problems", "TableReader"]

_E = TypeVar("_E", bound=StrEnum)

_TOKEN = re.compile(r"[a-z][a-z0-9_]{0,39}")
_ITEM = re.compile(r"[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*")


@dataclass
class Problems:
    """Every problem found so far, each with where it is."""

    lines: list[str] = field(default_factory=list)

    def add(self, place: str, what: str) -> None:
        """Note one problem: ``place`` names file, region, question and key."""
        self.lines.append(f"{place}: {what}")


class TableReader:
    """One table. Each reading method takes the key; a fault is noted and a harmless value given.

    Args:
        table: The raw table.
        place: File and, where known, region and question, for messages.
        problems: Where faults are noted.
    """

    def __init__(self, table: Mapping[str, Any], place: str, problems: Problems) -> None:
        self._table = table
        self.place = place
        self._problems = problems
        self._read: set[str] = set()

    def fault(self, key: str, what: str) -> None:
        """Note a problem of ``key``."""
        self._problems.add(f"{self.place}, key {key}", what)

    def finish(self) -> None:
        """Note every key that nothing asked for."""
        for key in self._table:
            if key not in self._read:
                known = ", ".join(sorted(self._read))
                self.fault(key, f"this key is not known here; known keys are {known}")

    def has(self, key: str) -> bool:
        """Whether the key is there."""
        self._read.add(key)
        return key in self._table

    def raw(self, key: str) -> Any:
        """The value as it stands, or None."""
        self._read.add(key)
        return self._table.get(key)

    def _need(self, key: str, kind: type | tuple[type, ...], name: str, default: Any) -> Any:
        value = self.raw(key)
        if value is None:
            if default is _REQUIRED:
                self.fault(key, f"is missing; give {name}")
                return None
            return default
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            self.fault(key, f"is {value!r}; give {name}")
            return None if default is _REQUIRED else default
        return value

    def sentence(self, key: str) -> str:
        """A required text of 2 to 600 characters."""
        return self.maybe_sentence(key, required=True) or "?"

    def maybe_sentence(self, key: str, *, required: bool = False) -> str | None:
        """A text of 2 to 600 characters, or None where the key is absent."""
        value = self._need(key, str, "a sentence", _REQUIRED if required else None)
        if value is None:
            return None
        text = " ".join(value.split())
        if not 2 <= len(text) <= 600:
            self.fault(key, f"has {len(text)} characters; give 2 to 600")
        return text

    def token(self, key: str) -> str:
        """A required token: lower case letters, digits and underscores."""
        return self.maybe_token(key, required=True) or "missing"

    def maybe_token(self, key: str, *, required: bool = False) -> str | None:
        """A token, or None where the key is absent."""
        value = self._need(key, str, "a token", _REQUIRED if required else None)
        if value is not None and not _TOKEN.fullmatch(value):
            self.fault(key, f"is {value!r}; a token has lower case letters, digits, underscores")
        return value  # type: ignore[no-any-return]

    def item(self, key: str) -> str:
        """A required item id ``region.question``."""
        value = self._need(key, str, "an item id like mouth.teeth", _REQUIRED)
        if value is not None and not _ITEM.fullmatch(value):
            self.fault(key, f"is {value!r}; an item id has the form region.question")
        return value or "missing.missing"

    def number(self, key: str) -> float:
        """A required number."""
        value = self.maybe_number(key, required=True)
        return 0.0 if value is None else value

    def maybe_number(self, key: str, *, required: bool = False) -> float | None:
        """A number, or None where the key is absent."""
        value = self._need(key, (int, float), "a number", _REQUIRED if required else None)
        return None if value is None else float(value)

    def maybe_integer(self, key: str) -> int | None:
        """A whole number, or None where the key is absent."""
        return self._need(key, int, "a whole number", None)  # type: ignore[no-any-return]

    def flag(self, key: str) -> bool:
        """True or false; false where the key is absent."""
        return bool(self._need(key, bool, "true or false", False))

    def maybe_flag(self, key: str) -> bool | None:
        """True, false, or None where the key is absent."""
        return self._need(key, bool, "true or false", None)  # type: ignore[no-any-return]

    def tokens(self, key: str) -> tuple[str, ...]:
        """A list of distinct texts; empty where the key is absent."""
        value = self._need(key, list, "a list of tokens", [])
        found = [entry for entry in value if isinstance(entry, str)]
        if len(found) != len(value):
            self.fault(key, f"is {value!r}; give a list of tokens in quotes")
        if len(set(found)) != len(found):
            self.fault(key, f"names one thing twice: {', '.join(found)}")
        return tuple(found)

    def integers(self, key: str) -> tuple[int, ...]:
        """A list of whole numbers; empty where the key is absent."""
        value = self._need(key, list, "a list of whole numbers", [])
        if not all(isinstance(entry, int) and not isinstance(entry, bool) for entry in value):
            self.fault(key, f"is {value!r}; give a list of whole numbers")
            return ()
        return tuple(value)

    def texts(self, key: str) -> dict[str, str]:
        """A table of tokens to sentences; empty where the key is absent."""
        value = self._need(key, dict, "a table of tokens to sentences", {})
        out: dict[str, str] = {}
        for name, text in value.items():
            if not _TOKEN.fullmatch(name):
                self.fault(f"{key}.{name}", "is no token: use lower case, digits, underscores")
            if not isinstance(text, str) or not text.strip():
                self.fault(f"{key}.{name}", f"is {text!r}; give a sentence")
                continue
            out[name] = " ".join(text.split())
        return out

    def one_of(self, key: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        """One of a fixed set of words."""
        value = self._need(
            key, str, f"one of {', '.join(allowed)}", _REQUIRED if default is None else default
        )
        if value is None:
            return allowed[0]
        if value not in allowed:
            self.fault(key, f"is {value!r}; give one of {', '.join(allowed)}")
            return allowed[0] if default is None else default
        return value  # type: ignore[no-any-return]

    def maybe_one_of(self, key: str, allowed: tuple[str, ...]) -> str | None:
        """One of a fixed set of words, or None where the key is absent."""
        return self.one_of(key, allowed) if self.has(key) else None

    def enum(self, key: str, kind: type[_E], default: _E) -> _E:
        """A member of an enumeration."""
        allowed = tuple(member.value for member in kind)
        return kind(self.one_of(key, allowed, default.value))

    def tables(self, key: str) -> list[TableReader]:
        """A list of tables, each with its own reader; empty where the key is absent."""
        value = self._need(key, list, "a list of tables", [])
        out = []
        for number, entry in enumerate(value, start=1):
            if isinstance(entry, dict):
                out.append(TableReader(entry, f"{self.place}, key {key} {number}", self._problems))
            else:
                self.fault(key, f"entry {number} is {entry!r}; give a table")
        return out

    def table(self, key: str) -> TableReader | None:
        """One table with its own reader, or None where the key is absent."""
        value = self._need(key, dict, "a table", None)
        if value is None:
            return None
        return TableReader(value, f"{self.place}, key {key}", self._problems)

    def each(self, key: str, read: Callable[[TableReader, str], Any]) -> dict[str, Any]:
        """A table of tables or lists, read entry by entry with ``read(reader, entry key)``."""
        inner = self.table(key)
        if inner is None:
            return {}
        out = {name: read(inner, name) for name in inner._table}
        inner.finish()
        return out


_REQUIRED = object()
