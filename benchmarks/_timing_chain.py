"""Hears the words of the stopwatch as the program does, for the timing benchmark.

First the true chain: segmenting, recogniser under the stopwatch's grammars and commands, trust,
refined onsets. Then, for a word that it missed, the search by place in the order, with a narrow
grammar of the words alone as the ear.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import BLOCK_SAMPLES, Block
from handsfree.dialogue.vocabulary import TIMED
from handsfree.errors import CallerError
from handsfree.hearing.engines import build
from handsfree.hearing.reports import Judged
from handsfree.hearing.verdict import Listening, MeaningKind, Outcome, Verdict, WordTime
from handsfree.measuring.islands import search
from handsfree.measuring.onset import Onset, refine
from handsfree.measuring.spectrum import RATE

_SAME = {"pressing": "press", "pressed": "press", "released": "release", "let": "release"}
_GRAMMARS = {"press": "press", "release": "release_pink", "pink": "release_pink"}


_TEMPERATURE = 10.0
"""Log-likelihood that makes a word e times less likely: frames are far from independent."""
_NO_FIT = -2000.0


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What became of one recording: each expected word's onset, and what the chain alone gave."""

    found: tuple[Onset, ...]
    chain: tuple[WordTime, ...]
    extra: int


class Chain:
    """One engine, loaded once.

    Args:
        engine: ``pocketsphinx`` or ``vosk``.

    Raises:
        EngineError: It does not load.
    """

    def __init__(self, engine: str = "pocketsphinx") -> None:
        self._hearing = build(engine, refine=refine)
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
        chain: list[WordTime] = []
        for grammar in dict.fromkeys(_GRAMMARS[word] for word in words):
            begun = chain[-1].end if chain else 0
            chain += [time for time in self._through(samples, grammar) if time.start >= begun]
        wanted = list(words)
        kept: list[WordTime] = []
        for time in chain:  # in order; what fits no open place is extra
            if time.word in wanted:
                del wanted[: wanted.index(time.word) + 1]
                kept.append(time)
        found = search(samples, 0, kept, words, self._ear.score)
        return Heard(found=found, chain=tuple(kept), extra=len(chain) - len(kept))

    def _through(self, samples: NDArray[np.int16], grammar: str) -> list[WordTime]:
        """Return the words that the true chain accepts with this grammar open, as in a check."""
        listening = Listening(grammars=(grammar,), commands=TIMED, timed=True)
        hearing = self._hearing
        # A new stream for each recording: a jump in the clock makes hearing forget the last one.
        offset = self._clock + RATE
        hearing.open(listening, at=offset)
        silence = np.zeros(BLOCK_SAMPLES, np.int16)
        heard: list[WordTime] = []
        for at in range(0, len(samples) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
            block = Block(
                start=offset + at, samples=samples[at : at + BLOCK_SAMPLES], reference=silence
            )
            for report in hearing.feed(block):
                if not isinstance(report, Judged) or report.verdict.outcome is not Outcome.ACCEPT:
                    continue
                best = report.verdict.best
                if best is None or best.meaning.kind is not MeaningKind.ANSWER:
                    continue
                heard += _timed(report.verdict, str(best.meaning.value), offset)
        self._clock = offset + len(samples)
        return heard


def _timed(verdict: Verdict, meaning: str, offset: int) -> list[WordTime]:
    """Return the stopwatch's words in a verdict, by the recogniser's times or the utterance's."""
    times = [replace(time, word=_SAME.get(time.word, time.word)) for time in verdict.words]
    times = [time for time in times if time.word in _GRAMMARS]
    if not times and meaning in _GRAMMARS:  # the second ear was sure, the recogniser was not
        times = [WordTime(word=meaning, start=verdict.start, end=verdict.end)]
    return [replace(time, start=time.start - offset, end=time.end - offset) for time in times]


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
