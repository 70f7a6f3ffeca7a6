"""PocketSphinx as a recogniser: its English model comes inside its wheel, so nothing is downloaded.

The only module that knows PocketSphinx. Tags are not its business, nor is believing what it says.
"""

from __future__ import annotations

from collections import OrderedDict
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import EngineError
from handsfree.hearing.pronunciations import PRONUNCIATIONS
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import WordTime

if TYPE_CHECKING:
    from handsfree.hearing.grammar import ListeningGrammar

__all__ = ["PhoneLoop", "PocketSphinx"]

_FRAME = SAMPLE_RATE // 100  # the decoder's frames, 10 ms
_KEPT_GRAMMARS = 6


def _decoder(**config: Any) -> Any:
    try:
        import pocketsphinx  # heavy: loaded with the first utterance's preparation
    except ImportError as missing:
        msg = (
            f"PocketSphinx is not installed here ({missing}). Run: pip install pocketsphinx, "
            f"or add a Vosk model with: handsfree model add PATH"
        )
        raise EngineError(msg) from None
    pocketsphinx.set_loglevel("FATAL")  # its log would be spoken by a screen reader
    try:
        return pocketsphinx.Decoder(loglevel="FATAL", samprate=SAMPLE_RATE, **config)
    except (RuntimeError, ValueError) as wrong:
        msg = f"PocketSphinx does not start ({wrong}). Install the package pocketsphinx again."
        raise EngineError(msg) from None


class PocketSphinx:
    """PocketSphinx with its own US English model.

    Raises:
        EngineError: The package is missing or its model does not load.
    """

    name = "pocketsphinx"

    def __init__(self) -> None:
        # The search for a best path afterwards costs up to 0.14 s and hears no better.
        self._decoder = _decoder(lm=None, bestpath=False)
        try:
            self.version = version("pocketsphinx")
        except PackageNotFoundError:
            self.version = "unknown"
        self._searches: OrderedDict[str, str] = OrderedDict()
        self._said = False
        for word, ways in PRONUNCIATIONS.items():
            for number, phones in enumerate(ways, start=7):  # the dictionary's own stop below 7
                known = self._decoder.lookup_word(word)
                if known is not None and known != phones:
                    self._decoder.add_word(f"{word}({number})", phones, False)

    def missing(self, words: frozenset[str]) -> frozenset[str]:
        """Return those of ``words`` that the dictionary lacks."""
        return frozenset(word for word in words if self._decoder.lookup_word(word) is None)

    def listen_for(self, grammar: ListeningGrammar) -> None:
        """Switch to this grammar.

        Raises:
            EngineError: PocketSphinx cannot compile it.
        """
        name = self._searches.get(grammar.key)
        if name is None:
            name = grammar.key
            lacking = self.missing(grammar.words)
            if lacking == grammar.words:
                msg = "PocketSphinx knows none of the words listened for: its model is English."
                raise EngineError(msg)
            text = grammar.jsgf(lacking)
            try:
                self._decoder.add_jsgf_string(name, text)
            except (RuntimeError, ValueError) as wrong:
                msg = (
                    f"PocketSphinx refuses the listening grammar ({wrong}). "
                    f"Look for the last change under grammars/."
                )
                raise EngineError(msg) from None
            self._searches[grammar.key] = name
        self._searches.move_to_end(grammar.key)
        self._decoder.activate_search(name)
        while len(self._searches) > _KEPT_GRAMMARS:
            _, oldest = self._searches.popitem(last=False)
            self._decoder.remove_search(oldest)

    def start(self) -> None:
        """Begin an utterance."""
        self._decoder.start_utt()
        self._said = False

    def feed(self, samples: Samples) -> None:
        """Feed sound of the utterance, int16 at SAMPLE_RATE."""
        if len(samples):
            self._decoder.process_raw(samples.tobytes(), False, False)
            self._said = True

    def partial(self) -> tuple[str, ...]:
        """Return the words so far; they may change."""
        found = self._decoder.hyp() if self._said else None
        return _words(found.hypstr) if found is not None else ()

    def finish(self) -> Hypothesis:
        """End the utterance and return what was made of it."""
        self._decoder.end_utt()
        found = self._decoder.hyp() if self._said else None
        if found is None or not found.hypstr.strip():
            return Hypothesis(words=())
        times: list[WordTime] = []
        score = 0.0
        for segment in self._decoder.seg():
            score += segment.ascore
            word = _plain(segment.word)
            if word:
                start, end = segment.start_frame * _FRAME, (segment.end_frame + 1) * _FRAME
                times.append(WordTime(word=word, start=start, end=max(start, end)))
        return Hypothesis(
            words=_words(found.hypstr), times=tuple(times), detail=(("acoustic", score),)
        )


class PhoneLoop:
    """Any phones in any order, in a decoder of its own: how well no grammar at all would fit.

    Raises:
        EngineError: The package is missing or its model does not load.
    """

    def __init__(self) -> None:
        import pocketsphinx

        self._decoder = _decoder(lm=None, beam=1e-20, pbeam=1e-20, lw=2.0)
        path = pocketsphinx.get_model_path("en-us/en-us-phone.lm.bin")
        self._decoder.add_allphone_file("phones", path)
        self._decoder.activate_search("phones")

    def start(self) -> None:
        """Begin an utterance."""
        self._decoder.start_utt()

    def feed(self, samples: Samples) -> None:
        """Feed the same sound as the recogniser gets."""
        if len(samples):
            self._decoder.process_raw(samples.tobytes(), False, False)

    def finish(self) -> tuple[tuple[str, int, int, float], ...]:
        """Return phones with start and end in samples from the first fed, and acoustic score."""
        self._decoder.end_utt()
        return tuple(
            (s.word, s.start_frame * _FRAME, (s.end_frame + 1) * _FRAME, float(s.ascore))
            for s in self._decoder.seg()
        )


def _plain(word: str) -> str:
    """Return a segment's word without its pronunciation number; empty for fillers."""
    if word.startswith(("<", "[", "(", "+")):
        return ""
    return word.partition("(")[0]


def _words(text: str) -> tuple[str, ...]:
    return tuple(filter(None, (_plain(word) for word in text.split())))
