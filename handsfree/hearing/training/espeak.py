"""eSpeak NG through its C library: phonemes for another synthesiser, and speech of its own.

The library comes from the package espeakng-loader. Nothing here chooses voices or texts.
"""

from __future__ import annotations

import ctypes
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError

__all__ = ["SAMPLE_RATE_HZ", "ipa", "speak"]

SAMPLE_RATE_HZ = 22050
_RETRIEVAL = 1  # AUDIO_OUTPUT_RETRIEVAL: samples go to the callback, none to a sound card
_UTF8 = 1
_IPA = 0x02
_RATE, _PITCH, _RANGE = 1, 3, 4

_CALLBACK = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)
_pieces: list[NDArray[np.int16]] = []


@_CALLBACK  # type: ignore[untyped-decorator]  # ctypes gives no types here
def _collect(samples: Any, count: int, _events: object) -> int:
    if samples and count > 0:
        _pieces.append(np.ctypeslib.as_array(samples, shape=(count,)).copy())
    return 0


@cache
def _library() -> Any:
    try:
        import espeakng_loader
    except ImportError as error:
        raise EngineError(
            "The package espeakng-loader is missing, so no phonemes can be made; "
            "install handsfree with its extra: pip install 'handsfree[train]'."
        ) from error
    lib = ctypes.CDLL(espeakng_loader.get_library_path())
    lib.espeak_TextToPhonemes.restype = ctypes.c_char_p
    lib.espeak_TextToPhonemes.argtypes = [
        ctypes.POINTER(ctypes.c_char_p),
        ctypes.c_int,
        ctypes.c_int,
    ]
    rate = lib.espeak_Initialize(_RETRIEVAL, 500, espeakng_loader.get_data_path().encode(), 0)
    if rate != SAMPLE_RATE_HZ:
        raise EngineError(
            f"eSpeak NG starts with {rate} Hz where {SAMPLE_RATE_HZ} Hz is expected; "
            "install the version of espeakng-loader that pyproject.toml names."
        )
    lib.espeak_SetSynthCallback(_collect)
    return lib


def _use(voice: str) -> Any:
    lib = _library()
    if lib.espeak_SetVoiceByName(voice.encode()) != 0:
        raise EngineError(f"eSpeak NG has no voice {voice!r}; choose one of its own names.")
    return lib


def ipa(text: str, voice: str = "en-us") -> str:
    """The text in phonetic letters, as the accent `voice` (``en-us``, ``en-gb`` ...) says it."""
    lib = _use(voice)
    pointer = ctypes.c_char_p(text.encode())
    parts: list[str] = []
    while pointer.value:
        part = lib.espeak_TextToPhonemes(ctypes.byref(pointer), _UTF8, _IPA)
        if part:
            parts.append(part.decode())
    return " ".join(parts)


def speak(
    text: str, voice: str, *, words_per_min: int = 160, pitch: int = 50, pitch_range: int = 50
) -> NDArray[np.float64]:
    """Speech, shape (n,), full scale 1.0, at `SAMPLE_RATE_HZ`; `voice` may name a variant.

    `pitch` and `pitch_range` run from 0 to 100 as eSpeak NG counts them.
    """
    lib = _use(voice)
    lib.espeak_SetParameter(_RATE, words_per_min, 0)
    lib.espeak_SetParameter(_PITCH, pitch, 0)
    lib.espeak_SetParameter(_RANGE, pitch_range, 0)
    _pieces.clear()
    data = text.encode()
    lib.espeak_Synth(data, len(data) + 1, 0, 0, 0, _UTF8, None, None)
    lib.espeak_Synchronize()
    if not _pieces:
        raise EngineError(f"eSpeak NG gave no sound for {text!r} with voice {voice!r}.")
    return np.concatenate(_pieces).astype(np.float64) / 32768.0
