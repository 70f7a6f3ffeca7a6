"""Whose times the words of a timed verdict carry."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.hearing.evidence import Evidence, Reading, Spelt
from handsfree.hearing.grammar import compose
from handsfree.hearing.meant import meant_times
from handsfree.hearing.parts import Opinions, judge_parts
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.standin import ScriptedScores
from handsfree.hearing.trust import judge
from handsfree.hearing.verdict import Listening, Meaning, MeaningKind, Outcome, WordTime

TIMED = Listening(grammars=("release_pink",), commands=frozenset({"pause"}), timed=True)


def evidence(said: str, ear: dict[str, float] | None = None) -> Evidence:
    """Return an utterance of samples 1000 to 9000 in which each word lasts 1000."""
    words = tuple(said.split())
    times = tuple(
        WordTime(word=word, start=1000 * n, end=1000 * (n + 1))
        for n, word in enumerate(words, start=2)
    )
    scores = None
    if ear is not None:
        scores = ScriptedScores(probabilities=ear, other=1.0 - sum(ear.values()))
    return Evidence(
        listening=TIMED,
        grammar=compose(TIMED),
        start=1000,
        end=9000,
        hypothesis=Hypothesis(words=words, times=times),
        speech=tuple(range(1000, 9000, 160)),
        ear=scores,
    )


def answer(value: str) -> Meaning:
    """Return what a word of the stopwatch means."""
    return Meaning(kind=MeaningKind.ANSWER, value=value)


@pytest.mark.parametrize(
    ("said", "meaning", "times"),
    [
        ("pink", "pink", [("pink", 2000, 3000)]),
        ("back to pink", "pink", [("pink", 2000, 5000)]),
        ("now", "pink", [("pink", 2000, 3000)]),
        ("release now", "release pink", [("release", 2000, 3000), ("pink", 3000, 4000)]),
        ("let go", "release", [("release", 2000, 4000)]),
        ("released", "release", [("release", 2000, 3000)]),
        ("let go back to pink", "release pink", [("release", 2000, 4000), ("pink", 4000, 7000)]),
    ],
)
def test_a_phrase_of_the_meaning_gives_the_meanings_words(
    said: str, meaning: str, times: list[tuple[str, int, int]]
) -> None:
    """Whatever phrase was said, the words are those of the meaning, sure of their place."""
    found = meant_times(evidence(said), answer(meaning))
    assert [(word.word, word.start, word.end) for word in found] == times
    assert not any(word.doubtful for word in found)


def test_what_only_the_ear_heard_spans_the_utterance() -> None:
    """The recogniser heard something else, or nothing: the place is unknown, and marked."""
    for said in ("hang on", "", "release"):
        (found,) = meant_times(evidence(said), answer("pink"))
        assert (found.word, found.start, found.end) == ("pink", 1000, 9000)
        assert found.doubtful
    both = meant_times(evidence("pink"), answer("release pink"))
    assert [word.word for word in both] == ["release", "pink"]


def test_a_command_has_the_recognisers_times_or_none() -> None:
    """No word of an answer is handed over for a command."""
    pause = Meaning(kind=MeaningKind.COMMAND, value="pause")
    assert [word.word for word in meant_times(evidence("hang on"), pause)] == ["hang", "on"]
    assert meant_times(evidence("pink"), pause) == ()


def test_words_that_ran_together_are_judged_one_by_one() -> None:
    """The ear has not learnt release and now with a pause between, but knows each of them."""
    both = replace(
        evidence("release now", {"release now": 0.01, "pink": 0.02}),
        reading=Reading(ranked=(), free=0.0),
    )
    whole = judge(both)
    assert whole.outcome is Outcome.IGNORE

    def each(start: int, end: int, words: tuple[str, ...]) -> Opinions:
        word = "release" if start < 3000 else "now"
        assert words == (word,)
        meaning = both.grammar.meaning(words)
        assert meaning is not None
        spelt = Spelt(words=word, meaning=meaning, score=-0.5, phones=4)
        reading = Reading(ranked=(spelt,), free=0.0)
        return ScriptedScores(probabilities={word: 0.97}, other=0.03), reading

    parted = judge_parts(both, whole, each)
    assert parted.outcome is not Outcome.IGNORE
    assert [word.word for word in parted.words] == ["release", "pink"]
    assert parted.best is not None
    assert parted.best.meaning.value == "release pink"

    def other(start: int, end: int, words: tuple[str, ...]) -> Opinions:
        return ScriptedScores(probabilities={"release": 0.97}, other=0.03), None

    assert judge_parts(both, whole, other) is whole
    assert judge_parts(evidence("release", {}), whole, each) is whole


def test_a_timed_verdict_carries_the_word_that_it_takes() -> None:
    """The second ear is sure of pink where the recogniser heard "hang on"."""
    verdict = judge(evidence("hang on", {"pink": 0.97}))
    assert verdict.outcome is not Outcome.IGNORE
    assert [word.word for word in verdict.words] == ["pink"]
