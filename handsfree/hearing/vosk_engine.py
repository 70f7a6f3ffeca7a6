"""Vosk as a recogniser, when a model folder is there. The only module that knows Vosk.

A model is only ever opened by its path: by name or language, Vosk would download one.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import EngineError
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import WordTime

if TYPE_CHECKING:
    from handsfree.hearing.grammar import ListeningGrammar

__all__ = ["UNKNOWN", "Vosk"]

UNKNOWN = "[unk]"
"""The token for speech outside the grammar, in models that have it."""

_KEPT_GRAMMARS = 16


class Vosk:
    """Vosk with the model in ``folder``.

    Raises:
        EngineError: The package or the model is missing or does not load, or cannot take a
            grammar while it runs.
    """

    name = "vosk"

    def __init__(self, folder: Path) -> None:
        try:
            import vosk  # heavy: loaded only when a model is there
        except (ImportError, OSError) as missing:
            msg = f"Vosk is not installed here ({missing}). Run: pip install vosk"
            raise EngineError(msg) from None
        if not (folder / "conf" / "model.conf").is_file() and not (folder / "final.mdl").is_file():
            msg = f"{folder} holds no Vosk model (no conf/model.conf). Name the model's own folder."
            raise EngineError(msg)
        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(model_path=str(folder))
        except Exception as wrong:  # noqa: BLE001 - vosk raises the bare class
            msg = f"the Vosk model in {folder} does not load ({wrong}). Add it again, whole."
            raise EngineError(msg) from None
        if not (folder / "graph" / "Gr.fst").is_file():
            msg = (
                f"the Vosk model in {folder} has a fixed vocabulary and takes no grammar. "
                f"Add one of the small models instead."
            )
            raise EngineError(msg)
        self._vosk = vosk
        try:
            package = version("vosk")
        except PackageNotFoundError:
            package = "unknown"
        self.version = f"{package} {folder.name}"
        self._unknown = UNKNOWN if self._knows(UNKNOWN) else ""
        self._recognisers: OrderedDict[str, Any] = OrderedDict()
        self._fed: dict[str, int] = {}
        self._now: Any = None
        self._key = ""
        self._results: list[dict[str, Any]] = []
        self._began = 0

    def _knows(self, word: str) -> bool:
        return int(self._model.vosk_model_find_word(word)) >= 0

    def missing(self, words: frozenset[str]) -> frozenset[str]:
        """Return those of ``words`` that the model lacks; Vosk itself would only drop them."""
        return frozenset(word for word in words if not self._knows(word))

    def listen_for(self, grammar: ListeningGrammar) -> None:
        """Switch to this grammar.

        Raises:
            EngineError: None of its words is known to the model.
        """
        if grammar.key not in self._recognisers:
            lacking = self.missing(grammar.words)
            if lacking == grammar.words:
                msg = "the Vosk model knows none of the words listened for. Is it English?"
                raise EngineError(msg)
            text = grammar.vosk(lacking, self._unknown)
            recogniser = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, text)
            recogniser.SetWords(True)
            self._recognisers[grammar.key] = recogniser
            self._fed[grammar.key] = 0
        self._recognisers.move_to_end(grammar.key)
        self._now, self._key = self._recognisers[grammar.key], grammar.key
        while len(self._recognisers) > _KEPT_GRAMMARS:
            oldest, _ = self._recognisers.popitem(last=False)
            del self._fed[oldest]

    def transcribe(self, samples: Samples) -> str:
        """Return what the model hears without any grammar; for trying a model out."""
        recogniser = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        step = SAMPLE_RATE // 10
        results = [
            recogniser.Result()
            for at in range(0, len(samples), step)
            if recogniser.AcceptWaveform(samples[at : at + step].tobytes())
        ]
        texts = [
            json.loads(result).get("text", "") for result in [*results, recogniser.FinalResult()]
        ]
        return " ".join(filter(None, texts))

    def start(self) -> None:
        """Begin an utterance."""
        self._results = []
        self._began = self._fed[self._key]

    def feed(self, samples: Samples) -> None:
        """Feed sound of the utterance, int16 at SAMPLE_RATE."""
        if not len(samples):
            return
        self._fed[self._key] += len(samples)
        # Vosk ends a stretch at pauses of its own choosing; the pieces are joined in finish().
        if self._now.AcceptWaveform(samples.tobytes()):
            self._results.append(json.loads(self._now.Result()))

    def partial(self) -> tuple[str, ...]:
        """Return the words so far; they may change."""
        done = [word for result in self._results for word in result.get("text", "").split()]
        running = json.loads(self._now.PartialResult()).get("partial", "").split()
        return tuple(word for word in [*done, *running] if word != UNKNOWN)

    def finish(self) -> Hypothesis:
        """End the utterance; ``detail`` has the share of words that were unknown to the grammar."""
        self._results.append(json.loads(self._now.FinalResult()))
        found = [word for result in self._results for word in result.get("result", ())]
        began_s = self._began / SAMPLE_RATE
        times: list[WordTime] = []
        confidences: list[float] = []
        unknown = 0
        for word in found:
            if word["word"] == UNKNOWN:
                unknown += 1
                continue
            start = max(0, round((word["start"] - began_s) * SAMPLE_RATE))
            end = max(start, round((word["end"] - began_s) * SAMPLE_RATE))
            times.append(WordTime(word=word["word"], start=start, end=end))
            confidences.append(float(word["conf"]))
        return Hypothesis(
            words=tuple(time.word for time in times),
            times=tuple(times),
            confidence=min(1.0, max(0.0, min(confidences))) if confidences else None,
            detail=(("unknown", float(unknown)),),
        )
