"""Settings: which there are, what each may be, and their history.

Each is an edit, so that what was set when is never lost. Those of one machine (voice, devices) are
kept apart from those that all stations share (telephone numbers, units).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from handsfree.errors import CallerError
from handsfree.protocol.subject import Sight
from handsfree.records.database import RecordsFile
from handsfree.records.edits import checked_text
from handsfree.records.fields import from_plain, stored_fields, to_plain
from handsfree.records.model import Settings, Units
from handsfree.records.people import checked_rate

__all__ = ["SETTINGS", "Setting", "SettingsStore"]

MOST_SMALL = 30
"""Greatest number of dogs and days of an outbreak's alarm."""

ENGINES = ("auto", "pocketsphinx", "vosk")


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One setting: ``parse`` turns typed text into its value; ``shared`` by all stations."""

    key: str
    about: str
    parse: Callable[[str], Any]
    shared: bool = False


def _number(text: str) -> str:
    text = checked_text(text, "The telephone number")
    if not re.fullmatch(r"[0-9+()/.\- ]+", text) or sum(c.isdigit() for c in text) < 3:
        msg = (
            f"{text!r} is no telephone number: give digits, with spaces, + or - if you like, "
            "such as '01234 567 890'."
        )
        raise CallerError(msg)
    return text


def _one_of(choices: tuple[str, ...], what: str) -> Callable[[str], str]:
    def parse(text: str) -> str:
        if text not in choices:
            msg = f"{text!r} is no {what}: choose from {', '.join(choices)}."
            raise CallerError(msg)
        return text

    return parse


def _rate(text: str) -> int:
    if not text.strip().isdecimal():
        msg = f"{text!r} is no speaking rate: give words a minute, such as 180."
        raise CallerError(msg)
    return checked_rate(int(text))


def _small(text: str) -> int:
    if not text.strip().isdecimal() or not 1 <= int(text) <= MOST_SMALL:
        msg = f"{text!r} cannot be: give a number from 1 to {MOST_SMALL}."
        raise CallerError(msg)
    return int(text)


def _words(text: str) -> str:
    return checked_text(text, "The setting")


_sight = _one_of(tuple(Sight), "sight")
_units = _one_of(tuple(Units), "system of units")

SETTINGS: tuple[Setting, ...] = (
    Setting(key="vet_name", about="the usual vet, as spoken", parse=_words, shared=True),
    Setting(key="vet_number", about="the usual vet's number", parse=_number, shared=True),
    Setting(
        key="out_of_hours_number",
        about="number for nights and weekends",
        parse=_number,
        shared=True,
    ),
    Setting(key="poison_line", about="number of a poison line", parse=_number, shared=True),
    Setting(key="units", about="metric or imperial", parse=lambda t: Units(_units(t)), shared=True),
    Setting(key="sight", about="full, low or none", parse=lambda t: Sight(_sight(t))),
    Setting(key="voice", about="name of the voice", parse=_words),
    Setting(key="rate_wpm", about="speaking rate, words a minute", parse=_rate),
    Setting(key="input_device", about="name of the microphone", parse=_words),
    Setting(key="output_device", about="name of the loudspeaker", parse=_words),
    Setting(key="engine", about=", ".join(ENGINES), parse=_one_of(ENGINES, "recogniser")),
    Setting(
        key="outbreak_dogs",
        about="alarm of an outbreak at so many dogs of a row",
        parse=_small,
        shared=True,
    ),
    Setting(key="outbreak_days", about="within so many days", parse=_small, shared=True),
)
"""Every setting, in the order in which they are shown."""


class SettingsStore:
    """The settings in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def get(self) -> Settings:
        """Return the settings that hold now."""
        rows = self._file.rows(
            "SELECT field, value FROM edits WHERE entity = 'setting' AND entity_id IN ('', ?) "
            "ORDER BY at, id",
            (self._station_id,),
        )
        hints = stored_fields(Settings)
        values = {}
        for row in rows:
            if row["field"] in hints:
                values[row["field"]] = json.loads(row["value"])
        defaults = Settings()
        return Settings(
            **{
                name: getattr(defaults, name) if value is None else from_plain(hints[name], value)
                for name, value in values.items()
            }
        )

    def set(self, key: str, text: str | None, *, person_id: str | None = None) -> Settings:
        """Set one setting from typed text, or back to its default with None; return all.

        Raises:
            CallerError: There is no such setting, or it cannot be so.
        """
        setting = self._known(key)
        value = None if text is None else to_plain(setting.parse(text))
        with self._file.writing():
            self._file.add(
                "edits",
                {
                    "entity": "setting",
                    "entity_id": "" if setting.shared else self._station_id,
                    "field": setting.key,
                    "value": json.dumps(value, ensure_ascii=False),
                },
                station_id=self._station_id,
                person_id=person_id,
            )
        return self.get()

    def _known(self, key: str) -> Setting:
        wanted = key.replace("-", "_").lower()
        for setting in SETTINGS:
            if setting.key == wanted:
                return setting
        msg = f"There is no setting {key!r}: choose from {', '.join(s.key for s in SETTINGS)}."
        raise CallerError(msg)
