"""Mini-batches for the phone network: clean clips placed, harmed afresh, and their frames.

The clips stay on the device as waveforms. Whatever befalls a clip is drawn anew each time it is
used, so that no sound is ever heard twice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import FLOOR_DB, MEL_BANDS
from handsfree.hearing.phones.frames import AFTER_SAMPLES, BEFORE_SAMPLES, STEP_SAMPLES
from handsfree.hearing.training.clips import RATE_HZ
from handsfree.hearing.training.phone_harm import USUAL, Bank, Harm, Mixed, Noisiness
from handsfree.hearing.training.phone_material import PhoneMaterial
from handsfree.hearing.training.phone_model import scaled
from handsfree.hearing.training.torch_mel import MelFrames, levelled

__all__ = ["Batch", "Batches", "Sounds", "alone", "epoch"]

Rows = NDArray[np.int64]
"""What a batch is made of, shape (n, 3): a clip, a second or -1, samples of silence between."""

SLOWEST, FASTEST = 0.85, 1.18
WARPS = tuple(float(one) for one in np.exp(np.linspace(-0.16, 0.16, 17)))
"""Throats shorter and longer by up to a sixth."""
_PACES = 0.2
"""How much quicker or slower at most, as a logarithm."""
_ROOM_SAMPLES = 6000  # for bounds that are far off
_CLEAN_LEVEL = 1200.0  # root mean square of a clip to which nothing is done
_CLEAN_HISS = 20.0
_MUTE = 0.07
"""Share from which the speech is taken out: noise and other sounds have no phones."""
_PAINT_DB = 40.0
_WIDE = 0.14
"""Share of utterances whose bounds take in what a dog said before them or after them."""
_WIDEST = RATE_HZ // 2
_JOINED_LONGEST = int(1.5 * RATE_HZ)
_JOINED_SHARE = 1 / 14


@dataclass(frozen=True, kw_only=True)
class Sounds:
    """Utterances as a microphone hears them.

    Attributes:
        x: In units of int16, shape (batch, samples).
        start: First sample of each, as a segmenter tells it, shape (batch,).
        end: One past its last.
        after: How many samples after it are heard before it is judged.
        mute: Whether nobody speaks in it.
    """

    x: Any
    start: Any
    end: Any
    after: Any
    mute: Any


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Utterances ready for the network.

    Attributes:
        x: Scaled frames, noughts past each one's end, shape (batch, 32, frames).
        mask: One where an utterance has a step, shape (batch, 1, steps).
        steps: Outputs of each, shape (batch,).
        frames: The same frames in dB, shape (batch, frames, 32).
        counts: How many of them each has, shape (batch,).
        phones: What is said in each.
    """

    x: Any
    mask: Any
    steps: Any
    frames: Any
    counts: Any
    phones: Sequence[tuple[int, ...]]


def alone(clips: NDArray[np.int64]) -> Rows:
    """Return rows of one clip each."""
    return np.stack([clips, np.full_like(clips, -1), np.zeros_like(clips)], 1).astype(np.int64)


def _joined(clips: NDArray[np.int64], count: int, rng: np.random.Generator) -> Rows:
    """Pairs with a pause too short to part them, 0.05 to 0.5 s."""
    gaps = (rng.uniform(0.05, 0.5, count) * RATE_HZ).astype(np.int64)
    return np.stack([rng.choice(clips, count), rng.choice(clips, count), gaps], 1)


def _lengths(rows: Rows, lengths: NDArray[np.int64]) -> NDArray[np.int64]:
    second = np.where(rows[:, 1] >= 0, rows[:, 2] + lengths[rows[:, 1]], 0)
    return np.asarray(lengths[rows[:, 0]] + second)


def epoch(material: PhoneMaterial, largest: int, rng: np.random.Generator) -> list[Rows]:
    """Return one epoch's batches, each of clips of like length, in an order by lot.

    Every natural clip is there once, every other eSpeak NG clip, and some pairs.

    Args:
        material: What is held back of it is left out.
        largest: Outputs in a batch at most, filling up counted; one clip is always taken.
        rng: Draws.
    """
    clips = np.flatnonzero(~material.held)
    machine = np.char.startswith(material.speakers[clips], "espeak")
    if machine.all():
        rows = alone(clips)
    else:
        some = rng.choice(clips[machine], int(machine.sum()) // 2, replace=False)
        rows = alone(np.concatenate([clips[~machine], some]))
    short = clips[material.lengths[clips] < _JOINED_LONGEST]
    if short.size:
        rows = np.concatenate([rows, _joined(short, int(len(clips) * _JOINED_SHARE), rng)])
    lengths = _lengths(rows, material.lengths)
    order = np.argsort(lengths * np.exp(rng.uniform(-0.15, 0.15, len(rows))))
    found = _cut(rows[order], lengths[order] / SLOWEST, largest)
    return [found[number] for number in rng.permutation(len(found))]


def _cut(rows: Rows, lengths: NDArray[np.float64], largest: int) -> list[Rows]:
    found: list[Rows] = []
    begin, longest = 0, 0.0
    for place, length in enumerate(lengths):
        longest = max(longest, float(length))
        outputs = (longest + BEFORE_SAMPLES + AFTER_SAMPLES) / STEP_SAMPLES
        if place > begin and outputs * (place - begin + 1) > largest:
            found.append(rows[begin:place])
            begin, longest = place, float(length)
    return [*found, rows[begin:]]


class Batches:
    """Makes batches on a device.

    Args:
        torch: The module.
        material: Clips.
        bank: Sounds to do harm with.
        device: As PyTorch names it.
        seed: Of all that is drawn by lot.
        noisiness: How much noise there is.

    Attributes:
        frames: Makes mel frames of sounds.
    """

    def __init__(
        self,
        torch: Any,
        material: PhoneMaterial,
        bank: Bank,
        device: str,
        seed: int,
        noisiness: Noisiness = USUAL,
    ) -> None:
        self._torch, self._device, self._material = torch, device, material
        self._waves = torch.from_numpy(material.waves).to(device)
        self._lengths = torch.from_numpy(material.lengths).to(device)
        self._starts = torch.from_numpy(material.starts).to(device)
        self.frames = MelFrames(torch, device, WARPS)
        self._harm = Harm(torch, bank, self._waves, device, seed, noisiness)

    def __call__(self, rows: Rows, *, harm: bool = True, mixed: Mixed | None = None) -> Batch:
        """Return a batch.

        Args:
            rows: As ``alone`` and ``epoch`` give them.
            harm: Whether everything is done to it that may befall a clip.
            mixed: Noise in place of what is drawn; without harm the only thing that is done.
        """
        with self._torch.no_grad():
            return self._made(rows, harm=harm, mixed=mixed)

    def _made(self, rows: Rows, *, harm: bool, mixed: Mixed | None) -> Batch:
        heard = self.sounds(rows, harm=harm, mixed=mixed)
        many = len(rows)
        throats, paces = (self.throats(many), self.paces(many)) if harm else (None, None)
        frames, counts = levelled(
            self._torch, self.frames(heard.x, throats), heard.start, heard.end, heard.after, paces
        )
        if harm:
            frames = self.painted(frames, counts)
        says = [
            () if silent else self._said(row)
            for row, silent in zip(rows.tolist(), heard.mute.tolist(), strict=True)
        ]
        return self._batch(frames, counts, says)

    def throats(self, many: int) -> Any:
        """Draw a throat for each: 0 for its own, which three in ten keep, else a warp's number."""
        other = (self._harm.lot(many) < 0.7).long()
        return other * (1 + self._harm.below(len(WARPS), many))

    def paces(self, many: int) -> Any:
        """Draw how much quicker each is at the same pitch; half keep their own pace."""
        of = self._harm
        return self._torch.exp(of.lot(many, low=-_PACES, high=_PACES) * (of.lot(many) < 0.5))

    def sounds(self, rows: Rows, *, harm: bool = True, mixed: Mixed | None = None) -> Sounds:
        """Return the clips as a microphone hears them; the arguments are those of a call."""
        torch, many, of = self._torch, len(rows), self._harm
        speed = torch.ones(many, device=self._device)
        before = torch.zeros(many, device=self._device)
        late, cut_begin, cut_end, mute = before, before, before, before > 0
        early, trail, dogs = before, before, harm and of.barks > 0
        if harm:
            bent = torch.exp(of.lot(many, low=math.log(SLOWEST), high=math.log(FASTEST)))
            speed = torch.where(of.lot(many) < 0.75, bent, speed)
            # Bounds as a segmenter gives them; one in ten misses soft beginnings and ends.
            before = (of.normal(many) * 0.03 - 0.03) * RATE_HZ
            late = (of.normal(many) * 0.045 + 0.03) * RATE_HZ
            missed = of.lot(many) < 0.1
            cut_begin, cut_end = (of.lot(many, high=0.12) * missed for _ in range(2))
            mute = of.lot(many) < _MUTE
        if dogs:
            wide = of.lot(many, high=_WIDEST) * (of.lot(many) < _WIDE)
            early = wide * (of.lot(many) < 0.5)
            trail = wide - early
        begin = (BEFORE_SAMPLES - before + early).long().clamp(min=0)
        longest = _lengths(rows, self._material.lengths).max() / (SLOWEST if harm else 1.0)
        room = BEFORE_SAMPLES + AFTER_SAMPLES + _ROOM_SAMPLES + _WIDEST * dogs
        size = -(-(int(longest) + room) // 4000) * 4000
        x, length = self.placed(rows, speed, begin, size)
        start = (BEFORE_SAMPLES + cut_begin * length).long()
        end = (begin + length + late + trail - cut_end * length).long()
        place = torch.arange(size, device=self._device)[None]
        inside = (place >= begin[:, None]) & (place < (begin + length)[:, None])
        level = torch.full((many,), _CLEAN_LEVEL, device=self._device)
        if harm:
            x = of.room_and_tone(of.whispered(x))
            level = 10 ** (of.lot(many, low=-42, high=-14) / 20) * 32768
        strength = ((x * x * inside).sum(1) / length.clamp(min=1)).sqrt().clamp(min=1e-3)
        x = x * (level / strength * ~mute)[:, None]
        if harm or mixed is not None:
            x = of.noise(x, level, mixed)
        if harm:
            x = of.others(x, level, begin + length + AFTER_SAMPLES, mute)
            if dogs:
                x = of.barked(x, level, (begin, begin + length), early + trail > 0, mute)
            x = of.microphone(of.band_limits(x), level)
        else:
            x = x + of.normal(many, size) * _CLEAN_HISS
        x = x.clamp(-32768, 32767).round()
        after = torch.full((many,), AFTER_SAMPLES, device=self._device)
        if harm:  # an utterance may be read before all that follows it is heard
            short = of.lot(many, high=0.16 * RATE_HZ) * (of.lot(many) < 0.2)
            after = after - short.long()
        end = torch.maximum(end, start + 800)
        return Sounds(x=x, start=start, end=end, after=after, mute=mute)

    def _said(self, row: Sequence[int]) -> tuple[int, ...]:
        first, second, _ = row
        return self._material.phones[first] + (self._material.phones[second] if second >= 0 else ())

    def placed(self, rows: Rows, speed: Any, begin: Any, size: int) -> tuple[Any, Any]:
        """Return clips put into silence, shape (batch, size), and how many samples each takes.

        Between samples runs a cubic through the four nearest (Catmull and Rom, 1974).

        Args:
            rows: As ``alone`` and ``epoch`` give them.
            speed: Of each, 2 for twice as fast and an octave higher, shape (batch,).
            begin: At which sample each begins, shape (batch,).
            size: Samples in all; what reaches beyond is lost.
        """
        torch = self._torch
        first, second, gap = torch.from_numpy(rows).to(self._device).T[:, :, None]
        has = second >= 0
        second = second.clamp(min=0)
        one, two = self._lengths[first], self._lengths[second]
        total = torch.where(has, one + gap + two, one)[:, 0]
        place = torch.arange(size, device=self._device)[None] - begin[:, None]
        exact = place * speed[:, None]
        whole = exact.floor().long()
        part = exact - whole

        def at(index: Any) -> Any:
            later = index - one - gap
            in_one = (index >= 0) & (index < one)
            in_two = has & (later >= 0) & (later < two)
            where = torch.where(in_one, self._starts[first] + index, self._starts[second] + later)
            found = self._waves[where.clamp(0, len(self._waves) - 1)].float()
            return found * (in_one | in_two)

        p0, p1, p2, p3 = (at(whole + offset) for offset in (-1, 0, 1, 2))
        cubic = 3 * (p1 - p2) + p3 - p0
        square = 2 * p0 - 5 * p1 + 4 * p2 - p3
        x = p1 + 0.5 * part * (p2 - p0 + part * (square + part * cubic))
        return x, (total / speed).long()

    def painted(self, frames: Any, counts: Any) -> Any:
        """Another level; a few bands and a short stretch of time painted over in some."""
        torch, of = self._torch, self._harm
        many, length, _ = frames.shape
        frames = (frames + of.lot(many, 1, 1, low=-3, high=3)).clamp(min=FLOOR_DB)
        bands = torch.arange(MEL_BANDS, device=self._device)[None, None]
        times = torch.arange(length, device=self._device)[None, :, None]
        axes = ((bands, MEL_BANDS, 5, 0.3), (times, counts[:, None, None], 10, 0.25))
        for place, end, widest, share in axes:
            width = of.lot(many, 1, 1, high=widest).floor()
            first = (of.lot(many, 1, 1) * (end - width)).floor()
            over = (place >= first) & (place < first + width) & (of.lot(many, 1, 1) < share)
            frames = frames.masked_fill(over, _PAINT_DB)
        return frames

    def _batch(self, frames: Any, counts: Any, phones: Sequence[tuple[int, ...]]) -> Batch:
        torch = self._torch
        inside = torch.arange(frames.shape[1], device=self._device)[None] < counts[:, None]
        return Batch(
            x=(scaled(frames) * inside[..., None]).transpose(1, 2),
            mask=inside[:, ::2].float()[:, None],
            steps=(counts + 1) // 2,
            frames=frames,
            counts=counts,
            phones=phones,
        )
