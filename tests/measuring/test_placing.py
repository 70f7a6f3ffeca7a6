"""The words of the stopwatch as a live check places and believes them."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.hearing.verdict import (
    Candidate,
    Meaning,
    MeaningKind,
    Outcome,
    Verdict,
    WordTime,
)
from handsfree.measuring.awaited import AWAITED, is_awaited
from handsfree.measuring.placing import place

from .test_onset import RATE, raw, scene


def whole(word: str, start_s: float, end_s: float) -> WordTime:
    """Return a word that was said somewhere in a stretch."""
    return WordTime(word=word, start=round(start_s * RATE), end=round(end_s * RATE), doubtful=True)


def test_a_word_that_only_the_ear_heard_is_found_in_its_utterance() -> None:
    """The onset is sought within the utterance, and is no doubt where one sound stands there."""
    sound = scene(np.random.default_rng(4), [1.5, 4.0], burst=True, noise=30.0)
    (found,) = place(sound, 0, [whole("pink", 3.9, 4.5)])
    assert found.word == "pink"
    assert abs(found.start / RATE - 4.0) <= 0.02
    assert not found.doubtful
    (moved,) = place(sound, 777_000, [WordTime(word="pink", start=777_000 + round(3.9 * RATE),
                                               end=777_000 + round(4.5 * RATE),
                                               doubtful=True)])  # fmt: skip
    assert moved.start == found.start + 777_000


def test_two_words_that_only_the_ear_heard_are_laid_in_order() -> None:
    """Release and pink in one breath each get a sound of their own."""
    sound = scene(np.random.default_rng(4), [2.0, 2.9], burst=True, noise=30.0)
    found = place(sound, 0, [whole("release", 1.9, 3.4), whole("pink", 1.9, 3.4)])
    assert [word.word for word in found] == ["release", "pink"]
    assert [abs(w.start / RATE - at) <= 0.02 for w, at in zip(found, (2.0, 2.9), strict=True)]


def test_one_of_several_sounds_or_none_stays_in_doubt() -> None:
    """Two sounds that could be the word, or silence, leave it marked."""
    sound = scene(np.random.default_rng(4), [2.0, 2.9], burst=True, noise=30.0)
    (either,) = place(sound, 0, [whole("pink", 1.9, 3.4)])
    assert either.doubtful
    quiet = scene(np.random.default_rng(4), [], burst=True, noise=30.0)
    nothing = whole("pink", 1.9, 3.4)
    assert place(quiet, 0, [nothing]) == (nothing,)
    assert place(quiet[:0], 0, [nothing]) == (nothing,)


def test_what_the_recogniser_timed_is_refined() -> None:
    """A start 0.35 s early comes to the burst."""
    sound = scene(np.random.default_rng(4), [4.0], burst=True, noise=30.0)
    (found,) = place(sound, 0, [raw("pink", 4.0, 0.35)])
    assert abs(found.start / RATE - 4.0) <= 0.02


def heard(
    probability: float,
    *,
    word: str = "pink",
    lasts_s: float = 0.5,
    outcome: Outcome = Outcome.ASK_BACK,
    reason: str = "doubt",
    rival: float = 0.0,
    kind: MeaningKind = MeaningKind.ANSWER,
) -> Verdict:
    """Return a verdict on one sound."""
    return Verdict(
        outcome=outcome,
        candidates=(
            Candidate(meaning=Meaning(kind=kind, value=word), words=word, probability=probability),
            Candidate(
                meaning=Meaning(kind=MeaningKind.COMMAND, value="pause"),
                words="wait",
                probability=rival,
            ),
        ),
        start=0,
        end=round(lasts_s * RATE),
        reason=reason,
    )


@pytest.mark.parametrize(
    ("verdict", "taken"),
    [
        (heard(AWAITED), True),
        (heard(AWAITED - 0.01), False),
        (heard(0.9, word="release"), False),
        (heard(0.9, kind=MeaningKind.COMMAND), False),
        (heard(0.5, lasts_s=1.2), False),
        (heard(0.6, rival=0.3), False),
        (heard(0.9, reason="early"), False),
        (heard(0.9, reason="clipped"), False),
        (heard(0.75, outcome=Outcome.ACCEPT, reason="ear", lasts_s=1.2), True),
        (Verdict(outcome=Outcome.IGNORE, start=0, end=100), False),
    ],
)
def test_the_awaited_word_needs_less_than_others(verdict: Verdict, taken: bool) -> None:
    """It is taken by itself and in time; not when it is long, rivalled, early or another word."""
    assert is_awaited(verdict, "pink") is taken
