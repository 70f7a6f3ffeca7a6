"""Hears the words of the stopwatch as the program does, for the timing benchmark.

First the true chain: segmenting, recogniser under the stopwatch's grammars and commands, second
ear, trust, placed onsets, and the stopwatch's own belief in the word that it waits for. Beside it,
on the whole recording at once, the search by place in the order, with a narrow grammar of the words
alone as the ear: what could be found by one that is not in a hurry.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import BLOCK_SAMPLES, Block
from handsfree.dialogue.vocabulary import TIMED
from handsfree.errors import CallerError
from handsfree.hearing.engines import build
from handsfree.hearing.reports import Judged
from handsfree.hearing.verdict import Listening, MeaningKind, Outcome, Verdict, WordTime
from handsfree.measuring.awaited import is_awaited
from handsfree.measuring.islands import search
from handsfree.measuring.placing import place
from handsfree.measuring.spectrum import RATE

_GRAMMARS = {"press": "press", "release": "release_pink", "pink": "release_pink",
             "now": "release_pink"}  # fmt: skip
_MEANS = {"now": "pink"}
"""Words said in a recording, and the word of the stopwatch that each means."""

_TEMPERATURE = 10.0
"""Log-likelihood that makes a word e times less likely: frames are far from independent."""
_NO_FIT = -2000.0


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What became of one recording.

    Attributes:
        live: Each word that a check would have taken, in order; doubtful ones are asked for again.
        searched: What the search finds on the whole recording.
        extra: Words that were heard besides.
    """

    live: tuple[WordTime, ...]
    searched: tuple[WordTime, ...]
    extra: int


class Chain:
    """One engine, loaded once.

    Args:
        engine: ``pocketsphinx`` or ``vosk``.
        vosk_model: Folder of a Vosk model, for ``vosk``.

    Raises:
        EngineError: It does not load.
    """

    def __init__(self, engine: str = "pocketsphinx", vosk_model: Path | None = None) -> None:
        self._hearing = build(engine, vosk_model=vosk_model, refine=place)
        self._ear = _NarrowEar()
        self.name = self._hearing.engine
        self._clock = 0

    def hear(self, samples: NDArray[np.int16], words: Sequence[str]) -> Heard:
        """Return what is heard of ``words`` in a recording that begins at sample 0.

        Raises:
            CallerError: A word that no grammar of the stopwatch has.
        """
        unknown = [word for word in words if word not in _GRAMMARS]
        if unknown:
            msg = f"{unknown[0]!r} is no word of the stopwatch: use {', '.join(_GRAMMARS)}"
            raise CallerError(msg)
        live: list[WordTime] = []
        extra = 0
        for grammar in dict.fromkeys(_GRAMMARS[word] for word in words):
            wanted = [_MEANS.get(word, word) for word in words if _GRAMMARS[word] == grammar]
            taken, more = self._through(samples, grammar, wanted, live[-1].end if live else 0)
            live += taken
            extra += more
        narrow = [replace(time, word=_said(time.word, words)) for time in live]
        found = search(samples, 0, narrow, words, self._ear.score)
        return Heard(
            live=tuple(narrow),
            searched=tuple(
                WordTime(word=o.word, start=o.start, end=o.end, doubtful=bool(o.doubt))
                for o in found
            ),
            extra=extra,
        )

    def _through(
        self, samples: NDArray[np.int16], grammar: str, wanted: Sequence[str], begun: int
    ) -> tuple[list[WordTime], int]:
        """Return the words that a check takes with this grammar open, and how many were extra.

        Args:
            samples: The recording.
            grammar: What is open.
            wanted: Its words, in order.
            begun: Where the word before them ended: it is opened there.
        """
        listening = Listening(grammars=(grammar,), commands=TIMED, timed=True)
        hearing = self._hearing
        # A new stream for each recording: a jump in the clock makes hearing forget the last one.
        offset = self._clock + RATE
        hearing.open(listening, at=offset + begun)
        silence = np.zeros(BLOCK_SAMPLES, np.int16)
        taken: list[WordTime] = []
        left = list(wanted)
        extra = 0
        for at in range(0, len(samples) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
            block = Block(
                start=offset + at, samples=samples[at : at + BLOCK_SAMPLES], reference=silence
            )
            for report in hearing.feed(block):
                if not isinstance(report, Judged) or report.verdict.start < offset + begun:
                    continue
                words = _believed(report.verdict)
                if words and words[0].word in left:
                    del left[: left.index(words[0].word) + len(words)]
                    taken += [
                        replace(time, start=time.start - offset, end=time.end - offset)
                        for time in words
                    ]
                elif words and report.verdict.outcome is Outcome.ACCEPT:
                    extra += 1
        self._clock = offset + len(samples)
        return taken, extra


def _said(meaning: str, words: Sequence[str]) -> str:
    """Return which of the recording's words has this meaning."""
    return next(word for word in words if _MEANS.get(word, word) == meaning)


def _believed(verdict: Verdict) -> Sequence[WordTime]:
    """Return the words of a verdict, doubtful where the stopwatch that awaits them would doubt."""
    best = verdict.best
    if verdict.outcome is Outcome.IGNORE or best is None or not verdict.words:
        return ()
    if best.meaning.kind is not MeaningKind.ANSWER:
        return ()
    if verdict.outcome is Outcome.ACCEPT or is_awaited(verdict, verdict.words[0].word):
        return verdict.words
    return [replace(time, doubtful=True) for time in verdict.words]


class _NarrowEar:
    """PocketSphinx made to hear each word in turn: how well each fits beside the others.

    Forced, so it ranks the words and cannot say that a sound is none of them.
    """

    def __init__(self) -> None:
        import pocketsphinx

        self._decoder: Any = pocketsphinx.Decoder(
            samprate=16_000, lm=None, loglevel="FATAL", beam=1e-80, pbeam=1e-80, wbeam=1e-60
        )
        self._known: set[str] = set()

    def score(self, samples: NDArray[np.int16], words: Sequence[str]) -> dict[str, float]:
        """Return a share for each word."""
        scores = {word: self._fit(samples, word) for word in sorted(set(words))}
        best = max(scores.values())
        shares = {word: math.exp((score - best) / _TEMPERATURE) for word, score in scores.items()}
        total = sum(shares.values())
        return {word: share / total for word, share in shares.items()}

    def _fit(self, samples: NDArray[np.int16], word: str) -> float:
        if word not in self._known:
            text = f"#JSGF V1.0;\ngrammar narrow;\npublic <narrow> = {word};\n"
            self._decoder.add_jsgf_string(word, text)
            self._known.add(word)
        self._decoder.activate_search(word)
        self._decoder.start_utt()
        self._decoder.process_raw(samples.tobytes(), False, True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        if found is None or not found.hypstr:
            return _NO_FIT
        scores = [s.ascore for s in self._decoder.seg() if s.word != "</s>"]
        return sum(math.log(max(score, 1e-300)) for score in scores)  # given as likelihoods
