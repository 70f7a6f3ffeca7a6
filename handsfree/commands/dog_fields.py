"""The options that say what is known of a dog, and what they mean."""

from __future__ import annotations

import argparse
import re
from datetime import date, timedelta
from typing import Any

from handsfree.commands.shared import parse_day, today
from handsfree.errors import CallerError
from handsfree.protocol.subject import Neutered, Part, Sex, Shape, Size

__all__ = ["PLAIN", "add_fields", "field_values", "parse_age", "parse_birth"]

_AGE = re.compile(r"(?:about\s+)?(\d+)\s*(week|month|year)s?", re.IGNORECASE)


def add_fields(parser: argparse.ArgumentParser) -> None:
    """Add an option for each field; those that are not given are not there."""

    def option(*names: str, **how: Any) -> None:
        parser.add_argument(*names, default=argparse.SUPPRESS, **how)

    def flag(name: str, about: str) -> None:
        option(name, action=argparse.BooleanOptionalAction, help=about)

    def tokens(name: str, about: str) -> None:
        option(name, nargs="*", metavar="TOKEN", help=about)

    born = parser.add_mutually_exclusive_group()
    born.add_argument(
        "--born",
        metavar="DATE",
        default=argparse.SUPPRESS,
        help="2021-05-14, or 2021-05, or 2021, as far as it is known",
    )
    born.add_argument(
        "--age", default=argparse.SUPPRESS, help="such as '9 weeks', '7 months', '4 years'"
    )
    option("--sex", choices=[s.value for s in Sex])
    option("--neutered", choices=[n.value for n in Neutered])
    option("--breed", help="breed or kind, free words")
    option("--looks", help="colour and marks, free words")
    option("--shape", choices=[s.value for s in Shape], help="shape that changes judging")
    option("--size", choices=[s.value for s in Size], help="adult size")
    option("--missing", nargs="*", choices=[p.value for p in Part], metavar="PART")
    flag("--dewclaws", "it has dewclaws")
    flag("--pigmented-gums", "its gums are dark by nature")
    option("--season-began", metavar="DATE", help="first day of the last season")
    flag("--pregnant", "known or possible pregnancy")
    tokens("--conditions", "known conditions, such as: heart kidney diabetes addison")
    tokens("--medicines", "medicines that mask signs, such as: pain_relief steroid")
    flag("--muzzle-trained", "wears a muzzle calmly")
    flag("--has-bitten", "has bitten or snapped when handled")
    option("--handling", help="handling history, free words")
    option("--known", nargs="*", metavar="WORDS", help="other known normals, each quoted")
    option("--chip", help="microchip number, 15 digits")
    option("--owner", help="whose dog it is")


PLAIN = (
    "name",
    "breed",
    "looks",
    "dewclaws",
    "pigmented_gums",
    "pregnant",
    "muzzle_trained",
    "has_bitten",
    "handling",
    "chip",
    "owner",
)
"""Fields whose option is their value."""


def field_values(args: argparse.Namespace) -> dict[str, Any]:
    """Return the fields that were given, as the records take them.

    Raises:
        CallerError: One of them is no such thing.
    """
    given = vars(args)
    values: dict[str, Any] = {name: given[name] for name in PLAIN if name in given}
    for name, kind in (("sex", Sex), ("neutered", Neutered), ("shape", Shape), ("size", Size)):
        if name in given:
            values[name] = kind(given[name])
    if "missing" in given:
        values["missing"] = frozenset(Part(part) for part in given["missing"])
    for name in ("conditions", "medicines"):
        if name in given:
            values[name] = frozenset(_token(text) for text in given[name])
    if "known" in given:
        values["known"] = tuple(given["known"])
    if "chip" in values:
        from handsfree.kennel.chip import checked_chip

        values["chip"] = checked_chip(values["chip"])
    if "season_began" in given:
        values["season_began"] = parse_day(given["season_began"])
    if "born" in given:
        values |= parse_birth(given["born"])
    if "age" in given:
        values |= parse_age(given["age"], today())
    return values


def _token(text: str) -> str:
    token = text.strip().lower().replace(" ", "_").replace("-", "_")
    if not re.fullmatch(r"[a-z][a-z0-9_]{0,39}", token):
        msg = f"{text!r} is no token: give one word of letters, such as heart or pain_relief."
        raise CallerError(msg)
    return token


def parse_birth(text: str) -> dict[str, Any]:
    """Return birth date and its precision from a day, month or year.

    Raises:
        CallerError: It is none of these.
    """
    from handsfree.records.model import BirthPrecision

    parts = re.fullmatch(r"(\d{4})(?:-(\d{1,2}))?(?:-(\d{1,2}))?", text.strip())
    try:
        if parts is None:
            raise ValueError
        year, month, day = (None if part is None else int(part) for part in parts.groups())
        assert year is not None
        if month is None:
            return {"birth": date(year, 7, 1), "birth_precision": BirthPrecision.YEAR}
        if day is None:
            return {"birth": date(year, month, 15), "birth_precision": BirthPrecision.MONTH}
        return {"birth": date(year, month, day), "birth_precision": BirthPrecision.DAY}
    except ValueError as error:
        msg = f"{text!r} is no birth date: give 2021-05-14, or 2021-05, or 2021."
        raise CallerError(msg) from error


def parse_age(text: str, on: date) -> dict[str, Any]:
    """Return birth date and its precision from an age on a day.

    Raises:
        CallerError: It is no age that a dog can have.
    """
    from handsfree.records.model import BirthPrecision

    found = _AGE.fullmatch(text.strip())
    if found is None:
        msg = f"{text!r} is no age: say it like '9 weeks', '7 months' or '4 years'."
        raise CallerError(msg)
    count, unit = int(found[1]), found[2].lower()
    days = count * {"week": 7, "month": 30.4375, "year": 365.25}[unit]
    if days > 35 * 365.25:
        msg = f"{text!r} is older than any dog: check the age."
        raise CallerError(msg)
    precision = BirthPrecision.YEAR if unit == "year" else BirthPrecision.MONTH
    return {"birth": on - timedelta(days=round(days)), "birth_precision": precision}
