"""Harm done to many sounds at once, in PyTorch: what a microphone in a room does to clean speech.

The same kinds of harm as ``rough.py`` does to one clip, but afresh for every batch: tone, rooms,
noise of every colour that may swell in bands as running water does, talk, other sounds, level,
band limits, hiss, clipping, coarse steps. Sounds are float32 in units of int16, shape (batch,
samples).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.training import sounds
from handsfree.hearing.training.clips import RATE_HZ
from handsfree.hearing.training.recorded_barks import Dogs

__all__ = ["NOISY", "USUAL", "Bank", "Harm", "Mixed", "Noisiness", "fill_bank"]

BED_SAMPLES = 8 * RATE_HZ
ROOM_SAMPLES = 12000
_FULL = 32768.0
_LOUD = 30000.0
_FAR = 0.5
"""Share of rooms with the mouth one and a half to three metres away."""
_WHISPERED = 0.05
_BREATH = 512
_HARMONICS = 11
"""Bins of 31 Hz over which the harmonics of any voice run together."""
_BARKING_BEDS, _BARKING_OTHERS, _SINGLE = 0.25, 1 / 3, 0.65
"""Shares of recorded dogs among beds and other sounds, and of single barks among the latter."""
_MADE, _BOTH, _TALK = 3 / 7, 11 / 14, 0.9
"""Of what has noise: a bed of the bank below the first, above it noise made for the batch, from the
second on both, from the last on talk."""
_BARKED = (0.2, 0.5, 0.5)
"""Share of clips beside which a recorded dog barks; of these, barks again; of those, once more."""
_BARKED_ALONE = 0.5
"""The same share where nobody speaks."""
_NEAR = int(0.3 * RATE_HZ)
"""A bark before or after speech is at most so far from it."""


@dataclass(frozen=True, kw_only=True)
class Bank:
    """Sounds to do harm with, all computed but recorded dogs where they were given.

    Attributes:
        noises: Beds of noise of 8 s, one after the other, shape (total,).
        others: Short sounds that are no speech, one after the other, shape (total,).
        lengths: Samples of each of them, shape (n,).
        rooms: Impulse responses, direct sound of size 1, shape (n, 12000).
        barks: How many of the other sounds, the last ones, are recorded dogs.
    """

    noises: NDArray[np.int16]
    others: NDArray[np.int16]
    lengths: NDArray[np.int64]
    rooms: NDArray[np.float16]
    barks: int = 0


def fill_bank(
    noises: int, others: int, rooms: int, seed: int, *, barks: Dogs | None = None
) -> Bank:
    """Return a bank of so many sounds of each kind.

    Args:
        noises: Beds of 8 s.
        others: Short sounds.
        rooms: Impulse responses.
        seed: Of all that is drawn by lot.
        barks: Recorded dogs, who then bark in a quarter of the beds and a third of the others.
    """
    rng = np.random.default_rng(seed)
    barking_beds = round(noises * _BARKING_BEDS) if barks is not None else 0
    barking_others = round(others * _BARKING_OTHERS) if barks is not None else 0

    def loud(sound: NDArray[np.float64]) -> NDArray[np.int16]:
        return (sound / max(1e-9, float(np.abs(sound).max())) * _LOUD).astype(np.int16)

    def short_barks(dogs: Dogs) -> NDArray[np.float64]:
        if rng.random() < _SINGLE:
            return dogs.bark(rng)
        return dogs.barking(rng, int(RATE_HZ * rng.uniform(0.4, 1.6)))

    beds = [loud(sounds.noise_bed(rng, BED_SAMPLES)) for _ in range(noises - barking_beds)]
    short = [loud(sounds.other_sound(rng)) for _ in range(others - barking_others)]
    if barks is not None:
        beds += [loud(barks.barking(rng, BED_SAMPLES)) for _ in range(barking_beds)]
        short += [loud(short_barks(barks)) for _ in range(barking_others)]
    responses = np.zeros((rooms, ROOM_SAMPLES), np.float16)
    for place in responses:
        far = float(rng.uniform(1.4, 2.8)) if rng.random() < _FAR else None
        found = sounds.room(rng, distance_m=far)[:ROOM_SAMPLES]
        place[: found.size] = found
    return Bank(
        noises=np.concatenate(beds),
        others=np.concatenate(short),
        lengths=np.array([one.size for one in short], np.int64),
        rooms=responses,
        barks=barking_others,
    )


@dataclass(frozen=True, kw_only=True)
class Mixed:
    """Noise of one kind at one strength, to judge by.

    Attributes:
        kind: ``coloured`` (made for the batch) or ``bank``.
        snr_db: Speech above noise.
    """

    kind: str
    snr_db: float


@dataclass(frozen=True, kw_only=True)
class Noisiness:
    """How much noise there is in a training.

    Attributes:
        quiet: Share of clips without any.
        snr_db: Bounds of the speech above it, in most.
        loud_db: The same in one of `loud`.
        loud: Share of these.
    """

    quiet: float = 0.3
    snr_db: tuple[float, float] = (-2.0, 22.0)
    loud_db: tuple[float, float] = (-6.0, 5.0)
    loud: float = 0.15


USUAL = Noisiness()
NOISY = Noisiness(quiet=0.08, snr_db=(-4.0, 16.0), loud=0.2)
"""For a network that listens only where there is noise."""


class Harm:
    """Does harm on a device.

    Args:
        torch: The module.
        bank: Sounds to do it with.
        speech: Clean clips one after the other, of which talk is made; int16 on the device.
        device: As PyTorch names it.
        seed: Of all that is drawn by lot.
        noisiness: How much noise there is.
    """

    def __init__(
        self,
        torch: Any,
        bank: Bank,
        speech: Any,
        device: str,
        seed: int,
        noisiness: Noisiness = USUAL,
    ) -> None:
        self._noisiness = noisiness
        self._torch, self._device, self._speech = torch, device, speech
        self._noises = torch.from_numpy(bank.noises).to(device)
        self._others = torch.from_numpy(bank.others).to(device)
        self._lengths = torch.from_numpy(bank.lengths).to(device)
        self._starts = torch.cumsum(self._lengths, 0) - self._lengths
        self._rooms = torch.from_numpy(bank.rooms).to(device)
        self.barks = bank.barks
        self._lots = torch.Generator(device=device)
        self._lots.manual_seed(seed)

    def lot(self, *shape: int, low: float = 0.0, high: float = 1.0) -> Any:
        """Return numbers drawn evenly between two bounds."""
        drawn = self._torch.rand(*shape, device=self._device, generator=self._lots)
        return low + (high - low) * drawn

    def normal(self, *shape: int) -> Any:
        """Return numbers of mean 0 and deviation 1."""
        return self._torch.randn(*shape, device=self._device, generator=self._lots)

    def below(self, end: int, count: int) -> Any:
        """Return so many whole numbers from 0 to below `end`."""
        return self._torch.randint(end, (count,), device=self._device, generator=self._lots)

    def _frequencies(self, count: int, least: float) -> Any:
        step = RATE_HZ / count
        return (self._torch.arange(count // 2 + 1, device=self._device) * step).clamp(min=least)

    def room_and_tone(self, x: Any) -> Any:
        """Two in three with another tone, about two in three in a room."""
        torch, (many, length) = self._torch, x.shape
        size = _round_up(length + ROOM_SAMPLES, 8192)
        octaves = torch.log2(self._frequencies(size, 60.0) / 1000)
        slope = self.lot(many, 1, low=-3, high=3) * octaves
        wave = octaves * self.lot(many, 1, low=0.7, high=2.5) + self.lot(many, 1, high=6.3)
        tone = slope + self.lot(many, 1, low=-4, high=4) * torch.sin(wave)
        tone = tone * (self.lot(many, 1) < 0.65)
        spectrum = torch.fft.rfft(x, size)
        inside = (self.lot(many) < 0.65).nonzero()[:, 0]
        if len(inside):  # there is no transform of no sounds
            chosen = self._rooms[self.below(len(self._rooms), len(inside))].float()
            spectrum[inside] = spectrum[inside] * torch.fft.rfft(chosen, size)
        return torch.fft.irfft(spectrum * 10 ** (tone / 20), size)[:, :length]

    def whispered(self, x: Any) -> Any:
        """Take the voice out of some, which leaves breath of the same colours, and less below."""
        torch, (_, length) = self._torch, x.shape
        rows = (self.lot(len(x)) < _WHISPERED).nonzero()[:, 0]
        if not len(rows):
            return x
        window = torch.hann_window(_BREATH, device=self._device)
        spans = torch.stft(x[rows], _BREATH, window=window, return_complex=True)
        power = (spans.real**2 + spans.imag**2).transpose(1, 2)
        wide = torch.nn.functional.avg_pool1d(power, _HARMONICS, 1, _HARMONICS // 2)
        bins = torch.arange(power.shape[2], device=self._device) * (RATE_HZ / _BREATH)
        low = self.lot(len(rows), 1, 1, low=300, high=1200)
        size = (wide / (1 + (low / bins.clamp(min=20.0)) ** 2) / 2).sqrt().transpose(1, 2)
        breath = torch.complex(self.normal(*size.shape) * size, self.normal(*size.shape) * size)
        x = x.clone()
        x[rows] = torch.istft(breath, _BREATH, window=window, length=length)
        return x

    def _swell(self, many: int, length: int, rate_hz: float, depth: Any) -> Any:
        points = max(4, int(length / RATE_HZ * rate_hz) + 2)
        curve = self._torch.nn.functional.interpolate(
            self.normal(many, 1, points), size=length, mode="linear", align_corners=True
        )
        return self._torch.exp(curve[:, 0] * depth[:, None])

    def coloured(self, many: int, length: int) -> Any:
        """Return noise of random colours; in most, five bands swell each on its own."""
        torch, knots, bands = self._torch, 9, 5
        frequency = self._frequencies(length, 60.0)
        at = (torch.log2(frequency / 60) / math.log2(8000 / 60) * (knots - 1)).clamp(
            0, knots - 1.001
        )
        low = at.long()
        part = at - low
        part = part * part * (3 - 2 * part)
        gains = self.normal(many, knots) * 8.0
        colour_db = gains[:, low] * (1 - part) + gains[:, low + 1] * part
        tilt = self.lot(many, 1, low=-5, high=2)
        colour_db = colour_db + tilt * torch.log2(frequency / 1000)
        spectrum = torch.fft.rfft(self.normal(many, length)) * 10 ** (colour_db / 20)
        place = torch.log2(frequency.clamp(min=80) / 80) / math.log2(8000 / 80) * bands
        place = place.clamp(0.5, bands - 0.5)  # the outer bands reach to the ends
        fast = self.lot(many, high=0.9) * (self.lot(many) < 0.6)
        slow = self.lot(many, high=0.6)
        rate_hz = (20, 40, 80, 160)[int(self.below(4, 1))]
        out = torch.zeros(many, length, device=self._device)
        for band in range(bands):
            share = (1 - (place - band - 0.5).abs()).clamp(0, 1)
            one = torch.fft.irfft(spectrum * share, length)
            out = out + one * self._swell(many, length, rate_hz, fast)
        return out * self._swell(many, length, 3, slow)

    def _stretches(self, source: Any, many: int, length: int) -> Any:
        """Stretches of a long sound from places by lot; a short one is gone through again."""
        at = self.below(len(source), many)
        index = at[:, None] + self._torch.arange(length, device=self._device)
        return source[index % len(source)].float()

    def noise(self, x: Any, level: Any, mixed: Mixed | None = None) -> Any:
        """Add noise under speech of the level given, shape (batch,)."""
        (torch, of), (many, length) = (self._torch, self._noisiness), x.shape
        usual = self.lot(many) < 1 - of.loud
        (low, high), (loud_low, loud_high) = of.snr_db, of.loud_db
        loud = self.lot(many, low=loud_low, high=loud_high)
        snr_db = torch.where(usual, self.lot(many, low=low, high=high), loud)
        kind = (self.lot(many) - of.quiet) / (1 - of.quiet)
        if mixed is not None:
            kind = torch.full_like(kind, 0.0 if mixed.kind == "bank" else _MADE)
            snr_db = torch.full_like(snr_db, mixed.snr_db)
        bed = torch.zeros_like(x)
        talk = kind >= _TALK
        kept = ((kind >= 0) & (kind < _MADE)) | ((kind >= _BOTH) & ~talk)
        made = (kind >= _MADE) & ~talk
        for which, source in ((kept, self._noises), (talk, self._speech)):
            rows = which.nonzero()[:, 0]
            bed[rows] += _unit(self._stretches(source, len(rows), length))
        for rows in made.nonzero()[:, 0].split(64):  # the bands take much memory
            if len(rows):
                bed[rows] += _unit(self.coloured(len(rows), length))
        snr_db = snr_db + 8 * talk
        strength = level * 10 ** (-snr_db / 20) * (kind >= 0)
        return x + _unit(bed) * strength[:, None]

    def others(self, x: Any, level: Any, reach: Any, mute: Any) -> Any:
        """Lay a bark, a clatter or the like over some, and over most in which nobody speaks."""
        many = len(x)
        rows = ((self.lot(many) < 0.15) | (mute & (self.lot(many) < 0.8))).nonzero()[:, 0]
        count = len(rows)
        which = self.below(len(self._lengths), count)
        at = self.lot(count) * reach[rows] * 1.15 - 0.15 * self._lengths[which]
        return self._laid(x, level, rows, which, at)

    def _laid(self, x: Any, level: Any, rows: Any, which: Any, at: Any) -> Any:
        """Lay one of the other sounds over each row chosen, from sample `at` on."""
        place = self._torch.arange(x.shape[1], device=self._device)[None] - at.long()[:, None]
        inside = (place >= 0) & (place < self._lengths[which][:, None])
        index = (self._starts[which][:, None] + place).clamp(0, len(self._others) - 1)
        gain = 2 * level[rows] * 10 ** (self.lot(len(rows), low=-10, high=14) / 20)
        x = x.clone()
        x[rows] += self._others[index].float() * inside / _FULL * gain[:, None]
        return x

    def barked(self, x: Any, level: Any, speech: tuple[Any, Any], wide: Any, mute: Any) -> Any:
        """Lay one to three sounds of recorded dogs close to the speech of some.

        ``others`` lets few sounds end before speech begins: only 0.3 s are heard before it. Here
        four in ten end up to 0.3 s before it and three in ten lie over its beginning; two begin
        up to 0.3 s after it, and one lies anywhere.

        Args:
            x: Sounds.
            level: Of the speech in each.
            speech: Its first sample in each, and one past its last.
            wide: Where a dog barks in any case.
            mute: Where nobody speaks.
        """
        torch, many, (begin, end) = self._torch, len(x), speech
        chosen = (self.lot(many) < _BARKED[0]) | wide | (mute & (self.lot(many) < _BARKED_ALONE))
        for again in (*_BARKED[1:], 0.0):
            rows = chosen.nonzero()[:, 0]
            which = len(self._lengths) - 1 - self.below(self.barks, len(rows))
            lengths, draw = self._lengths[which], self.lot(len(rows))
            first, last = begin[rows].float(), end[rows].float()
            apart, share = self.lot(len(rows), high=_NEAR), self.lot(len(rows))
            at = share * (last - first + lengths) + first - lengths
            at = torch.where(draw < 0.9, last + apart, at)
            at = torch.where(draw < 0.7, first - share * lengths, at)
            at = torch.where(draw < 0.4, first - apart - lengths, at)
            x = self._laid(x, level, rows, which, at)
            chosen = chosen & (self.lot(many) < again)
        return x

    def band_limits(self, x: Any) -> Any:
        """Telephone, 8 kHz sampling, wind filter; half are left as they are."""
        torch, (many, length) = self._torch, x.shape
        size = _round_up(length, 8000) + 2000
        frequency = self._frequencies(size, 1.0)[None]
        draw = self.lot(many, 1)
        telephone, cheap = draw < 0.15, (draw >= 0.15) & (draw < 0.4)
        thin = (draw >= 0.4) & (draw < 0.5)
        low = torch.where(telephone, self.lot(many, 1, low=200, high=350), 1.0)
        low = torch.where(thin, self.lot(many, 1, low=120, high=400), low)
        high = torch.where(telephone, self.lot(many, 1, low=3000, high=3600), 1e6)
        high = torch.where(cheap, self.lot(many, 1, low=2600, high=3900), high)
        low_order = torch.where(telephone, 6.0, 4.0)
        high_order = torch.where(cheap, 12.0, 6.0)
        gain = (1 + (low / frequency) ** low_order) ** -0.5  # Butterworth's, without his delay
        gain = gain * (1 + (frequency / high) ** high_order) ** -0.5
        rows = (draw[:, 0] < 0.5).nonzero()[:, 0]
        if not len(rows):
            return x
        x = x.clone()
        x[rows] = torch.fft.irfft(torch.fft.rfft(x[rows], size) * gain[rows], size)[:, :length]
        return x

    def microphone(self, x: Any, level: Any) -> Any:
        """Hiss that drowns no faint voice; one in twenty too loud, one in twenty of 8 bits."""
        torch, (many, length) = self._torch, x.shape
        hiss = torch.minimum(10 ** self.lot(many, low=0.8, high=1.8), level * 10 ** (-8 / 20))
        x = x + self.normal(many, length) * hiss[:, None]
        gain = torch.where(self.lot(many) < 0.05, self.lot(many, low=2, high=12), 1.0)
        x = x * gain[:, None]
        step = (x.abs().amax(1, keepdim=True) / 127).clamp(min=1)
        return torch.where(self.lot(many, 1) < 0.05, (x / step).round() * step, x)


def _unit(x: Any) -> Any:
    """Root mean square 1; silence stays silent."""
    return x / (x * x).mean(1, keepdim=True).sqrt().clamp(min=1e-3)


def _round_up(count: int, to: int) -> int:
    return -(-count // to) * to
