"""Speech told from noise by its phones: answers before, in and after barking and clatter."""

import multiprocessing
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from handsfree.audio.device import Block
from handsfree.hearing import Listening, Outcome, engines
from handsfree.hearing.evidence import Spoken
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import Judged, Report, SpokeOn
from handsfree.hearing.standin import ScriptedEar, ScriptedReader, ScriptedRecogniser
from handsfree.hearing.training import espeak, sounds
from handsfree.hearing.training.clips import trim

RATE = 16_000
LISTENING = Listening(grammars=("yesno",), commands=frozenset({"stop", "skip"}))


def _hearing(
    small_grammars: Path,
    script: Sequence[str],
    spoken_s: Sequence[tuple[float, float]],
    barked_s: Sequence[tuple[float, float]] = (),
    ears: Sequence[float] = (),
) -> Hearing:
    spoken, barked = (
        [(int(a * RATE), int(b * RATE)) for a, b in stretches] for stretches in (spoken_s, barked_s)
    )
    return Hearing(
        ScriptedRecogniser(script),
        ScriptedEar([("yes", share) for share in ears or [0.99] * len(script)]),
        reader=ScriptedReader(spoken, barked),
        composer=lambda listening: compose(listening, small_grammars),
    )


def _loud(stretches: Sequence[tuple[float, float]], total_s: float) -> NDArray[np.int16]:
    """Return a quiet room with loud noise at (begin, end), in seconds."""
    rng = np.random.default_rng(3)
    sound = rng.normal(0.0, 30.0, int(total_s * RATE))
    for begin, end in stretches:
        a, b = int(begin * RATE), int(end * RATE)
        sound[a:b] += rng.normal(0.0, 3000.0, b - a)
    return np.clip(sound, -32768, 32767).astype(np.int16)


def _run(hearing: Hearing, sound: NDArray[np.int16], start: int = 0) -> list[tuple[int, Report]]:
    told: list[tuple[int, Report]] = []
    for at in range(start, len(sound) - 319, 320):
        piece = sound[at : at + 320]
        block = Block(start=at, samples=piece, reference=np.zeros(320, np.int16))
        told += [(at + 320, report) for report in hearing.feed(block)]
    return told


def _accepted(told: Sequence[tuple[int, Report]]) -> list[tuple[int, str]]:
    return [
        (at, report.verdict.best.words)
        for at, report in told
        if isinstance(report, Judged)
        and report.verdict.outcome is Outcome.ACCEPT
        and report.verdict.best is not None
    ]


def test_an_answer_in_noise_is_judged_before_the_noise_ends(small_grammars: Path) -> None:
    """The clatter goes on for another two seconds; half a second after the word is enough."""
    hearing = _hearing(small_grammars, ["no smell", "yes"], [(2.0, 2.5)])
    hearing.open(LISTENING, at=0)
    ((at, words), *more) = _accepted(_run(hearing, _loud([(1.0, 5.0)], 6.0)))
    assert words == "yes"  # heard anew, without the noise around it
    assert 2.9 * RATE <= at <= 3.2 * RATE
    assert more == []


def test_noise_alone_is_never_an_answer(small_grammars: Path) -> None:
    """Whatever the recogniser makes of it."""
    hearing = _hearing(small_grammars, ["yes"] * 20, [])
    hearing.open(LISTENING, at=0)
    assert _accepted(_run(hearing, _loud([(1.0, 12.0), (12.5, 13.0)], 14.0))) == []


@pytest.mark.parametrize(
    ("pause_s", "listens_anew", "outcome"),
    [
        (0.5, False, Outcome.ASK_BACK),
        (0.9, False, Outcome.ACCEPT),
        (0.5, True, Outcome.ACCEPT),
    ],
)
def test_an_answer_stands_alone(
    small_grammars: Path, pause_s: float, listens_anew: bool, outcome: Outcome
) -> None:
    """Half a second after talk it is part of it; later, or at the next question, it is none."""
    begin = 1.8 + pause_s
    spoken = [(1.0, 1.8), (begin, begin + 0.4)]
    hearing = _hearing(small_grammars, ["nine times out of ten", "yes"], spoken, ears=[0.0, 0.99])
    hearing.open(LISTENING, at=0)
    sound = _loud(spoken, begin + 2.0)
    between = int((begin - 0.06) * RATE) // 320 * 320
    told = _run(hearing, sound[:between])
    if listens_anew:
        hearing.open(LISTENING, at=between)
    told += _run(hearing, sound, start=between)
    verdicts = [report.verdict for _, report in told if isinstance(report, Judged)]
    assert [verdict.outcome for verdict in verdicts] == [Outcome.IGNORE, outcome]
    assert (verdicts[-1].reason == "talk") is (outcome is Outcome.ASK_BACK)


class _CountingReader(ScriptedReader):
    """Notes where it was asked whether somebody speaks."""

    def __init__(self, spoken: Sequence[tuple[int, int]]) -> None:
        super().__init__(spoken)
        self.looks: list[int] = []

    def spoken(self, start: int, end: int, /) -> Spoken | None:
        self.looks.append(end)
        return super().spoken(start, end)


def test_noise_is_looked_at_half_as_often_as_speech(small_grammars: Path) -> None:
    """A look costs 25 ms: in a second of noise four, in a second of speech eight."""
    reader = _CountingReader([(5 * RATE, 7 * RATE)])
    hearing = Hearing(
        ScriptedRecogniser(["yes"] * 5),
        reader=reader,
        composer=lambda listening: compose(listening, small_grammars),
    )
    hearing.open(LISTENING, at=0)
    _run(hearing, _loud([(1.0, 8.0)], 9.0))
    in_noise = sum(2 * RATE <= at < 4 * RATE for at in reader.looks)
    in_speech = sum(5.5 * RATE <= at < 6.5 * RATE for at in reader.looks)
    assert 8 <= in_noise <= 9
    assert 8 <= in_speech <= 9


def test_noise_from_before_listening_does_not_hide_the_answer(
    small_grammars: Path,
) -> None:
    """It began during our prompt, and somebody answers in it."""
    hearing = _hearing(small_grammars, ["yes"] * 5, [(4.0, 4.4)])
    sound = _loud([(0.8, 5.5)], 6.5)
    _run(hearing, sound[: 2 * RATE])
    hearing.open(LISTENING, at=2 * RATE)
    told = _run(hearing, sound, start=2 * RATE)
    ((at, _),) = _accepted(told)
    assert at < 5.2 * RATE


def test_speech_that_was_there_before_listening_is_no_answer(small_grammars: Path) -> None:
    """Somebody talks across the end of the prompt: the tail of it is dropped."""
    hearing = _hearing(small_grammars, ["yes"] * 3, [(1.0, 3.0)])
    sound = _loud([(1.0, 3.0)], 4.5)
    _run(hearing, sound[: 2 * RATE])
    hearing.open(LISTENING, at=2 * RATE)
    told = _run(hearing, sound, start=2 * RATE)
    assert _accepted(told) == []


@pytest.mark.parametrize(
    ("spoken", "retracted"), [([(1.0, 1.4)], 0), ([(1.0, 1.4), (2.1, 2.7)], 1)]
)
def test_only_speech_takes_an_answer_back(
    small_grammars: Path, spoken: list[tuple[float, float]], retracted: int
) -> None:
    """A bark soon after it does not; words do."""
    hearing = _hearing(small_grammars, ["yes", "yes", "yes"], spoken)
    hearing.open(LISTENING, at=0)
    told = _run(hearing, _loud([(1.0, 1.4), (2.1, 2.7)], 4.0))
    assert [words for _, words in _accepted(told)][:1] == ["yes"]
    assert sum(isinstance(report, SpokeOn) for _, report in told) == retracted


def test_a_bark_like_a_syllable_takes_nothing_back(small_grammars: Path) -> None:
    """What may be a syllable is not enough: a dog that barks after the answer has those too."""
    hearing = _hearing(small_grammars, ["yes"] * 3, [(1.0, 1.4)], [(2.1, 2.7)])
    hearing.open(LISTENING, at=0)
    told = _run(hearing, _loud([(1.0, 1.4), (2.1, 2.7)], 4.0))
    assert [words for _, words in _accepted(told)][:1] == ["yes"]
    assert not any(isinstance(report, SpokeOn) for _, report in told)


def test_a_bark_before_an_answer_is_cut_off_where_it_spoils_it(small_grammars: Path) -> None:
    """With the bark it is nothing, without it an answer; the recogniser hears it both times."""
    hearing = _hearing(
        small_grammars, ["whole", "with the bark", "yes"], [(2.0, 2.5)], [(1.4, 1.7)]
    )
    hearing.open(LISTENING, at=0)
    told = _run(hearing, _loud([(1.0, 3.0)], 4.5))
    verdicts = [report.verdict for _, report in told if isinstance(report, Judged)]
    assert [v.outcome for v in verdicts][:1] == [Outcome.ACCEPT]  # one utterance, one verdict
    assert verdicts[0].start == pytest.approx(2.0 * RATE, abs=0.16 * RATE)
    assert [words for _, words in _accepted(told)] == ["yes"]


@pytest.mark.parametrize(("ends", "words"), [(1.62, ["yes"]), (1.9, [])])
def test_the_beginning_of_a_sentence_is_no_answer(
    small_grammars: Path, ends: float, words: list[str]
) -> None:
    """As of "can't see the squirrel": in noise the rest is uncertain, but too long for an end."""
    hearing = _hearing(small_grammars, ["whole", "in doubt", "yes"], [(1.0, 1.4)], [(1.5, ends)])
    hearing.open(LISTENING, at=0)
    told = _run(hearing, _loud([(1.0, 2.6)], 4.5))
    assert [said for _, said in _accepted(told)] == words


def test_barks_after_an_answer_do_not_put_off_its_end(small_grammars: Path) -> None:
    """They go on without a pause; the answer ends with its last phone."""
    barks = [(2.6 + 0.3 * n, 2.8 + 0.3 * n) for n in range(8)]
    hearing = _hearing(small_grammars, ["no smell", "yes"], [(2.0, 2.5)], barks)
    hearing.open(LISTENING, at=0)
    ((at, words), *_) = _accepted(_run(hearing, _loud([(1.0, 5.0)], 6.0)))
    assert words == "yes"
    assert at <= 3.2 * RATE


def test_barks_from_before_listening_do_not_hide_the_answer(small_grammars: Path) -> None:
    """A dog barks all through the prompt and on; the answer comes three seconds later."""
    barks = [(0.8 + 0.3 * n, 1.0 + 0.3 * n) for n in range(14)]
    hearing = _hearing(small_grammars, ["yes"] * 5, [(5.0, 5.4)], barks)
    sound = _loud([(0.8, 6.5)], 7.5)
    _run(hearing, sound[: 2 * RATE])
    hearing.open(LISTENING, at=2 * RATE)
    told = _accepted(_run(hearing, sound, start=2 * RATE))
    assert [words for _, words in told] == ["yes"]
    assert 5.4 * RATE <= told[0][0] < 6.2 * RATE


def _said(text: str) -> NDArray[np.float64]:
    """Speech of a process of its own: eSpeak NG's sound hangs on what it has said before."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as apart:
        spoken = apart.submit(espeak.speak, text, "en-US").result()
    sound = trim(resample_poly(spoken, 320, 441))
    return np.asarray(sound * 0.3 / np.abs(sound).max())


def test_an_answer_amid_barking_is_heard() -> None:
    """The real networks: synthetic barks of 10 dB below the voice, all the time, and "pink"."""
    voice = _said("it's pink")
    sound = np.concatenate([np.zeros(3 * RATE), voice, np.zeros(3 * RATE)])
    barks = sounds.barking(np.random.default_rng(3), sound.size)
    sound += barks / np.sqrt(np.mean(barks**2)) * np.sqrt(np.mean(voice**2)) * 10 ** (-10 / 20)
    hearing = engines.build()
    hearing.open(Listening(grammars=("gum_colour",), commands=frozenset({"stop"})), at=0)
    told = _run(hearing, np.clip(sound * 32767, -32768, 32767).astype(np.int16))
    assert [words for _, words in _accepted(told)] == ["it's pink"]
    assert not any(isinstance(report, SpokeOn) for _, report in told)
