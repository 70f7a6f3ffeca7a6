"""Events and actions to JSON and back, without loss.

One generic walk over the dataclasses' own types, so that a new event needs no code here. The form
carries a version: an older log stays readable, a newer one is refused in words.
"""

from __future__ import annotations

import dataclasses
import types
from enum import Enum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from handsfree.dialogue import actions, events
from handsfree.errors import DataError

__all__ = ["FORM", "action_to_json", "event_from_json", "event_to_json"]

FORM = 1
"""Version of the log's form."""


def event_to_json(event: events.Event) -> dict[str, Any]:
    """Return ``event`` as plain JSON data, with its type and the form's version."""
    return {"form": FORM, "type": type(event).__name__, **_plain_fields(event)}


def action_to_json(action: actions.Action) -> dict[str, Any]:
    """Return ``action`` as plain JSON data with its type; used to compare replays."""
    return {"type": type(action).__name__, **_plain_fields(action)}


def event_from_json(data: dict[str, Any]) -> events.Event:
    """Return the event that ``data`` was made from.

    Raises:
        DataError: The form is newer than this program, or the data is no event.
    """
    form = data.get("form")
    if not isinstance(form, int) or form > FORM:
        msg = f"This log is of form {form!r}, newer than this program knows ({FORM}). Update first."
        raise DataError(msg)
    kind = _event_types().get(str(data.get("type")))
    if kind is None:
        msg = f"This log holds an event of unknown type {data.get('type')!r}; it may be damaged."
        raise DataError(msg)
    try:
        event = _build(kind, data)
    except (KeyError, TypeError, ValueError) as error:
        msg = f"This log holds a {kind.__name__} event that cannot be read ({error})."
        raise DataError(msg) from error
    assert isinstance(event, events.Event)
    return event


@cache
def _event_types() -> dict[str, type]:
    return {
        kind.__name__: kind
        for kind in vars(events).values()
        if isinstance(kind, type) and issubclass(kind, events.Event) and kind is not events.Event
    }


def _plain_fields(thing: Any) -> dict[str, Any]:
    return {f.name: _plain(getattr(thing, f.name)) for f in dataclasses.fields(thing)}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _plain_fields(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, frozenset):
        return sorted(_plain(v) for v in value)
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _build(kind: type, data: dict[str, Any]) -> Any:
    hints = _hints(kind)
    return kind(**{name: _read(hint, data[name]) for name, hint in hints.items() if name in data})


def _read(hint: Any, value: Any) -> Any:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        return _read_union(hint, value)
    if origin is tuple:
        inner = get_args(hint)
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_read(inner[0], v) for v in value)
        return tuple(_read(h, v) for h, v in zip(inner, value, strict=True))
    if origin is frozenset:
        return frozenset(_read(get_args(hint)[0], v) for v in value)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint(value)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _build(hint, value)
    if hint is float and isinstance(value, int):
        return float(value)
    return value


def _read_union(hint: Any, value: Any) -> Any:
    if value is None:
        return None
    members = [m for m in get_args(hint) if m is not type(None)]
    # str | float and the like: JSON keeps the two apart by itself.
    return _read(members[0], value) if len(members) == 1 else value
