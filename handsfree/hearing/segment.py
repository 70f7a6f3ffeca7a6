"""Where speech-like sound begins and ends, and how loud the room is. Samples in, frames out.

Each 10 ms is judged once, against a noise floor that follows the room in eight bands. What the
sound says, and how long to wait after a word, is decided elsewhere. Results depend on the samples
alone, never on how they were cut into blocks.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples

__all__ = ["FRAME_SAMPLES", "Dither", "Frame", "Loudness", "Segmenter", "level_dbfs"]

FRAME_SAMPLES = SAMPLE_RATE // 100
"""10 ms."""

_WINDOW = 2 * FRAME_SAMPLES
_EDGES_HZ = (120, 300, 550, 900, 1400, 2000, 2900, 4200, 7000)

ONSET_DB = 3.2
"""Mean rise above the floor, over the bands, that begins speech; white noise reaches 1.6."""
STAY_DB = 1.8
"""The rise above which speech goes on ..."""
STAY_SHARE = 0.18
"""... or this share of the utterance's highest rise, so that a room's echo is not speech."""
ONSET_FRAMES = 4
"""Frames above ONSET_DB, of the last six, that begin speech: clicks are shorter."""
LOOK_BACK = 25
"""Frames looked back from there for the soft beginning."""

OURS_DOWN_DB = 12.0
"""An echo canceller leaves no more of our own voice than this far below what it took off."""

_FLOOR_FRAMES = 350
_FLOOR_SHARE = 0.2
"""The floor of a band is the level that this share of the last 3.5 s lies below ..."""
_FLOOR_LIFT_DB = 2.5  # ... lifted to about the middle of a steady noise, measured on white noise
_FLOOR_EVERY = 5
_RISE_SPEAKING_DB = 0.04  # the most that speech may lift the floor in so many frames
_LEARN_FRAMES = 12  # no onset while less of the room is known
_LOWEST_DB = -78.0  # per band: below this it is silent


def level_dbfs(samples: Samples) -> float:
    """Return the rms level of ``samples`` against full scale, in dB; -120 for silence."""
    if not len(samples):
        return -120.0
    power = float(np.mean(np.square(samples.astype(np.float64) / 32768.0)))
    return 10.0 * float(np.log10(max(power, 1e-12)))


class Dither:
    """Fills digital silence with soft noise, for recognisers do worse on exact zeros.

    The noise belongs to the position on the stream's clock, so any cutting gives the same.

    Args:
        rms: Its level in steps of 16 bits.
    """

    def __init__(self, rms: float = 30.0) -> None:
        noise = np.random.default_rng(7).normal(0.0, rms, 8 * SAMPLE_RATE + 77)
        self._noise = np.rint(noise).astype(np.int16)

    def fill(self, samples: Samples, start: int) -> Samples:
        """Return ``samples`` with every exact zero replaced by noise."""
        silent = samples == 0
        if not silent.any():
            return samples
        noise = self._noise[np.arange(start, start + len(samples)) % len(self._noise)]
        return np.where(silent, noise, samples)


@dataclass(frozen=True, kw_only=True, slots=True)
class Frame:
    """10 ms of sound, judged.

    Attributes:
        start: Its first sample.
        rise_db: Mean rise above the noise floor over the bands.
        level_db: Level against full scale, 120 to 7000 Hz.
        began: Speech began at this sample, found with this frame; None otherwise.
        speech: Speech goes on in this frame.
        clipped: Share of samples at full scale.
    """

    start: int
    rise_db: float
    level_db: float
    began: int | None
    speech: bool
    clipped: float


class Segmenter:
    """Judges frame by frame. One a stream."""

    def __init__(self) -> None:
        bins = np.fft.rfftfreq(_WINDOW, 1.0 / SAMPLE_RATE)
        edges = np.searchsorted(bins, _EDGES_HZ)
        self._starts, self._last = edges[:-1], int(edges[-1])
        self._widths = np.diff(edges)
        self._hann = np.hanning(_WINDOW + 1)[:_WINDOW]
        self._scale = 4.0 / (_WINDOW * float(np.sum(self._hann**2)) * 32768.0**2)
        self.reset(0)

    def reset(self, start: int) -> None:
        """Forget all: the stream goes on at ``start`` after a gap."""
        self._pending = np.zeros(0, np.int16)
        self._pending_ours = np.zeros(0, np.int16)
        self._before = self._before_ours = np.zeros(FRAME_SAMPLES, np.int16)
        self._at = start
        self._floor: NDArray[np.float64] | None = None
        self._last_energy: NDArray[np.float64] | None = None
        self._history = np.zeros((_FLOOR_FRAMES, len(self._widths)))
        self._frames = 0
        self._rises: deque[float] = deque(maxlen=LOOK_BACK)
        self._speaking = False
        self._peak = 0.0

    @property
    def position(self) -> int:
        """The next sample that is expected."""
        return self._at + len(self._pending)

    @property
    def floor_db(self) -> float:
        """Level of the room's steady noise against full scale."""
        if self._floor is None:
            return -120.0
        return float(10.0 * np.log10(np.sum(10.0 ** (self._floor / 10.0))))

    def feed(self, samples: Samples, ours: Samples | None = None) -> Iterator[Frame]:
        """Take in the samples that follow and yield each frame that is complete.

        Args:
            samples: Sound, cleaned of our own voice where that can be done.
            ours: What was taken off it: sound far below that is what was left of it.
        """
        self._pending = np.concatenate([self._pending, samples])
        taken = np.zeros(len(samples), np.int16) if ours is None else ours
        self._pending_ours = np.concatenate([self._pending_ours, taken])
        while len(self._pending) >= FRAME_SAMPLES:
            hop, self._pending = self._pending[:FRAME_SAMPLES], self._pending[FRAME_SAMPLES:]
            own = self._pending_ours[:FRAME_SAMPLES]
            self._pending_ours = self._pending_ours[FRAME_SAMPLES:]
            yield self._judge(hop, own)

    def skip_to(self, position: int) -> None:
        """Pass over samples that are not to be believed; the room's floor stays."""
        self._pending = np.zeros(0, np.int16)
        self._pending_ours = np.zeros(0, np.int16)
        self._before = self._before_ours = np.zeros(FRAME_SAMPLES, np.int16)
        self._last_energy = None
        self._at = position
        self.end_speech()

    def end_speech(self) -> None:
        """The utterance is over: the next rise begins another."""
        self._speaking = False
        self._rises.clear()

    def take_as_noise(self) -> None:
        """What has been going on is no speech: take the last half second as the room's floor."""
        known = min(self._frames, 50)
        recent = self._history[np.arange(self._frames - known, self._frames) % _FLOOR_FRAMES]
        self._history[:] = np.median(recent, axis=0)
        self._frames = max(self._frames, _FLOOR_FRAMES)
        self._floor = self._history[0].copy()
        self.end_speech()

    def _energy(self, before: Samples, hop: Samples) -> NDArray[np.float64]:
        """Return the energy of each band in the window of two hops."""
        window = np.concatenate([before, hop]).astype(np.float64)
        spectrum = np.fft.rfft((window - window.mean()) * self._hann)
        power = np.square(spectrum.real) + np.square(spectrum.imag)
        energy: NDArray[np.float64] = np.add.reduceat(power[: self._last], self._starts)
        return energy * self._scale

    def _judge(self, hop: Samples, own: Samples) -> Frame:
        start, self._at = self._at, self._at + FRAME_SAMPLES
        energy = self._energy(self._before, hop)
        # Two frames, not a decaying mean: a loud click must not ring on.
        both = energy if self._last_energy is None else 0.5 * (self._last_energy + energy)
        self._before, self._last_energy = hop, energy
        bands = np.maximum(10.0 * np.log10(both + 1e-12), _LOWEST_DB)
        self._learn(bands)
        assert self._floor is not None
        floor = self._floor
        if own.any() or self._before_ours.any():
            taken = 10.0 * np.log10(self._energy(self._before_ours, own) + 1e-12)
            floor = np.maximum(floor, taken - OURS_DOWN_DB)
        self._before_ours = own
        rise = float(np.clip(bands - floor, 0.0, 30.0).mean())
        return Frame(
            start=start,
            rise_db=rise,
            level_db=float(10.0 * np.log10(energy.sum() + 1e-12)),
            began=self._onset(start, rise) if self._frames > _LEARN_FRAMES else None,
            speech=self._speaking and rise > self._stay(rise),
            clipped=float(np.mean(np.abs(hop.astype(np.int32)) >= 32700)),
        )

    def _learn(self, bands: NDArray[np.float64]) -> None:
        """Follow the room's floor."""
        self._history[self._frames % _FLOOR_FRAMES] = bands
        self._frames += 1
        if self._floor is None or self._frames % _FLOOR_EVERY == 0:
            known = self._history[: min(self._frames, _FLOOR_FRAMES)]
            rank = int(_FLOOR_SHARE * (len(known) - 1))
            floor = np.partition(known, rank, axis=0)[rank] + _FLOOR_LIFT_DB
            if self._floor is not None and self._speaking:
                floor = np.minimum(floor, self._floor + _RISE_SPEAKING_DB)
            self._floor = floor

    def _stay(self, rise: float) -> float:
        self._peak = max(rise, self._peak)
        return max(STAY_DB, STAY_SHARE * self._peak)

    def _onset(self, start: int, rise: float) -> int | None:
        self._rises.append(rise)
        if self._speaking:
            return None
        recent = list(self._rises)
        if sum(value > ONSET_DB for value in recent[-6:]) < ONSET_FRAMES:
            return None
        self._speaking = True
        self._peak = max(recent)
        back = 0  # frames before this one that belong to the rise
        quiet = 0
        for number, value in enumerate(reversed(recent)):
            if value > STAY_DB:
                back, quiet = number, 0
            else:
                quiet += 1
                if quiet > 3 and number > 6:
                    break
        return start - back * FRAME_SAMPLES


class Loudness:
    """Whether the room is too loud to hear in: the level of its quieter moments.

    A person talking leaves pauses; a kennel row or a hair dryer does not. Judged against the
    level of the voice, with hysteresis so that it is told once.

    Args:
        voice_db: Level of the person's voice at the microphone, in dB against full scale.
    """

    MARGIN_DB = 3.0
    """The room is too loud when it comes this near below the voice ..."""
    BACK_DB = 9.0
    """... and quiet again when it lies this far below."""
    WINDOW_FRAMES = 500
    SHARE = 0.3
    """The level that this share of the last five seconds lies below."""

    def __init__(self, voice_db: float = -26.0) -> None:
        self.voice_db = voice_db
        self._levels: deque[float] = deque(maxlen=self.WINDOW_FRAMES)
        self.too_loud = False
        self._count = 0

    def reset(self) -> None:
        """Forget the levels, not the state."""
        self._levels.clear()

    @property
    def room_db(self) -> float:
        """The room's level in dB against full scale; -120 before anything was heard."""
        return float(np.quantile(self._levels, self.SHARE)) if self._levels else -120.0

    def add(self, frame: Frame) -> bool | None:
        """Take in a frame; return the new state when it changes, else None."""
        self._levels.append(frame.level_db)
        self._count += 1
        if self._count % 25 or len(self._levels) < self.WINDOW_FRAMES // 2:
            return None
        room = self.room_db
        if not self.too_loud and room > self.voice_db - self.MARGIN_DB:
            self.too_loud = True
            return True
        if self.too_loud and room < self.voice_db - self.BACK_DB:
            self.too_loud = False
            return False
        return None
