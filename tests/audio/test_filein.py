"""A WAV file as the microphone."""

from pathlib import Path

import numpy as np
import pytest

from handsfree.audio.device import Samples
from handsfree.audio.filein import FileDuplex
from handsfree.audio.wav import write_wav
from handsfree.errors import CallerError, DataError, DeviceError


def test_the_file_is_heard_from_its_beginning_and_its_end_is_told(tmp_path: Path) -> None:
    """Sound first, then a quiet room, then a clear error instead of endless silence."""
    sound = np.full(1_000, 5_000, dtype=np.int16)
    write_wav(tmp_path / "a.wav", sound)
    passed: list[Samples] = []
    stream = FileDuplex(
        tmp_path / "a.wav", tail_s=0.1, listener=lambda start, ours, heard: passed.append(heard)
    )
    while not stream.ended:
        assert stream.read(0.0) is not None
    heard = np.concatenate(passed).astype(int)
    assert len(heard) == 2_880
    assert np.abs(heard[:1_000] - 5_000).max() < 200
    assert np.abs(heard[1_000:]).max() < 200
    assert heard[1_000:].any()
    for _ in range(2):
        with pytest.raises(DeviceError, match=r"a\.wav has ended after 0\.1 s"):
            stream.read(0.0)


def test_a_missing_or_broken_file_never_opens(tmp_path: Path) -> None:
    """The mistake is told at once, not in the middle of a check."""
    with pytest.raises(CallerError):
        FileDuplex(tmp_path / "none.wav")
    (tmp_path / "bad.wav").write_bytes(b"RIFF\0\0\0\0WAVE")
    with pytest.raises(DataError):
        FileDuplex(tmp_path / "bad.wav")
