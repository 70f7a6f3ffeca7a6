"""The round of words and the stopwatch's dummy: what counts, what is told, and that they end."""

from __future__ import annotations

import pytest

from handsfree.hearing.grammar import load
from handsfree.hearing.verdict import MeaningKind, Outcome
from handsfree.interview.dummy import LagDummy
from handsfree.interview.fading import Fade, Faded
from handsfree.interview.words import WORDS, WordPractice

from .keys import RATE, Hand


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.word)
def test_every_practice_word_means_what_is_awaited(word: object) -> None:
    """Each word stands in the grammar that it is listened for with."""
    assert isinstance(word, type(WORDS[0]))
    kind = MeaningKind.ANSWER if word.grammar else MeaningKind.COMMAND
    meaning = load(word.grammar or "commands").meaning((word.word,), kind)
    assert meaning is not None
    assert meaning.value == word.value


def test_there_are_twelve_words() -> None:
    """A round is twelve words long."""
    assert len({word.word for word in WORDS}) == 12


def _say(hand: Hand, index: int) -> None:
    word = WORDS[index]
    hand.say(word.value, command=not word.grammar, word=word.word)


def test_all_words_well_heard() -> None:
    """Twelve words at the first try end the round."""
    hand = Hand(WordPractice()).open()
    for index in range(12):
        _say(hand, index)
    assert isinstance(hand.talk, WordPractice)
    assert hand.talk.well_heard == tuple(word.word for word in WORDS)
    assert hand.talk.badly_heard == ()
    assert hand.outcome == "complete"
    assert "I heard 12 of 12 words well." in hand.said


@pytest.mark.parametrize("how", ["wrong", "doubt", "mumble", "silence"])
def test_a_word_not_heard_is_asked_once_more_and_told(how: str) -> None:
    """Heard as another, in doubt, not at all: asked once more, then told as not well heard."""
    hand = Hand(WordPractice()).open()
    for _ in range(2):
        if how == "wrong":
            hand.say("no")
        elif how == "doubt":
            hand.say("yes", doubt=True)
        elif how == "mumble":
            hand.mumble()
        else:
            hand.silence()
    for index in range(1, 12):
        _say(hand, index)
    assert isinstance(hand.talk, WordPractice)
    assert hand.talk.badly_heard == ("yes",)
    assert "Not well: yes." in hand.said


def test_a_word_heard_at_the_second_try_is_not_well_heard() -> None:
    """In a check it would have been asked back."""
    hand = Hand(WordPractice()).open()
    hand.mumble()
    _say(hand, 0)
    assert isinstance(hand.talk, WordPractice)
    assert hand.talk.badly_heard == ("yes",)


def test_noise_is_no_try() -> None:
    """An ignored sound counts for nothing."""
    hand = Hand(WordPractice()).open()
    hand.mumble(Outcome.IGNORE)
    _say(hand, 0)
    assert isinstance(hand.talk, WordPractice)
    assert hand.talk.well_heard == ("yes",)


def _trial(hand: Hand, lag_s: float | None, *, word: str = "pink", doubtful: bool = False) -> None:
    fade = hand.of(Fade)[-1]
    assert isinstance(fade, Fade)
    hand.now += round(fade.length_s * RATE)
    hand.feed(Faded(stream=hand.stream, sample=hand.now))
    if lag_s is None:
        hand.now += 7 * RATE
        hand.silence()
        return
    hand.now += round(lag_s * RATE)
    hand.say(word, word=word, doubtful=doubtful)


def test_the_lag_is_learned_as_median_and_spread() -> None:
    """Five good trials give it; the tones differ in length."""
    hand = Hand(LagDummy()).open()
    hand.say("start")
    for lag in (0.30, 0.35, 0.32, 0.40, 0.34):
        _trial(hand, lag)
    assert isinstance(hand.talk, LagDummy)
    lag_found = hand.talk.lag
    assert lag_found is not None
    assert lag_found.median_s == pytest.approx(0.34, abs=0.001)
    assert lag_found.spread_s > 0.0
    assert hand.outcome == "complete"
    lengths = {a.length_s for a in hand.of(Fade) if isinstance(a, Fade)}
    assert len(lengths) == 5


@pytest.mark.parametrize(
    "lag, word, doubtful, told",
    [
        (0.02, "pink", False, "before the tone"),
        (3.0, "pink", False, "too late"),
        (None, "", False, "did not hear"),
        (0.3, "release", False, "did not hear"),
        (0.3, "pink", True, "could not tell"),
    ],
)
def test_a_bad_trial_is_told_and_does_not_count(
    lag: float | None, word: str, doubtful: bool, told: str
) -> None:
    """Guessed, late, missed, another word, in doubt: said in one sentence, and a further tone."""
    hand = Hand(LagDummy()).open()
    hand.say("start")
    _trial(hand, lag, word=word, doubtful=doubtful)
    assert any(told in text for text in hand.said)
    for _ in range(5):
        _trial(hand, 0.33)
    assert isinstance(hand.talk, LagDummy)
    assert hand.talk.lag is not None
    assert hand.talk.lag.trials == 5


def test_the_dummy_ends_without_good_trials() -> None:
    """Nothing is learned from silence, and it is said."""
    hand = Hand(LagDummy()).open()
    hand.say("start")
    for _ in range(10):
        _trial(hand, None)
    assert hand.outcome == "partial"
    assert any("Too few" in text for text in hand.said)
