"""Plays recordings into the true hearing chain, in a room, and tells what came out.

The same ``Hearing`` as in a check gets the same blocks; only the room around it is computed.
"""

from __future__ import annotations

import functools
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks._levels import a_weighted, active_rms, rms
from handsfree.audio.device import BLOCK_SAMPLES, SAMPLE_RATE, Block, Samples
from handsfree.dialogue import vocabulary
from handsfree.errors import DataError
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import Judged, SpokeOn
from handsfree.hearing.verdict import Listening, Outcome, Verdict
from handsfree.protocol.model import Protocol

__all__ = ["ASIDE_QUESTIONS", "Played", "Room", "barking", "covering", "listenings", "play"]

BEFORE_S = 1.0
AFTER_S = 1.3
"""Room before and after each recording; an aside is followed by silence as well."""
BARKING_S = 60
RING_SAMPLES = SAMPLE_RATE // 4
FAR_RMS = 1600.0
"""Level of speech from a distance, in steps of 16 bits: about 6 dB below a recording's own."""

ASIDE_QUESTIONS = (
    "watch.attitude", "watch.breathing", "noticed.change", "breaths.rate", "outline.ribs",
    "weight.kg", "coat.look", "lumps.new", "eyes.look", "ears.look", "mouth.gum_colour",
    "mouth.teeth", "belly.posture", "confirm",
)  # fmt: skip
"""What is open while asides and noises are played: every kind of answer, the commonest words."""


def listenings(protocol: Protocol) -> dict[str, Listening]:
    """Return what a check listens for: at each item, and at the stages that have no item."""
    known = {
        f"{region.id}.{question.id}": Listening(
            grammars=(question.grammar,), commands=vocabulary.QUESTION
        )
        for region in protocol.regions.values()
        for question in region.question
    }
    known["confirm"] = Listening(grammars=("confirm",), commands=vocabulary.CONFIRM)
    known["press"] = Listening(grammars=("press",), commands=vocabulary.TIMED, timed=True)
    known["release"] = Listening(grammars=("release_pink",), commands=vocabulary.TIMED, timed=True)
    known["menu"] = Listening(commands=vocabulary.MENU)
    known["paused"] = Listening(commands=vocabulary.PAUSED)
    known["goto"] = Listening(grammars=("region",), commands=vocabulary.GOTO)
    known["alarm"] = Listening(commands=vocabulary.ALARM)
    known["telling"] = Listening(commands=vocabulary.TELLING)
    return known


def covering(
    text: str, question: str | None, known: Mapping[str, Listening], rng: np.random.Generator
) -> list[str]:
    """Return up to five places where ``text`` can be said; just ``question`` when one is named."""
    if question is not None and question not in known:
        msg = f"the manifest names the question {question!r}, which the protocol does not have."
        raise DataError(msg)
    places = [question] if question is not None else list(known)
    fit = [name for name in places if compose(known[name]).meaning(text) is not None]
    # An answer is tried as an answer first: every question would take a command.
    own = [name for name in fit if compose(_bare(known[name])).meaning(text) is not None]
    fit = own or fit
    return [fit[i] for i in sorted(rng.permutation(len(fit))[:5])]


def _bare(listening: Listening) -> Listening:
    return Listening(grammars=listening.grammars)


@dataclass(frozen=True, kw_only=True)
class Room:
    """What is heard around a recording.

    Attributes:
        hiss: Steady noise in steps of 16 bits, rms.
        noise: A recording of noise, or None.
        snr_db: Level of the speech above ``noise``.
        as_heard: Whether levels are A-weighted: ears hardly hear the lows of a voice.
        distance_m: From mouth to microphone, in a room that rings, perhaps turned away; None leaves
            the recording as it is.
    """

    hiss: float = 30.0
    noise: Samples | None = None
    snr_db: float = 10.0
    as_heard: bool = False
    distance_m: float | None = None

    def around(self, sound: Samples, rng: np.random.Generator) -> tuple[Samples, int]:
        """Return the sound in the room, and the position at which it begins there."""
        if self.distance_m is not None:
            sound = _far_away(sound, self.distance_m, rng)
        before = int(BEFORE_S * SAMPLE_RATE)
        total = before + len(sound) + int(AFTER_S * SAMPLE_RATE)
        mixed = rng.normal(0.0, self.hiss, total)
        if self.noise is not None:
            # Only what is played is widened: the noise itself may be minutes long.
            at = (int(rng.integers(0, len(self.noise))) + np.arange(total)) % len(self.noise)
            gain = active_rms(self._weighed(sound)) / self._noise_level
            mixed += self.noise[at] * gain * 10.0 ** (-self.snr_db / 20.0)
        mixed[before : before + len(sound)] += sound
        return np.clip(np.rint(mixed), -32768, 32767).astype(np.int16), before

    @functools.cached_property
    def _noise_level(self) -> float:
        assert self.noise is not None
        return rms(self._weighed(self.noise)) + 1e-9

    def _weighed(self, sound: Samples) -> Samples | NDArray[np.float64]:
        return a_weighted(sound) if self.as_heard else sound


def barking(seed: int) -> Samples:
    """Return a minute of synthetic barking, for a room's noise."""
    from handsfree.hearing.training import sounds  # heavy, as below

    bed = sounds.barking(np.random.default_rng(seed), BARKING_S * SAMPLE_RATE)
    return (bed * 8000).astype(np.int16)


def _far_away(sound: Samples, distance_m: float, rng: np.random.Generator) -> Samples:
    """Return the sound as it comes over a distance, with what the room adds after it."""
    from scipy.signal import fftconvolve  # heavy: it would count as the program's memory

    from handsfree.hearing.training import sounds

    dry = np.concatenate([sound.astype(np.float64), np.zeros(RING_SAMPLES)])
    heard = fftconvolve(dry, sounds.room(rng, None, distance_m))[: len(dry)]
    heard *= FAR_RMS / (active_rms(heard) + 1e-9)
    far: Samples = np.clip(np.rint(heard), -32768, 32767).astype(np.int16)
    return far


def _last_sample(sound: Samples) -> int:
    """Return one past the last sample within 35 dB of the peak."""
    loud = np.abs(sound.astype(np.int32))
    if not loud.any():
        return len(sound)
    return int(np.flatnonzero(loud >= loud.max() * 10.0 ** (-35 / 20))[-1]) + 1


@dataclass(frozen=True, kw_only=True)
class Played:
    """What came of one recording at one question.

    Attributes:
        verdicts: All, in order.
        retracted: Starts of accepted utterances that were retracted.
        gap_s: From the last sample of speech to the first verdict that is not ignore.
        cpu_s: Seconds of computing.
        sound_s: Seconds of sound.
    """

    verdicts: tuple[Verdict, ...]
    retracted: frozenset[int]
    gap_s: float | None
    cpu_s: float
    sound_s: float

    def told(self) -> Iterator[Verdict]:
        """Yield the verdicts that stand and are not ignore."""
        for verdict in self.verdicts:
            if verdict.outcome is not Outcome.IGNORE and verdict.start not in self.retracted:
                yield verdict

    @property
    def accepted(self) -> Verdict | None:
        """The first acceptance that stands."""
        return next((v for v in self.told() if v.outcome is Outcome.ACCEPT), None)


def play(
    hearing: Hearing, listening: Listening, sound: Samples, room: Room, rng: np.random.Generator
) -> Played:
    """Play one recording into ``hearing`` while it listens; the stream goes on from the last."""
    mixed, begin = room.around(sound, rng)
    # A gap in the stream parts the recordings: nothing of one is left for the next.
    start = hearing.position + 10 * SAMPLE_RATE
    last = start + begin + _last_sample(sound)
    silent = np.zeros(BLOCK_SAMPLES, np.int16)
    verdicts: list[Verdict] = []
    retracted: set[int] = set()
    gap: float | None = None
    hearing.open(listening, at=start)
    began = time.process_time()
    for at in range(0, len(mixed) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
        before = time.perf_counter()
        piece = mixed[at : at + BLOCK_SAMPLES]
        for report in hearing.feed(Block(start=start + at, samples=piece, reference=silent)):
            if isinstance(report, SpokeOn):
                retracted.add(report.start)
            elif isinstance(report, Judged):
                verdicts.append(report.verdict)
                if gap is None and report.verdict.outcome is not Outcome.IGNORE:
                    heard = start + at + BLOCK_SAMPLES - last
                    gap = heard / SAMPLE_RATE + time.perf_counter() - before
    cpu = time.process_time() - began
    hearing.close()
    return Played(
        verdicts=tuple(verdicts),
        retracted=frozenset(retracted),
        gap_s=gap,
        cpu_s=cpu,
        sound_s=len(mixed) / SAMPLE_RATE,
    )
