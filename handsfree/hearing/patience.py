"""How long to wait after the last word before an utterance counts as finished.

By phrase: nothing may follow "pink", a number may go on, and a word that people also say to dogs
may turn out to be the beginning of something said to the dog.
"""

from __future__ import annotations

from handsfree.audio.device import SAMPLE_RATE
from handsfree.hearing.grammar import ListeningGrammar, Phrase

__all__ = ["CAP_S", "LONGEST_WAIT_S", "NOISY_WAIT_S", "SHORTEST_WAIT_S", "TIMED_WAIT_S", "wait_s"]

CAP_S = 6.0
"""No answer is longer (VoiceXML's maxspeechtimeout; the value is our own)."""
SHORTEST_WAIT_S = 0.2
LONGEST_WAIT_S = 0.6
TIMED_WAIT_S = 0.2
"""Where words are timed each is one utterance: nothing is said back that could come too soon."""

NOISY_WAIT_S = 0.4
"""Without phones, where other sound goes on: what a soft end of a word may take."""

_AT_ONCE = frozenset({"stop", "wait", "pause", "hang on", "press", "release"})
_SAID_TO_DOGS = frozenset({"no", "good", "down", "left", "right", "okay", "easy", "back", "off"})
_AT_ONCE_S = SHORTEST_WAIT_S
_WHOLE_S = 0.26
_TO_DOGS_S = 0.56
_GOES_ON_S = 0.56
_HALF_SAID_S = LONGEST_WAIT_S
_NOTHING_S = 0.45


def wait_s(words: Phrase, grammar: ListeningGrammar) -> float:
    """Return the seconds of quiet that end an utterance of ``words``, as recognised so far.

    VoiceXML's ``completetimeout`` (0.3 to 1.0 s) and ``incompletetimeout``, chosen by phrase.
    """
    said = " ".join(words)
    if not words:
        return _NOTHING_S
    if grammar.meaning(words) is None:
        return _HALF_SAID_S if grammar.may_go_on(words) else _WHOLE_S
    if said in _AT_ONCE:
        return _AT_ONCE_S
    if grammar.may_turn(words):
        return _GOES_ON_S
    return _TO_DOGS_S if said in _SAID_TO_DOGS else _WHOLE_S


def samples(seconds: float) -> int:
    """Return ``seconds`` in samples."""
    return round(seconds * SAMPLE_RATE)
