"""The clips that are kept with the program: all there, all small, and made by their script."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio_fixtures.make import FOLDER, SEED, SPEECH, room, water
from handsfree.audio.resample import to_int16
from handsfree.audio.wav import read_wav

MANIFEST: dict[str, Any] = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))


def test_manifest_and_folder_agree() -> None:
    """No clip without a line, no line without a clip, under a megabyte in all."""
    listed = {clip["file"] for clip in MANIFEST["clips"]}
    assert listed == {path.name for path in FOLDER.glob("*.wav")}
    assert {f"{name}.wav" for name, *_ in SPEECH} < listed
    assert sum(Path(FOLDER, name).stat().st_size for name in listed) < 1_000_000


@pytest.mark.parametrize("clip", MANIFEST["clips"], ids=lambda clip: str(clip["file"]))
def test_a_clip_is_what_its_line_says(clip: dict[str, Any]) -> None:
    """Its length is right, and each word begins where the manifest says."""
    sound = read_wav(FOLDER / clip["file"]).astype(float)
    assert round(len(sound) / 16_000, 3) == clip["duration_s"]
    for start_s in clip.get("starts_s", []):
        at = round(start_s * 16_000)
        before, after = sound[at - 1_600 : at], sound[at : at + 4_800]
        assert np.abs(before).max() < 250
        assert np.abs(after).max() > 1_000


def test_the_noises_are_those_of_the_script() -> None:
    """Computed clips can be made again to the sample."""
    tap, quiet = (read_wav(FOLDER / name) for name in ("tap.wav", "quiet_room.wav"))
    assert np.array_equal(quiet, to_int16(room(len(quiet), seed=SEED + 70)))
    assert np.abs(tap - to_int16(water(len(tap), seed=SEED + 60))).max() <= 1
