"""What practice learned of a person at a microphone: levels, words heard well, their own lag.

Each is an edit, so that nothing is lost and the newest counts. No sound is kept.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any

from handsfree.hearing.profile import VoiceProfile
from handsfree.records.database import RecordsFile

__all__ = ["LearnedLag", "Profiles"]

_ENTITY = "profile"


@dataclass(frozen=True, kw_only=True)
class LearnedLag:
    """A person's own lag at the stopwatch.

    Attributes:
        median_s: Middle lag in seconds.
        spread_s: Robust standard deviation of the lags.
        trials: Good trials it rests on.
    """

    median_s: float
    spread_s: float
    trials: int


class Profiles:
    """The profiles in one database. ``person_id`` None stands for whoever is not named."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def keep_voice(self, person_id: str | None, profile: VoiceProfile) -> None:
        """Store a person's levels at a microphone."""
        self._set(_key(person_id, profile.microphone), "voice", asdict(profile), person_id)

    def voice(self, person_id: str | None, microphone: str) -> VoiceProfile | None:
        """Return a person's levels at a microphone; None if they never practised there."""
        data = self._get(_key(person_id, microphone), "voice")
        if data is None:
            return None
        return VoiceProfile(
            **{
                **data,
                "well_heard": tuple(data["well_heard"]),
                "badly_heard": tuple(data["badly_heard"]),
            }
        )

    def voices(self) -> tuple[VoiceProfile, ...]:
        """Return the newest levels of each person at each microphone of this station."""
        rows = self._file.rows(
            "SELECT DISTINCT entity_id FROM edits WHERE entity = ? AND field = 'voice' "
            "AND station_id = ? ORDER BY entity_id",
            (_ENTITY, self._station_id),
        )
        found = []
        for row in rows:
            person_id, _, microphone = row["entity_id"].partition("/")
            profile = self.voice(person_id or None, microphone)
            if profile is not None:
                found.append(profile)
        return tuple(found)

    def keep_lag(self, person_id: str | None, lag: LearnedLag) -> None:
        """Store a person's lag; it goes with the person, not with the microphone."""
        self._set(_key(person_id, ""), "lag", asdict(lag), person_id)

    def lag(self, person_id: str | None) -> LearnedLag | None:
        """Return a person's lag; None if they never practised."""
        data = self._get(_key(person_id, ""), "lag")
        return None if data is None else LearnedLag(**data)

    def _set(self, key: str, field: str, value: dict[str, Any], person_id: str | None) -> None:
        with self._file.writing():
            self._file.add(
                "edits",
                {
                    "entity": _ENTITY,
                    "entity_id": key,
                    "field": field,
                    "value": json.dumps(value, ensure_ascii=False),
                },
                station_id=self._station_id,
                person_id=person_id,
            )

    def _get(self, key: str, field: str) -> dict[str, Any] | None:
        # A microphone is one of this station; a lag goes with the person to every station.
        own = "" if field == "lag" else "AND station_id = :station"
        row = self._file.one(
            "SELECT value FROM edits WHERE entity = :entity AND entity_id = :key "
            f"AND field = :field {own} ORDER BY at DESC, id DESC LIMIT 1",
            {"entity": _ENTITY, "key": key, "field": field, "station": self._station_id},
        )
        return None if row is None else dict(json.loads(row["value"]))


def _key(person_id: str | None, microphone: str) -> str:
    return f"{person_id or ''}/{microphone}"
