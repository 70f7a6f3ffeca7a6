"""The facade: blocks in, reports out. Engines are stand-ins that hear a script."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.audio.device import Block
from handsfree.hearing import Listening, Outcome, WordTime
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import ROOM_TAIL_S, Hearing
from handsfree.hearing.reports import (
    DeadMicrophone,
    Judged,
    Report,
    SpeechStarted,
    SpokeOn,
    TooLoudNow,
)
from handsfree.hearing.standin import ScriptedEar, ScriptedRecogniser

RATE = 16_000
LISTENING = Listening(grammars=("yesno",), commands=frozenset({"stop", "skip"}))


def _hearing(small_grammars: Path, script: Sequence[str], ear: Sequence[float] = ()) -> Hearing:
    shares = list(ear) or [0.99] * len(script)
    return Hearing(
        ScriptedRecogniser(script),
        ScriptedEar(list(zip(script, shares, strict=True))),
        composer=lambda listening: compose(listening, small_grammars),
    )


def _sound(words: Sequence[tuple[float, float]], total_s: float) -> NDArray[np.int16]:
    """Return a quiet room with vowels at (begin, length), in seconds."""
    sound = np.random.default_rng(3).normal(0.0, 30.0, int(total_s * RATE))
    for begin, length in words:
        t = np.arange(int(length * RATE)) / RATE
        voice = sum(np.sin(2 * np.pi * 130 * k * t) / k for k in range(1, 40))
        at = int(begin * RATE)
        sound[at : at + len(t)] += (6000 * voice / np.abs(voice).max())[: len(sound) - at]
    return np.clip(sound, -32768, 32767).astype(np.int16)


def _run(
    hearing: Hearing, sound: NDArray[np.int16], start: int = 0, cut: int = 320
) -> list[Report]:
    reports: list[Report] = []
    for k in range(0, len(sound), cut):
        piece = sound[k : k + cut]
        block = Block(start=start + k, samples=piece, reference=np.zeros(len(piece), np.int16))
        reports += hearing.feed(block)
    return reports


def _verdicts(reports: list[Report]) -> list[tuple[Outcome, str]]:
    return [
        (r.verdict.outcome, r.verdict.best.words if r.verdict.best else "")
        for r in reports
        if isinstance(r, Judged)
    ]


@pytest.mark.parametrize("cut", [53, 320, 1600])
def test_an_answer_is_told_with_its_place(small_grammars: Path, cut: int) -> None:
    """Speech is told at once, and its verdict with the samples at which it was said."""
    hearing = _hearing(small_grammars, ["yes"])
    hearing.open(LISTENING, at=0)
    started, judged = _run(hearing, _sound([(1.0, 0.4)], 2.5), cut=cut)
    assert isinstance(started, SpeechStarted)
    assert isinstance(judged, Judged)
    assert judged.verdict.outcome is Outcome.ACCEPT
    assert abs(judged.verdict.start - RATE) < 0.03 * RATE
    assert abs(judged.verdict.end - 1.4 * RATE) < 0.08 * RATE
    assert started.sample == judged.verdict.start


def test_blocks_do_not_matter(small_grammars: Path) -> None:
    """Any cutting of the sound gives the same reports."""
    sound = _sound([(0.8, 0.3), (2.4, 0.5)], 4.0)
    told = []
    for cut in (160, 320, 999):
        hearing = _hearing(small_grammars, ["no", "skip"], [0.9, 0.4])
        hearing.open(LISTENING, at=0)
        told.append(_run(hearing, sound, cut=cut))
    assert told[0] == told[1] == told[2]


def test_nothing_is_judged_while_closed(small_grammars: Path) -> None:
    """A closed ear tells of no speech."""
    hearing = _hearing(small_grammars, ["yes"])
    assert _run(hearing, _sound([(1.0, 0.4)], 2.5)) == []
    hearing.open(LISTENING, at=0)
    hearing.close()
    assert _run(hearing, _sound([(1.0, 0.4)], 2.5), start=40_000) == []


def test_our_own_voice_is_not_believed(small_grammars: Path) -> None:
    """While muted, and while the room rings on, nothing is heard; after it is."""
    hearing = _hearing(small_grammars, ["yes"])
    hearing.open(LISTENING, at=2 * RATE)
    hearing.mute(2 * RATE)
    reports = _run(hearing, _sound([(0.5, 1.4), (3.0, 0.4)], 4.5))
    assert _verdicts(reports) == [(Outcome.ACCEPT, "yes")]
    assert isinstance(reports[0], SpeechStarted)
    assert reports[0].sample > (2 + ROOM_TAIL_S) * RATE


def test_speech_cut_by_our_own_voice_is_never_accepted(small_grammars: Path) -> None:
    """Who speaks before the microphone opens has said more than was heard."""
    hearing = _hearing(small_grammars, ["yes"])
    sound = _sound([(1.8, 0.9)], 4.0)
    _run(hearing, sound[:RATE])
    hearing.open(LISTENING, at=2 * RATE)
    hearing.mute(2 * RATE)
    reports = _run(hearing, sound[RATE:], start=RATE)
    assert _verdicts(reports) == [(Outcome.ASK_BACK, "yes")]


def test_speech_running_on_retracts(small_grammars: Path) -> None:
    """Speech within a second of an accepted answer says that it was none; later speech does not."""
    for gap, retracted in ((0.75, True), (1.4, False)):
        hearing = _hearing(small_grammars, ["yes", "stop"])
        hearing.open(LISTENING, at=0)
        reports = _run(hearing, _sound([(1.0, 0.4), (1.4 + gap, 0.5)], 5.0))
        spoke_on = [r for r in reports if isinstance(r, SpokeOn)]
        first = next(r for r in reports if isinstance(r, Judged))
        assert bool(spoke_on) is retracted
        if spoke_on:
            assert spoke_on[0].start == first.verdict.start


def test_what_ran_on_is_no_answer_of_its_own(small_grammars: Path) -> None:
    """Half an answer after the half that was taken back is asked back, whatever it means alone."""
    for gap, second in ((0.75, Outcome.ASK_BACK), (1.4, Outcome.ACCEPT)):
        hearing = _hearing(small_grammars, ["yes", "no"])
        hearing.open(LISTENING, at=0)
        reports = _run(hearing, _sound([(1.0, 0.4), (1.4 + gap, 0.5)], 5.0))
        assert _verdicts(reports) == [(Outcome.ACCEPT, "yes"), (second, "no")]


@pytest.mark.parametrize(("softer_db", "retracted"), [(5.0, True), (12.0, False)])
def test_what_runs_on_much_softer_retracts_nothing(
    small_grammars: Path, softer_db: float, retracted: bool
) -> None:
    """A person speaks on as loud as before; a cup put down in the sink is no person."""
    hearing = _hearing(small_grammars, ["yes", "stop"])
    hearing.open(LISTENING, at=0)
    sound = _sound([(1.0, 0.4), (2.15, 0.5)], 5.0)
    sound[2 * RATE :] = (sound[2 * RATE :] * 10.0 ** (-softer_db / 20.0)).astype(np.int16)
    reports = _run(hearing, sound)
    assert any(isinstance(r, SpokeOn) for r in reports) is retracted


def test_timed_words_are_refined_and_never_retracted(small_grammars: Path) -> None:
    """In a timed listening onsets are moved by what was injected, and speech may run on."""

    def refine(
        sound: NDArray[np.int16], start: int, words: Sequence[WordTime]
    ) -> tuple[WordTime, ...]:
        assert len(sound) + start > words[-1].start
        return tuple(
            WordTime(word=w.word, start=w.start + 5, end=w.end + 5, doubtful=True) for w in words
        )

    plain = _hearing(small_grammars, ["yes", "no"])
    timed = Hearing(
        ScriptedRecogniser(["yes", "no"]),
        ScriptedEar([("yes", 0.99), ("no", 0.99)]),
        refine=refine,
        composer=lambda listening: compose(listening, small_grammars),
    )
    times = []
    for hearing in (plain, timed):
        hearing.open(Listening(grammars=("yesno",), timed=hearing is timed), at=0)
        reports = _run(hearing, _sound([(1.0, 0.4), (2.1, 0.3)], 4.5))
        assert any(isinstance(r, SpokeOn) for r in reports) is (hearing is plain)
        times.append(next(r for r in reports if isinstance(r, Judged)).verdict.words[0])
    assert times[1].start == times[0].start + 5
    assert times[1].doubtful


def test_a_word_said_to_dogs_waits_longer(small_grammars: Path) -> None:
    """A pause of half a second after "no" is inside the utterance, after "yes" it is not."""
    for word, utterances in (("no", 1), ("yes", 2)):
        hearing = _hearing(small_grammars, [word, word])
        hearing.open(Listening(grammars=("yesno",)), at=0)
        reports = _run(hearing, _sound([(1.0, 0.3), (1.78, 0.3)], 4.0))
        assert len(_verdicts(reports)) == utterances


def test_timed_words_wait_for_nothing(small_grammars: Path) -> None:
    """Where words are timed even a word said to dogs ends after a fifth of a second."""
    hearing = _hearing(small_grammars, ["no", "no"])
    hearing.open(Listening(grammars=("yesno",), timed=True), at=0)
    reports = _run(hearing, _sound([(1.0, 0.3), (1.78, 0.3)], 4.0))
    assert len(_verdicts(reports)) == 2


def test_talk_without_end_is_ignored(small_grammars: Path) -> None:
    """What goes on for more than six seconds is no answer."""
    hearing = _hearing(small_grammars, ["yes"])
    hearing.open(LISTENING, at=0)
    reports = _run(hearing, _sound([(0.5 + k * 0.6, 0.5) for k in range(20)], 14.0))
    verdicts = [r.verdict for r in reports if isinstance(r, Judged)]
    assert verdicts[0].outcome is Outcome.IGNORE
    assert verdicts[0].reason == "too_long"
    assert not any(v.outcome is Outcome.ACCEPT for v in verdicts)


def test_a_gap_in_the_stream_ends_what_was_said(small_grammars: Path) -> None:
    """Lost sound may have held a word: nothing is judged across the gap."""
    hearing = _hearing(small_grammars, ["yes", "no"])
    hearing.open(LISTENING, at=0)
    sound = _sound([(1.0, 0.8)], 1.4)
    _run(hearing, sound)
    reports = _run(hearing, _sound([(1.0, 0.4)], 2.5), start=len(sound) + 800)
    reasons = [r.verdict.reason for r in reports if isinstance(r, Judged)]
    assert reasons[0] == "lost"
    assert len(reasons) == 2


def test_a_dead_microphone_is_told_once(small_grammars: Path) -> None:
    """Exact zeros for a second are no quiet room; nothing is ever heard in them."""
    hearing = _hearing(small_grammars, ["yes"])
    hearing.open(LISTENING, at=0)
    reports = _run(hearing, np.zeros(5 * RATE, np.int16))
    assert reports == [DeadMicrophone()]


def test_five_minutes_of_square_wave_are_never_an_answer(small_grammars: Path) -> None:
    """The loudest possible sound is told as too loud, and neither accepted nor a crash."""
    hearing = _hearing(small_grammars, ["yes"] * 200)
    hearing.open(LISTENING, at=0)
    t = np.arange(300 * RATE)
    square = np.where((t // 40) % 2, 32767, -32768).astype(np.int16)
    reports = _run(hearing, square, cut=3200)
    assert TooLoudNow(loud=True) in reports
    assert not any(outcome is Outcome.ACCEPT for outcome, _ in _verdicts(reports))


def test_clipped_speech_is_asked_back(small_grammars: Path) -> None:
    """A microphone that clips throughout cannot be believed."""
    hearing = _hearing(small_grammars, ["yes"])
    hearing.open(LISTENING, at=0)
    loud = (_sound([(1.0, 0.4)], 2.5).astype(np.int32) * 40).clip(-32768, 32767).astype(np.int16)
    assert Outcome.ACCEPT not in [outcome for outcome, _ in _verdicts(_run(hearing, loud))]


def test_opening_anew_drops_what_is_being_said(small_grammars: Path) -> None:
    """An answer begun under one question never answers the next."""
    hearing = _hearing(small_grammars, ["yes", "yes"])
    hearing.open(LISTENING, at=0)
    sound = _sound([(1.0, 0.8)], 3.0)
    first = _run(hearing, sound[: int(1.4 * RATE)])
    hearing.open(LISTENING, at=int(1.4 * RATE))
    rest = _run(hearing, sound[int(1.4 * RATE) :], start=int(1.4 * RATE))
    assert _verdicts(first) == []
    assert (Outcome.ACCEPT, "yes") not in _verdicts(rest)
