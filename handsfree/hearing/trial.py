"""Loads a Vosk model and hears one clip: ``python -m handsfree.hearing.trial FOLDER [WAV]``.

Run by the model store in a process of its own. Prints one JSON object: ``heard`` or ``error``.
"""

from __future__ import annotations

import json
import sys
import wave
from pathlib import Path

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import HandsfreeError
from handsfree.hearing.vosk_engine import Vosk

__all__ = ["main"]


def _clip(path: str | None) -> Samples:
    if path is None:
        return np.random.default_rng(1).normal(0.0, 30.0, SAMPLE_RATE).astype(np.int16)
    with wave.open(path) as file:
        return np.frombuffer(file.readframes(file.getnframes()), np.int16)


def main(arguments: list[str]) -> int:
    """Try the model in the folder named first on the clip named second, if any."""
    try:
        model = Vosk(Path(arguments[0]))
        heard = model.transcribe(_clip(arguments[1] if len(arguments) > 1 else None))
    except HandsfreeError as wrong:
        print(json.dumps({"error": str(wrong)}))
        return wrong.exit_code
    print(json.dumps({"heard": heard}))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
