"""Sound files: WAV of any usual rate, width and channels in, 16 kHz 16-bit WAV out.

The reader walks the RIFF chunks itself, because the standard library's reads neither floating
point nor (before Python 3.12) the extensible header that many recorders write. AIFF, which macOS
makes when it renders speech, is read by `handsfree.audio.aiff`.
"""

from __future__ import annotations

import struct
import wave
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import resample, to_int16
from handsfree.errors import CallerError, DataError

__all__ = ["DialogueWriter", "decode_pcm", "mono_16k", "parse_wav", "read_wav", "write_wav"]

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_UNKNOWN_SIZES = (0, 0xFFFFFFFF)
"""What a writer leaves in the data chunk's size when it was never closed, or writes to a pipe."""


def read_wav(path: str | Path) -> Samples:
    """Return a WAV file as 16 kHz mono, shape (n,); channels are averaged.

    Raises:
        CallerError: There is no such file.
        DataError: It is no WAV file, is broken, holds no sound or an encoding not known here.
    """
    path = Path(path)
    if not path.is_file():
        raise CallerError(f"There is no sound file {path}; check the name and the folder.")
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DataError(
            f"The sound file {path} cannot be read ({error.strerror}); check its permissions."
        ) from error
    return mono_16k(*parse_wav(content, name=str(path)), name=str(path))


def parse_wav(content: bytes, *, name: str) -> tuple[NDArray[np.float32], int]:
    """Return samples, shape (n, channels) at int16 scale, and the rate.

    Args:
        content: The whole file.
        name: What to call it in an error.

    Raises:
        DataError: As for `read_wav`.
    """
    if len(content) < 12 or content[:4] != b"RIFF" or content[8:12] != b"WAVE":
        raise DataError(f"{name} is not a WAV file; give a file in WAV format.")
    form: tuple[int, int, int, int] | None = None
    at = 12
    while at + 8 <= len(content):
        chunk, size = struct.unpack_from("<4sI", content, at)
        at += 8
        if chunk == b"data":
            if form is None:
                break
            if size in _UNKNOWN_SIZES:
                size = len(content) - at
            if at + size > len(content):
                raise DataError(
                    f"{name} is cut short: {len(content) - at} bytes of sound where its header "
                    f"says {size}; copy or record it again."
                )
            encoding, channels, rate, bits = form
            return (
                decode_pcm(
                    content[at : at + size],
                    channels=channels,
                    bits=bits,
                    floating=encoding == _FLOAT,
                    name=name,
                ),
                rate,
            )
        if at + size > len(content):
            break
        if chunk == b"fmt ":
            form = _parse_format(content[at : at + size], name)
        at += size + size % 2
    raise DataError(f"{name} is broken: its header leads to no sound; copy or record it again.")


def _parse_format(chunk: bytes, name: str) -> tuple[int, int, int, int]:
    if len(chunk) < 16:
        raise DataError(f"{name} is broken: its format chunk is too short; record it again.")
    encoding, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", chunk)
    if encoding == _EXTENSIBLE and len(chunk) >= 26:
        (encoding,) = struct.unpack_from("<H", chunk, 24)
    if encoding not in (_PCM, _FLOAT):
        raise DataError(
            f"{name} holds compressed sound (encoding {encoding}); convert it to 16-bit WAV."
        )
    if not 1 <= channels <= 64 or not 1000 <= rate <= 768_000:
        raise DataError(
            f"{name} claims {channels} channels at {rate} Hz, which cannot be right; "
            "record it again, at 16000 Hz if you can choose."
        )
    return encoding, channels, rate, bits


def decode_pcm(
    data: bytes, *, channels: int, bits: int, floating: bool, name: str, big_endian: bool = False
) -> NDArray[np.float32]:
    """Return raw sample bytes as numbers at int16 scale, shape (n, channels).

    Raises:
        DataError: The width is not known here, or there is no whole sample.
    """
    width = (bits + 7) // 8
    frames = len(data) // (width * channels) if width else 0
    if frames == 0:
        raise DataError(f"{name} holds no sound; record it again.")
    order = ">" if big_endian else "<"
    data = data[: frames * width * channels]
    values: NDArray[np.float32]
    if floating and width in (4, 8):
        raw = np.frombuffer(data, dtype=f"{order}f{width}")
        values = np.nan_to_num(raw, posinf=1.0, neginf=-1.0).astype(np.float32) * 32767.0
    elif not floating and width == 1:
        # AIFF's bytes are signed, WAV's are not.
        centre = 0.0 if big_endian else 128.0
        kind = np.int8 if big_endian else np.uint8
        values = (np.frombuffer(data, dtype=kind).astype(np.float32) - centre) * 256.0
    elif not floating and width in (2, 4):
        values = np.frombuffer(data, dtype=f"{order}i{width}").astype(np.float32)
        values /= 1 << (8 * width - 16)
    elif not floating and width == 3:
        octets = np.frombuffer(data, dtype=np.uint8).reshape(-1, 3)
        if big_endian:
            octets = octets[:, ::-1]
        widened = np.zeros((len(octets), 4), dtype=np.uint8)
        widened[:, 1:] = octets
        values = widened.view("<i4")[:, 0].astype(np.float32) / 65536.0
    else:
        raise DataError(
            f"{name} has samples of {bits} bits, which are not known here; "
            "convert it to 16-bit WAV."
        )
    return values.reshape(frames, channels)


def mono_16k(samples: NDArray[np.float32], rate: int, *, name: str) -> Samples:
    """Average the channels of ``samples``, shape (n, channels), and resample to SAMPLE_RATE.

    Raises:
        DataError: Nothing is left.
    """
    mono = samples.mean(axis=1, dtype=np.float32)
    sound = to_int16(resample(mono, rate, SAMPLE_RATE))
    if len(sound) == 0:
        raise DataError(f"{name} holds no sound; record it again.")
    return sound


def write_wav(path: str | Path, samples: Samples) -> None:
    """Write ``samples``, shape (n,), as 16 kHz 16-bit mono.

    Raises:
        DataError: The file cannot be written.
    """
    with DialogueWriter(path, channels=1) as writer:
        writer.write(samples)


class DialogueWriter:
    """Writes a 16 kHz WAV while it grows: the assistant on the left, the person on the right.

    Args:
        path: The file; an older one of that name is replaced.
        channels: 2 for a dialogue, 1 for a single voice.

    Raises:
        DataError: The file cannot be written.
    """

    def __init__(self, path: str | Path, *, channels: int = 2) -> None:
        self._path = Path(path)
        self._channels = channels
        try:
            # Kept open for the whole dialogue; `close` and the context manager end it.
            self._raw = self._path.open("wb")
        except OSError as error:
            raise DataError(
                f"The sound file {self._path} cannot be written ({error.strerror}); "
                "choose another place."
            ) from error
        self._file = wave.open(self._raw, "wb")  # noqa: SIM115
        self._file.setnchannels(channels)
        self._file.setsampwidth(2)
        self._file.setframerate(SAMPLE_RATE)

    def write(self, left: Samples, right: Samples | None = None) -> None:
        """Append samples, shape (n,); a dialogue needs both sides, of one length.

        Raises:
            DataError: The disk is full or gone.
        """
        sides = [left] if right is None else [left, right]
        if len(sides) != self._channels or any(len(side) != len(left) for side in sides):
            msg = f"{self._channels} sides of equal length are needed"
            raise ValueError(msg)
        try:
            self._file.writeframes(np.stack(sides, axis=1).astype("<i2").tobytes())
        except OSError as error:
            raise DataError(
                f"The sound file {self._path} cannot be written on ({error.strerror}); "
                "free some space and try again."
            ) from error

    def close(self) -> None:
        """Finish the file; a second call does nothing."""
        self._file.close()
        self._raw.close()

    def __enter__(self) -> DialogueWriter:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()
