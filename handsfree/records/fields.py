"""How a dataclass field goes into a column and into an edit, and back.

One walk over the dataclass's own types, so that a new field of a dog needs a column and nothing
here. Sets and tuples become sorted JSON arrays, dates ISO text, enums their tokens.
"""

from __future__ import annotations

import dataclasses
import json
import types
from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

__all__ = ["from_column", "from_plain", "stored_fields", "to_column", "to_plain"]

_NOT_STORED = {"id", "added_at", "rounds_done"}
"""Fields of the values that are no plain columns of their own."""


@cache
def stored_fields(kind: type) -> Mapping[str, Any]:
    """Return the fields of a dataclass that are columns, with their types."""
    hints = get_type_hints(kind)
    assert dataclasses.is_dataclass(kind)
    return {f.name: hints[f.name] for f in dataclasses.fields(kind) if f.name not in _NOT_STORED}


def to_plain(value: Any) -> Any:
    """Return a field's value as plain JSON data."""
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, frozenset):
        return sorted(to_plain(v) for v in value)
    if isinstance(value, tuple):
        return [to_plain(v) for v in value]
    if isinstance(value, date):  # a datetime is a date
        return value.isoformat()
    return value


def from_plain(hint: Any, value: Any) -> Any:
    """Return the value of type ``hint`` that ``value`` was made from.

    Raises:
        ValueError: ``value`` is no such thing.
    """
    if get_origin(hint) in (Union, types.UnionType):
        if value is None:
            return None
        (hint,) = (h for h in get_args(hint) if h is not type(None))
    origin = get_origin(hint)
    if origin is frozenset:
        return frozenset(from_plain(get_args(hint)[0], v) for v in value)
    if origin is tuple:
        return tuple(from_plain(get_args(hint)[0], v) for v in value)
    if hint in (date, datetime):
        return hint.fromisoformat(value)
    return hint(value)


def to_column(value: Any) -> str | int | float | None:
    """Return a field's value as it stands in its column."""
    plain = to_plain(value)
    if isinstance(plain, list):
        return json.dumps(plain, ensure_ascii=False)
    if isinstance(plain, bool):
        return int(plain)
    assert plain is None or isinstance(plain, str | int | float)
    return plain


def from_column(hint: Any, value: Any) -> Any:
    """Return the field's value from its column."""
    if value is not None and get_origin(hint) in (frozenset, tuple):
        value = json.loads(value)
    return from_plain(hint, value)
