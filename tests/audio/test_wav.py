"""WAV and AIFF: every usual form in, clear errors for the rest."""

import io
import struct
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.audio.aiff import extended_to_int, parse_aiff
from handsfree.audio.wav import DialogueWriter, parse_wav, read_wav, write_wav
from handsfree.errors import CallerError, DataError

Floats = NDArray[np.float64]


def tone(rate: int, seconds: float = 0.5) -> Floats:
    """Return 440 Hz at half of full scale, shape (n,), full scale 1.0."""
    wave_form: Floats = 0.5 * np.sin(2 * np.pi * 440 * np.arange(round(rate * seconds)) / rate)
    return wave_form


def riff(form: bytes, data: bytes, *, data_size: int | None = None) -> bytes:
    """Return a WAV file of a format chunk and sample bytes."""
    size = len(data) if data_size is None else data_size
    body = b"WAVE" + struct.pack("<4sI", b"fmt ", len(form)) + form
    body += struct.pack("<4sI", b"LIST", 3) + b"abc\0"
    body += struct.pack("<4sI", b"data", size) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def form(encoding: int, channels: int, rate: int, bits: int) -> bytes:
    """Return a plain format chunk."""
    step = channels * ((bits + 7) // 8)
    return struct.pack("<HHIIHH", encoding, channels, rate, rate * step, step, bits)


def int24(sound: Floats) -> bytes:
    """Return packed little-endian 24-bit samples."""
    wide = np.rint(sound * 8_388_607).astype("<i4").view(np.uint8).reshape(-1, 4)
    return wide[:, :3].tobytes()


ENCODERS: list[tuple[str, int, int, Callable[[Floats], bytes]]] = [
    ("8 bit", 1, 8, lambda s: np.rint(s * 127 + 128).astype(np.uint8).tobytes()),
    ("16 bit", 1, 16, lambda s: np.rint(s * 32_767).astype("<i2").tobytes()),
    ("24 bit", 1, 24, int24),
    ("32 bit", 1, 32, lambda s: np.rint(s * 2_147_483_647).astype("<i4").tobytes()),
    ("float", 3, 32, lambda s: s.astype("<f4").tobytes()),
    ("double", 3, 64, lambda s: s.astype("<f8").tobytes()),
]


@pytest.mark.parametrize("name, encoding, bits, encode", ENCODERS)
@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_usual_form_is_read_as_16k_mono(
    tmp_path: Path,
    name: str,
    encoding: int,
    bits: int,
    encode: Callable[[Floats], bytes],
    rate: int,
    channels: int,
) -> None:
    """Rate, width and channels of a recording do not matter: the same tone comes out."""
    path = tmp_path / f"{name}.wav"
    sound = np.repeat(tone(rate), channels)
    path.write_bytes(riff(form(encoding, channels, rate, bits), encode(sound)))
    heard = read_wav(path)
    wanted = tone(16_000) * 32_767
    assert len(heard) == len(wanted)
    middle = slice(200, -200)
    assert np.abs(heard[middle] - wanted[middle]).max() < (400 if bits == 8 else 20)


def test_extensible_headers_and_unfinished_sizes_are_read() -> None:
    """Recorders write the long header; a writer that was cut off leaves no size."""
    data = np.arange(100, dtype="<i2").tobytes()
    long_form = form(0xFFFE, 1, 16_000, 16) + struct.pack("<HHIH", 22, 16, 4, 1) + bytes(14)
    for size in (None, 0, 0xFFFFFFFF):
        samples, rate = parse_wav(riff(long_form, data, data_size=size), name="x")
        assert rate == 16_000
        assert samples[:, 0].tolist() == list(range(100))


@pytest.mark.parametrize(
    "content, message",
    [
        (b"", "not a WAV"),
        (b"RIFF", "not a WAV"),
        (b"ID3 something else entirely", "not a WAV"),
        (riff(form(1, 1, 16_000, 16), b""), "no sound"),
        (riff(form(1, 1, 16_000, 16), b"a"), "no sound"),
        (riff(form(1, 1, 16_000, 16), bytes(100), data_size=900), "cut short"),
        (riff(form(85, 1, 16_000, 16), bytes(100)), "compressed"),
        (riff(form(1, 0, 16_000, 16), bytes(100)), "0 channels"),
        (riff(form(1, 1, 7, 16), bytes(100)), "7 Hz"),
        (riff(form(1, 1, 16_000, 40), bytes(100)), "40 bits"),
        (riff(form(1, 1, 16_000, 0), bytes(100)), "no sound"),
        (riff(b"short", bytes(100)), "format chunk"),
        (riff(form(1, 1, 16_000, 16), bytes(100))[:40], "broken"),
    ],
)
def test_a_bad_file_is_one_clear_sentence(tmp_path: Path, content: bytes, message: str) -> None:
    """Nothing of a broken file is taken for sound, and the error names the file."""
    path = tmp_path / "bad.wav"
    path.write_bytes(content)
    with pytest.raises(DataError, match=message) as caught:
        read_wav(path)
    assert "bad.wav" in str(caught.value)


def test_a_missing_file_is_the_callers_fault(tmp_path: Path) -> None:
    """A wrong name is told apart from a broken file."""
    with pytest.raises(CallerError, match="no sound file"):
        read_wav(tmp_path / "none.wav")
    with pytest.raises(CallerError, match="no sound file"):
        read_wav(tmp_path)


def test_what_is_written_is_read_back_exactly(tmp_path: Path) -> None:
    """16 kHz mono passes unchanged, the extremes too."""
    sound = np.array([0, 1, -1, 32_767, -32_768] * 50, dtype=np.int16)
    write_wav(tmp_path / "a.wav", sound)
    assert read_wav(tmp_path / "a.wav").tolist() == sound.tolist()


def test_a_dialogue_has_the_assistant_left_and_the_person_right(tmp_path: Path) -> None:
    """The standard library reads the two sides back where they belong."""
    with DialogueWriter(tmp_path / "talk.wav") as writer:
        for number in range(3):
            writer.write(np.full(320, number, np.int16), np.full(320, -number, np.int16))
    with wave.open(str(tmp_path / "talk.wav")) as file:
        assert (file.getnchannels(), file.getframerate(), file.getnframes()) == (2, 16_000, 960)
        sides = np.frombuffer(file.readframes(960), dtype="<i2").reshape(-1, 2)
    assert sides[::320].tolist() == [[0, 0], [1, -1], [2, -2]]


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """A wrong folder is one clear sentence."""
    with pytest.raises(DataError, match="cannot be written"):
        write_wav(tmp_path / "no" / "folder.wav", np.zeros(10, np.int16))


def aiff(kind: bytes | None, bits: int, data: bytes) -> bytes:
    """Return an AIFF (or, with a kind, AIFF-C) file of one channel at 22050 Hz."""
    rate = struct.pack(">HQ", 16_383 + 14, 22_050 << (63 - 14))
    common = struct.pack(">hIh", 1, len(data) * 8 // bits, bits) + rate + (kind or b"")
    sound = struct.pack(">II", 0, 0) + data
    body = b"AIFC" if kind else b"AIFF"
    for name, chunk in ((b"COMM", common), (b"SSND", sound)):
        body += name + struct.pack(">I", len(chunk)) + chunk + b"\0" * (len(chunk) % 2)
    return b"FORM" + struct.pack(">I", len(body)) + body


@pytest.mark.parametrize(
    "kind, bits, dtype, scale",
    [
        (None, 16, ">i2", 1.0),
        (b"sowt", 16, "<i2", 1.0),
        (b"twos", 16, ">i2", 1.0),
        (b"fl32", 32, ">f4", 1 / 32_767),
        (None, 8, "i1", 1 / 256),
    ],
)
def test_uncompressed_aiff_is_read(kind: bytes | None, bits: int, dtype: str, scale: float) -> None:
    """The forms in which macOS may render speech."""
    wanted = np.array([0, 256, -256, 25_600, -25_600])
    samples, rate = parse_aiff(aiff(kind, bits, (wanted * scale).astype(dtype).tobytes()), name="x")
    assert rate == 22_050
    assert np.abs(samples[:, 0] - wanted).max() < 0.1


@pytest.mark.parametrize("content", [b"", b"FORM\0\0\0\0AIFF", aiff(b"ima4", 16, bytes(64))])
def test_a_bad_aiff_is_a_clear_error(content: bytes) -> None:
    """Compressed or broken AIFF is not taken for sound."""
    with pytest.raises(DataError):
        parse_aiff(content, name="x")


def test_the_rate_of_44100_has_its_well_known_bytes() -> None:
    """44100 Hz as an 80-bit extended is 40 0E AC 44 00 … (from memory, as in every AIFF file)."""
    assert extended_to_int(bytes.fromhex("400EAC44000000000000")) == 44_100


def test_the_standard_library_writes_what_is_read() -> None:
    """A file of the standard library's own writer is taken as it is."""
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(np.arange(-50, 50, dtype="<i2").tobytes())
    samples, _ = parse_wav(buffer.getvalue(), name="x")
    assert samples[:, 0].tolist() == list(range(-50, 50))
