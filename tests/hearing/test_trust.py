"""Trust: what three opinions on one utterance come to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from handsfree.hearing import joint
from handsfree.hearing.evidence import Evidence, Reading, Spelt, Talk
from handsfree.hearing.grammar import compose
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.standin import ScriptedScores
from handsfree.hearing.trust import LIKE_US, WITH_EAR, judge
from handsfree.hearing.verdict import Listening, Meaning, Outcome, Verdict, WordTime

COLOUR = Listening(
    grammars=("gum_colour",), commands=frozenset({"stop", "pause", "skip", "repeat", "help"})
)
NUMBER = Listening(grammars=("integer",), commands=frozenset({"stop", "skip"}))
BEGIN, END = 16_000, 24_000


def evidence(
    said: str,
    ear: Mapping[str, float],
    reading: Mapping[str, float] | None,
    listening: Listening = COLOUR,
    free: float = 0.0,
    rivals: tuple[float, ...] = (),
) -> Evidence:
    """Return half a second of speech.

    Args:
        said: The recogniser's words.
        ear: The second ear's shares; the rest is for "none of these".
        reading: Log probabilities by phrase; None for no phone network.
        listening: What is listened for.
        free: Log probability of the likeliest phones.
        rivals: Log probabilities of what is said to dogs.
    """
    grammar = compose(listening)
    words = tuple(said.split())
    step = (END - BEGIN) // max(len(words), 1)
    times = tuple(
        WordTime(word=word, start=BEGIN + n * step, end=BEGIN + (n + 1) * step)
        for n, word in enumerate(words)
    )
    read = None
    if reading is not None:
        spelt = [
            Spelt(words=phrase, meaning=meaning, score=score, phones=3 * len(phrase.split()))
            for phrase, score in reading.items()
            if (meaning := grammar.meaning(phrase)) is not None
        ]
        read = Reading(
            ranked=tuple(sorted(spelt, key=lambda s: -s.score)), free=free, rivals=rivals
        )
    return Evidence(
        listening=listening,
        grammar=grammar,
        start=BEGIN,
        end=END,
        hypothesis=Hypothesis(words=words, times=times),
        speech=tuple(range(BEGIN, END, 160)),
        ear=ScriptedScores(probabilities=ear, other=max(1.0 - sum(ear.values()), 0.0)),
        reading=read,
    )


def test_three_opinions_that_agree_are_believed() -> None:
    """The recogniser, the ear and the phones all say pink."""
    verdict = judge(evidence("pink", {"pink": 0.95}, {"pink": -0.2, "pale": -20.0}))
    assert verdict.outcome is Outcome.ACCEPT
    assert verdict.best is not None
    assert (verdict.best.meaning.value, verdict.reason) == ("pink", "agree")


def test_talk_that_spells_something_else_is_no_answer() -> None:
    """Forced into "pale" by the recogniser; a word to the dog is 35 nats likelier."""
    read = {"pale": -40.0, "pink": -45.0}
    verdict = judge(evidence("pale", {"pale": 0.3}, read, rivals=(-5.0,)))
    assert verdict.outcome is Outcome.IGNORE


def test_a_word_to_the_dog_keeps_an_answer_like_it_from_being_believed() -> None:
    """Heel and pale: without the rival's share it would be an answer, with it none."""
    alone = judge(evidence("", {"pale": 0.3}, {"pale": -3.0, "pink": -15.0}))
    beside = judge(evidence("", {"pale": 0.3}, {"pale": -3.0, "pink": -15.0}, rivals=(-0.5,)))
    assert alone.outcome is Outcome.ACCEPT
    assert beside.outcome is not Outcome.ACCEPT


def test_the_phones_overrule_an_ear_that_is_torn() -> None:
    """The ear cannot tell blue from two words near it; the phones can."""
    verdict = judge(evidence("blue", {"blue": 0.45, "pale": 0.4}, {"blue": 0.2, "pale": -18.0}))
    assert verdict.best is not None
    assert verdict.best.meaning.value == "blue"
    assert verdict.outcome is Outcome.ACCEPT


def test_two_opinions_against_each_other_are_asked_back_or_ignored() -> None:
    """The ear says pink, the phones say pale: never an answer."""
    verdict = judge(evidence("pale", {"pink": 0.6, "pale": 0.02}, {"pale": -2.0, "pink": -9.0}))
    assert verdict.outcome is not Outcome.ACCEPT


def test_what_the_ear_and_the_recogniser_agree_on_is_never_ignored() -> None:
    """A whisper: its phones are far from pink, the others are sure of it."""
    read = {"pink": -24.0, "pale": -25.0}
    assert judge(evidence("pink", {"pink": 0.95}, read)).outcome is Outcome.ASK_BACK
    assert judge(evidence("pale", {"pink": 0.95}, read)).outcome is not Outcome.ACCEPT


def test_in_noise_an_ear_that_hears_little_is_not_enough() -> None:
    """Phones that are far and a fifth of the ear are asked back; with near phones it will do."""
    far = evidence("it's pink", {"it's pink": 0.2}, {"it's pink": -21.0, "pale": -24.0})
    beside_a_tap = replace(far, noise_db=far.level_db - 10.0)
    assert judge(beside_a_tap).outcome is not Outcome.ACCEPT
    near = evidence("it's pink", {"it's pink": 0.2}, {"it's pink": -3.0, "pale": -12.0})
    assert judge(replace(near, noise_db=near.level_db - 10.0)).outcome is Outcome.ACCEPT


def _beside_dishes(heard: Evidence, speech_nats: float = 9.0) -> Evidence:
    assert heard.reading is not None
    reading = replace(heard.reading, speech_nats=speech_nats)
    return replace(heard, noise_db=heard.level_db - 10.0, reading=reading)


def test_in_noise_nothing_forbids_what_all_figures_together_make_likely() -> None:
    """No phone for certain, and an ear that is torn: weighed with the rest, and clearly read."""
    torn = evidence("", {"it's pink": 0.15, "it's pale": 0.2}, {"it's pink": -1.0, "pale": -12.0})
    assert judge(_beside_dishes(torn)).outcome is Outcome.ACCEPT
    hardly = judge(_beside_dishes(torn, speech_nats=1.0))
    assert hardly.outcome is Outcome.ACCEPT
    assert hardly.reason == "ear"


@pytest.mark.parametrize(
    ("chance", "quiet", "noise"),
    [
        (0.76, Outcome.ACCEPT, Outcome.ACCEPT),
        (0.72, Outcome.ASK_BACK, Outcome.ACCEPT),
        (0.68, Outcome.ASK_BACK, Outcome.ASK_BACK),
    ],
)
def test_in_noise_a_little_less_is_enough(
    monkeypatch: pytest.MonkeyPatch, chance: float, quiet: Outcome, noise: Outcome
) -> None:
    """0.75 and 0.70: there nothing but the probability counts, and trees weigh all of it."""
    certain = {
        name: joint.Model(figures=names, weights=(0.0,) * len(names), bias=joint.logit(chance))
        for name, names in joint.FIGURES.items()
    }
    monkeypatch.setattr(joint, "models", lambda: certain)
    heard = evidence("", {"it's pink": 0.3}, {"it's pink": -9.0, "pale": -11.0})
    assert judge(heard).outcome is quiet
    assert judge(_beside_dishes(heard)).outcome is noise


def test_in_noise_what_may_be_a_bark_is_not_asked_back() -> None:
    """Phones that are far, and none that is certain: a bark or clatter, and nobody is asked."""
    far = evidence("pale", {"it's pink": 0.1, "pale": 0.2}, {"it's pink": -18.0, "pale": -9.0})
    assert judge(_beside_dishes(far)).outcome is Outcome.ASK_BACK
    assert judge(_beside_dishes(far, speech_nats=1.0)).outcome is Outcome.IGNORE


@pytest.mark.parametrize(("pink", "outcome"), [(-2.0, Outcome.ASK_BACK), (-4.0, Outcome.ACCEPT)])
def test_in_noise_a_stop_has_to_be_read_besides_being_likely_enough(
    pink: float, outcome: Outcome
) -> None:
    """What needs less than others could be an answer whose phones come near."""
    heard = evidence("", {"stop": 0.6, "it's pink": 0.1}, {"stop": -0.5, "it's pink": pink})
    verdict = judge(_beside_dishes(heard))
    assert verdict.best is not None
    assert verdict.best.words == "stop"
    assert verdict.best.probability > WITH_EAR.permissive + 0.05
    assert verdict.outcome is outcome


def test_a_sure_ear_and_the_recogniser_need_less_of_the_phones() -> None:
    """Said with an accent; not for a skip, nor against the recogniser."""
    read = {"it's pink": -8.0, "pale": -11.0, "skip": -8.0}
    heard = evidence("it's pink", {"it's pink": 0.95}, read)
    assert judge(heard).outcome is Outcome.ACCEPT
    one_word = evidence("pink", {"pink": 0.95}, {"pink": -18.0, "pale": -21.0})
    assert judge(one_word).outcome is Outcome.ASK_BACK
    other = {"it's pink": -8.0, "pale": -5.0, "skip": -20.0}
    assert judge(evidence("it's pink", {"it's pink": 0.95}, other)).outcome is not Outcome.ACCEPT
    far = evidence("it's pink", {"it's pink": 0.95}, {"it's pink": -21.0, "pale": -24.0})
    assert judge(far).outcome is Outcome.ACCEPT
    assert judge(evidence("skip", {"skip": 0.95}, read)).outcome is not Outcome.ACCEPT
    assert judge(evidence("pale", {"pink": 0.95}, read)).outcome is not Outcome.ACCEPT


@pytest.mark.parametrize(
    ("said", "share", "outcome"),
    [
        ("", 0.03, Outcome.IGNORE),
        ("pale", 0.03, Outcome.ASK_BACK),
        ("", 0.3, Outcome.ASK_BACK),
    ],
)
def test_what_only_the_phones_propose_is_not_asked_back_in_doubt(
    said: str, share: float, outcome: Outcome
) -> None:
    """Dishes in a sink spell something too; one of the others has to hear it as well."""
    read = {"pale": -7.0, "pink": -11.0}
    assert judge(evidence(said, {"pale": share, "repeat": 0.01}, read)).outcome is outcome


@pytest.mark.parametrize(("score", "accepted"), [(-0.5, True), (-30.0, False)])
def test_a_number_that_no_head_has_learnt_goes_by_its_phones(score: float, accepted: bool) -> None:
    """Forty six, with every other number well behind it, or with the sound far from any."""
    read = {"forty six": score, "forty": score - 15.0, "sixty six": score - 12.0}
    verdict = judge(evidence("forty six", {"stop": 0.001}, read, NUMBER))
    assert (verdict.outcome is Outcome.ACCEPT) is accepted
    if accepted:
        assert verdict.best is not None
        assert (verdict.best.meaning.value, verdict.best.words) == (46.0, "forty six")


def test_of_two_numbers_hardly_apart_the_recogniser_s_is_proposed() -> None:
    """Fifteen and fifty within a nat of each other."""
    read = {"fifteen": -1.0, "fifty": -0.6}
    assert joint.open_form(evidence("fifteen", {}, read, NUMBER)) is not None
    said = joint.open_form(evidence("fifteen", {}, read, NUMBER))
    other = joint.open_form(evidence("fifty", {}, read, NUMBER))
    assert said is not None
    assert other is not None
    assert (said.words, other.words) == ("fifteen", "fifty")


def test_stop_is_obeyed_in_doubt_and_skip_is_not() -> None:
    """A growling dog may be why it is said; a skipped item is lost."""
    doubts = {
        word: judge(evidence(word, {word: 0.35}, {word: -4.5, "pink": -9.0}))
        for word in ("stop", "skip")
    }
    stop, skip = doubts["stop"].best, doubts["skip"].best
    assert stop is not None
    assert skip is not None
    assert WITH_EAR.accept_from(stop, frozenset()) < WITH_EAR.accept
    assert WITH_EAR.accept_from(skip, frozenset()) > WITH_EAR.accept
    assert doubts["skip"].outcome is not Outcome.ACCEPT
    assert doubts["stop"].outcome is not Outcome.IGNORE


@pytest.mark.parametrize(
    ("words", "outcome"), [("stop", Outcome.ACCEPT), ("end the check", Outcome.ASK_BACK)]
)
def test_only_what_is_short_is_urgent(words: str, outcome: Outcome) -> None:
    """Beside dishes "there's a lead on the hook" was heard as "end the check", and ended it."""
    heard = judge(evidence("", {words: 0.5}, {words: -8.0}, free=-0.1))
    assert heard.best is not None
    assert WITH_EAR.permissive <= heard.best.probability < WITH_EAR.accept
    assert heard.outcome is outcome


def test_a_number_on_which_two_opinions_agree_is_believed() -> None:
    """A person's three that the recogniser took as thirty, which is a longer number's beginning."""
    heard = judge(
        evidence("thirty", {"three": 0.45, "thirty": 0.18}, {"three": -4.6, "two": -5.1}, NUMBER)
    )
    assert (heard.outcome, _best(heard).value) == (Outcome.ACCEPT, 3.0)


def test_a_number_that_one_opinion_hears_faintly_is_not() -> None:
    """Each likes another."""
    heard = judge(
        evidence("thirty", {"three": 0.25, "two": 0.2}, {"two": -5.4, "three": -5.6}, NUMBER)
    )
    assert heard.outcome is not Outcome.ACCEPT


def _best(verdict: Verdict) -> Meaning:
    assert verdict.best is not None
    return verdict.best.meaning


def test_without_the_phones_more_is_needed() -> None:
    """The same opinions of the other two, and no phone network: less sure, never surer."""
    with_it = judge(evidence("pink", {"pink": 0.9}, {"pink": -0.2, "pale": -20.0}))
    without = judge(evidence("pink", {"pink": 0.9}, None))
    assert with_it.best is not None
    assert without.best is not None
    assert without.best.probability < with_it.best.probability


def test_what_follows_talk_at_once_is_part_of_it() -> None:
    """Asked back: "out of ten he sits" ends in six. Said again it is an answer; a stop acts."""
    pink = evidence("pink", {"pink": 0.95}, {"pink": -0.2, "pale": -20.0})
    verdict = judge(replace(pink, after=Talk(end=BEGIN - 8000)))
    assert (verdict.outcome, verdict.reason) == (Outcome.ASK_BACK, "talk")
    meaning = pink.grammar.meaning("pink")
    again = judge(replace(pink, after=Talk(end=BEGIN - 8000, meaning=meaning)))
    assert again.outcome is Outcome.ACCEPT
    stop = evidence("stop", {"stop": 0.95}, {"stop": -0.2, "pale": -20.0})
    assert judge(replace(stop, after=Talk(end=BEGIN - 8000))).outcome is Outcome.ACCEPT


def test_what_began_too_early_is_never_accepted() -> None:
    """However sure all are: it may be the tail of something else."""
    sure = evidence("pink", {"pink": 0.99}, {"pink": 0.0, "pale": -30.0})
    assert judge(sure).outcome is Outcome.ACCEPT
    assert judge(replace(sure, early=True)).outcome is Outcome.ASK_BACK


def test_a_meaning_that_was_not_read_is_far_from_believed() -> None:
    """The lexicon lacks the word, or too few frames: nothing speaks for it."""
    verdict = judge(evidence("pink", {"pink": 0.6}, {}))
    assert verdict.outcome is not Outcome.ACCEPT


def test_what_repeats_our_own_voice_is_no_answer() -> None:
    """However sure all are, while we speak; a repetition of nothing is chance."""
    sure = evidence("pink", {"pink": 0.99}, {"pink": 0.0, "pale": -30.0})
    ours = judge(replace(sure, over_us=0.9, like_us=LIKE_US + 0.1))
    assert (ours.outcome, ours.reason) == (Outcome.IGNORE, "own_voice")
    assert judge(replace(sure, over_us=0.9, like_us=LIKE_US - 0.1)).outcome is Outcome.ACCEPT
    assert judge(replace(sure, over_us=0.1, like_us=LIKE_US + 0.1)).outcome is Outcome.ACCEPT


def test_a_pause_is_no_more_urgent_where_an_answer_is_recognised() -> None:
    """Pale and pause begin alike; beside dishes "wound" was taken as "wait"."""
    reading = {"pause": -6.5}
    silent = judge(evidence("", {"pause": 0.5}, reading, free=-0.1))
    answer = judge(evidence("pale", {"pause": 0.5}, reading, free=-0.1))
    assert silent.outcome is Outcome.ACCEPT
    assert answer.outcome is not Outcome.ACCEPT


def test_a_pause_is_no_more_urgent_where_the_ear_rather_hears_an_answer() -> None:
    """Beside dishes "stopped" was taken as "stop" where it is an answer."""
    reading = {"pause": -3.5, "pale": -6.0}
    none = judge(evidence("pause", {"pause": 0.1, "help": 0.05}, reading))
    answer = judge(evidence("pause", {"pause": 0.1, "pale": 0.3}, reading))
    assert none.outcome is Outcome.ACCEPT
    assert answer.outcome is Outcome.ASK_BACK, "a doubtful pause is obeyed and asked about"


def test_what_is_short_and_only_read_is_asked_back() -> None:
    """A grunt spells a number or a colour as well as a word does; the ear would hear that."""
    grunt = judge(evidence("", {"pink": 0.03}, {"pink": -0.1}, rivals=(-6.0,)))
    heard = judge(evidence("", {"pink": 0.3}, {"pink": -0.1}, rivals=(-6.0,)))
    alone = judge(evidence("", {"pink": 0.03}, {"pink": -0.1}, rivals=(-20.0,)))
    assert grunt.outcome is Outcome.ASK_BACK
    assert heard.outcome is Outcome.ACCEPT
    assert alone.outcome is Outcome.ACCEPT, "nothing said to dogs comes near"


def test_a_longer_number_shares_a_word_with_what_is_recognised() -> None:
    """A recorded laugh was read as "eighty three" and recognised as "a walnut"."""
    reading = {"eighty three": -0.1}
    shared = judge(evidence("eighty one", {}, reading, NUMBER))
    nothing = judge(evidence("seven", {}, reading, NUMBER))
    assert shared.outcome is Outcome.ACCEPT
    assert nothing.outcome is not Outcome.ACCEPT
