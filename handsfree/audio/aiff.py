"""AIFF and AIFF-C in, because macOS renders speech to nothing else. Only uncompressed sound.

After Apple's Audio Interchange File Format 1.3 (1989) and AIFF-C draft (1991).
"""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.wav import decode_pcm
from handsfree.errors import DataError

__all__ = ["extended_to_int", "parse_aiff"]

_ENCODINGS = {
    b"NONE": (True, False),
    b"twos": (True, False),
    b"sowt": (False, False),
    b"fl32": (True, True),
    b"FL32": (True, True),
    b"fl64": (True, True),
}
"""AIFF-C compression type -> (big endian, floating point)."""


def extended_to_int(octets: bytes) -> int:
    """Return an 80-bit IEEE 754 extended number, as AIFF stores its rate, as a whole number."""
    head, mantissa = struct.unpack(">HQ", octets)
    shift = (head & 0x7FFF) - 16383 - 63
    return int(mantissa << shift if shift >= 0 else mantissa >> -shift)


def parse_aiff(content: bytes, *, name: str) -> tuple[NDArray[np.float32], int]:
    """Return samples, shape (n, channels) at int16 scale, and the rate.

    Raises:
        DataError: It is no AIFF file, is broken, empty or compressed.
    """
    if len(content) < 12 or content[:4] != b"FORM" or content[8:12] not in (b"AIFF", b"AIFC"):
        raise DataError(f"{name} is not an AIFF file; give a file in AIFF or WAV format.")
    common: bytes | None = None
    sound: bytes | None = None
    at = 12
    while at + 8 <= len(content):
        chunk, size = struct.unpack_from(">4sI", content, at)
        body = content[at + 8 : at + 8 + size]
        if chunk == b"COMM":
            common = body
        elif chunk == b"SSND":
            sound = body
        at += 8 + size + size % 2
    if common is None or len(common) < 18 or sound is None or len(sound) < 8:
        raise DataError(f"{name} is broken or holds no sound; make it again.")
    channels, _, bits = struct.unpack_from(">hIh", common)
    rate = extended_to_int(common[8:18])
    kind = common[18:22] if content[8:12] == b"AIFC" else b"NONE"
    if kind not in _ENCODINGS or channels < 1 or not 1000 <= rate <= 768_000:
        raise DataError(f"{name} holds sound of a kind not known here; convert it to 16-bit WAV.")
    big_endian, floating = _ENCODINGS[kind]
    (offset,) = struct.unpack_from(">I", sound)
    samples = decode_pcm(
        sound[8 + offset :],
        channels=channels,
        bits=bits,
        floating=floating,
        name=name,
        big_endian=big_endian,
    )
    return samples, rate
