"""Whether everything is here that a check needs, with sound devices that stand in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handsfree.audio.device import SAMPLE_RATE
from handsfree.audio.probe import (
    QUIET_S,
    SoundProbe,
    level_dbfs,
    measured,
)
from handsfree.audio.probe import (
    test_tone as make_tone,
)
from handsfree.commands.ready import State, find_all, sound_findings
from handsfree.errors import DeviceError
from handsfree.records import Settings, Store


def probe(room: float, tone: float, *, silent: bool = False) -> SoundProbe:
    """Return what a look at invented devices found."""
    return SoundProbe(
        microphone="Mic", loudspeaker="Box", room_dbfs=room, tone_dbfs=tone, silent=silent
    )


@pytest.mark.parametrize(
    "found, states, word",
    [
        (probe(-60, -30), [State.OK, State.OK], "heard its tone"),
        (probe(-60, -60), [State.OK, State.NOTE], "did not hear"),
        (probe(-20, -10), [State.NOTE, State.OK], "too loud"),
        (probe(-95, -40), [State.NOTE, State.OK], "very quiet"),
        (probe(-120, -120, silent=True), [State.MISSING], "privacy settings"),
    ],
)
def test_sound_is_told_with_what_to_do(found: SoundProbe, states: list[State], word: str) -> None:
    """Each way in which sound can be wrong has its own words."""
    findings = sound_findings(found)
    assert [finding.state for finding in findings] == states
    assert any(word in finding.text for finding in findings)


def test_everything_is_looked_at(tmp_path: Path) -> None:
    """With sound that works, all is looked at in turn and nothing is missing."""
    findings = list(find_all(tmp_path, look=lambda settings: probe(-60, -30)))
    assert [finding.what for finding in findings] == [
        "records",
        "dog",
        "check",
        "hearing",
        "second ear",
        "phones",
        "voice",
        "microphone",
        "loudspeaker",
        "practice",
        "vet number",
    ]
    assert not [finding for finding in findings if finding.state is State.MISSING]
    assert "handsfree settings set vet_number" in findings[-1].text


def test_a_set_number_and_a_missing_device(tmp_path: Path) -> None:
    """A missing device is told with its exit code; what comes after is looked at all the same."""

    def no_device(settings: Settings) -> SoundProbe:
        raise DeviceError("No microphone can be opened: plug one in.")

    with Store.open(tmp_path) as store:
        store.settings.set("vet_number", "01234 567890")
    findings = {finding.what: finding for finding in find_all(tmp_path, look=no_device)}
    assert findings["sound"].state is State.MISSING
    assert findings["sound"].exit_code == DeviceError.exit_code
    assert findings["vet number"].state is State.OK


def test_broken_records_do_not_end_the_look(tmp_path: Path) -> None:
    """Broken records are told, and the rest is looked at."""
    (tmp_path / "records.sqlite").write_bytes(b"broken " * 300)
    findings = list(find_all(tmp_path, look=lambda settings: probe(-60, -30)))
    assert findings[0].state is State.MISSING
    assert "handsfree restore" in findings[0].text
    assert findings[-1].what == "vet number"


def test_levels_are_root_mean_square() -> None:
    """A full-scale sine has -3 dB, silence the floor."""
    time_s = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    sine = (32767 * np.sin(2 * np.pi * 440 * time_s)).astype(np.int16)
    assert level_dbfs(sine) == pytest.approx(-3.01, abs=0.01)
    assert level_dbfs(np.zeros(100, dtype=np.int16)) == -120
    assert level_dbfs(np.zeros(0, dtype=np.int16)) == -120


def test_a_tone_is_heard_above_the_room() -> None:
    """The tone is found in a recording that holds it, and not in one of noise alone."""
    rng = np.random.default_rng(1)
    played = make_tone()
    noise = rng.normal(0, 60, len(played))
    heard = (played * 0.3 + noise).astype(np.int16)
    found = measured(heard, microphone="Mic", loudspeaker="Box")
    assert found.tone_heard
    assert found.room_dbfs == pytest.approx(-54.8, abs=0.5)
    assert not measured(noise.astype(np.int16), microphone="", loudspeaker="").tone_heard
    assert measured(np.zeros_like(played), microphone="", loudspeaker="").silent
    assert not np.any(played[: round(QUIET_S * SAMPLE_RATE)])
