"""Mini-batches for the second ear: harmed afresh like the phone network's, then its features.

What ``ear.utterance`` does to one utterance's frames is done here to many at once, so that no
sound is ever heard twice; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import FLOOR_DB, FRAME_SAMPLES, MEL_BANDS
from handsfree.hearing.ear.utterance import (
    BEFORE_SAMPLES,
    EDGE_SAMPLES,
    FRAME_MIDDLE,
    LEVEL_DB,
    LOUD,
    PATCH_FRAMES,
    PATCH_SAMPLES,
    SOFTEST,
)
from handsfree.hearing.training.clips import RATE_HZ
from handsfree.hearing.training.phone_batches import Batches, Rows, Sounds
from handsfree.hearing.training.phone_material import PhoneMaterial
from handsfree.hearing.training.texts import normalise
from handsfree.hearing.training.torch_embedding import embeddings

__all__ = ["OTHER", "EarBatches", "Placed", "features", "labels_of", "patches", "with_pieces"]

OTHER = 0
"""The label of what is none of the phrases."""

_FEWEST_QUIET = 4
_PIECE = (int(0.45 * RATE_HZ), int(1.7 * RATE_HZ))
_FADE = 160


def with_pieces(
    material: PhoneMaterial, known: frozenset[str], each: int, rng: np.random.Generator
) -> PhoneMaterial:
    """Return the material with stretches cut out of its longer clips, which mean nothing.

    Args:
        material: Clips; what is held back is not cut.
        known: Phrases, which are left whole.
        each: Stretches of each clip that is none of them and long enough.
        rng: Draws.
    """
    low, high = _PIECE
    whole = np.array([text not in known for text in material.texts])
    chosen = np.flatnonzero(whole & ~material.held & (material.lengths > low + RATE_HZ // 4))
    starts, fade = material.starts, np.linspace(0.0, 1.0, _FADE)
    waves: list[NDArray[np.int16]] = []
    for clip in np.repeat(chosen, each):
        length = int(rng.integers(low, min(high, int(material.lengths[clip]) - 1)))
        at = int(starts[clip] + rng.integers(0, material.lengths[clip] - length))
        piece = material.waves[at : at + length].astype(np.float64)
        piece[:_FADE] *= fade
        piece[-_FADE:] *= fade[::-1]
        waves.append(piece.astype(np.int16))
    count, of = len(waves), np.repeat(chosen, each)
    return replace(
        material,
        waves=np.concatenate([material.waves, *waves]),
        lengths=np.concatenate([material.lengths, np.array(list(map(len, waves)), np.int64)]),
        phones=(*material.phones, *((),) * count),
        held=np.concatenate([material.held, np.zeros(count, bool)]),
        groups=np.concatenate([material.groups, np.full(count, "pieces")]),
        speakers=np.concatenate([material.speakers, material.speakers[of]]),
        texts=(*material.texts, *("",) * count),
    )


def labels_of(rows: Rows, texts: Sequence[str], index: Mapping[str, int]) -> NDArray[np.int64]:
    """Return each row's label: 1 and more for a phrase, also one said in two parts."""
    said = (
        texts[first] if second < 0 else normalise(f"{texts[first]} {texts[second]}")
        for first, second, _ in rows.tolist()
    )
    return np.array([index.get(text, OTHER) for text in said], np.int64)


class Placed:
    """Where the frames of a patch lie: around the middle of each utterance, at its own pace.

    Args:
        torch: The module.
        start: First sample of each utterance, shape (batch,).
        end: One past its last.
        pace: How much quicker each shall be.
    """

    def __init__(self, torch: Any, start: Any, end: Any, pace: Any) -> None:
        first = torch.div(start + end, 2, rounding_mode="floor") - PATCH_SAMPLES // 2
        begin = (first.double() / FRAME_SAMPLES).round()
        offsets = torch.arange(PATCH_FRAMES, device=start.device)[None]
        middle = (PATCH_FRAMES - 1) / 2
        self.place = begin[:, None] + middle + (offsets - middle) * pace.double()[:, None]
        self.at = first.double()[:, None] + FRAME_MIDDLE
        self.at = self.at + (middle + (offsets - middle) * pace.double()[:, None]) * FRAME_SAMPLES

    def read(self, torch: Any, frames: Any) -> tuple[Any, Any]:
        """Return the patches' frames, between frames read off straight lines, and which are known.

        Args:
            torch: The module.
            frames: Of whole sounds, the first one at sample 0, shape (batch, n, 32).
        """
        last = frames.shape[1] - 1
        known = (self.place >= 0) & (self.place <= last)
        whole = self.place.floor().clamp(0, last).long()
        part = (self.place - whole).clamp(0, 1).float()[..., None]

        def picked(index: Any) -> Any:
            return torch.gather(frames, 1, index[..., None].expand(-1, -1, MEL_BANDS))

        early = picked(whole)
        return early + part * (picked((whole + 1).clamp(max=last)) - early), known


def patches(torch: Any, frames: Any, heard: Sounds, pace: Any) -> Any:
    """Return what the embedding network is shown, as ``ear.utterance`` makes it for one.

    Args:
        torch: The module.
        frames: Of whole sounds in dB, the first one at sample 0, shape (batch, n, 32).
        heard: The sounds' bounds.
        pace: How much quicker each shall be, shape (batch,).

    Returns:
        Frames in dB, shape (batch, 172, 32).
    """
    placed = Placed(torch, heard.start, heard.end, pace)
    cut, known = placed.read(torch, frames)
    at, start, end = placed.at, heard.start[:, None], heard.end[:, None]
    # For a quicker one as much time is kept as it will take.
    kept, after = BEFORE_SAMPLES * pace[:, None], heard.after[:, None] * pace[:, None]
    near = known & (at >= start - kept) & (at < end + after)
    quiet = near & ((at < start - EDGE_SAMPLES) | (at >= end + EDGE_SAMPLES))
    softness = cut.mean(2).masked_fill(~near, float("inf"))
    softest = softness.argsort(dim=1)[:, :SOFTEST]
    count = quiet.sum(1, keepdim=True)
    filled = count < _FEWEST_QUIET  # the utterance fills the patch: its softest frames stand in
    order = (~quiet).long().argsort(dim=1, stable=True)
    order[:, :SOFTEST] = torch.where(filled, softest, order[:, :SOFTEST])
    count = torch.where(filled, SOFTEST, count)
    away = (~near).long()
    turn = (away.cumsum(1) - 1).clamp(min=0) % (2 * count)  # there and back
    source = order.gather(1, torch.where(turn < count, turn, 2 * count - 1 - turn))
    painted = torch.gather(cut, 1, source[..., None].expand(-1, -1, MEL_BANDS))
    cut = torch.where(near[..., None], cut, painted)
    inside = near & (at >= start) & (at < end)
    inside = torch.where(inside.any(1, keepdim=True), inside, near)
    loudest = cut.amax(2).masked_fill(~inside, float("nan"))
    loud = torch.nanquantile(loudest, LOUD, dim=1)
    return (cut + (LEVEL_DB - loud)[:, None, None]).clamp(min=FLOOR_DB)


class EarBatches:
    """Makes features with labels on a device.

    Args:
        torch: The module.
        material: Clips.
        batches: Makes sounds of them.
        index: The phrases' labels.
        device: As PyTorch names it.
    """

    def __init__(
        self,
        torch: Any,
        material: PhoneMaterial,
        batches: Batches,
        index: Mapping[str, int],
        device: str,
    ) -> None:
        self._torch, self._material, self._batches = torch, material, batches
        self._index, self._device = index, device

    def __call__(self, rows: Rows, *, harm: bool = True) -> tuple[Any, Any, Any]:
        """Return patches, shape (batch, 172, 32), lengths in seconds and labels, shape (batch,)."""
        torch, many = self._torch, len(rows)
        with torch.no_grad():
            heard = self._batches.sounds(rows, harm=harm)
            throats, pace = None, torch.ones(many, device=self._device)
            if harm:
                throats, pace = self._batches.throats(many), self._batches.paces(many)
            frames = patches(torch, self._batches.frames(heard.x, throats), heard, pace)
            if harm:
                counts = torch.full((many,), PATCH_FRAMES, device=self._device)
                frames = self._batches.painted(frames, counts)
            seconds = (heard.end - heard.start).float() / RATE_HZ / pace
            labels = torch.from_numpy(labels_of(rows, self._material.texts, self._index))
            labels = labels.to(self._device).masked_fill(heard.mute, OTHER)
        return frames, seconds, labels


def features(torch: Any, network: Any, frames: Any, seconds: Any) -> Any:
    """Return what a head sees, shape (batch, 1249), as ``utterance_features`` gives it for one."""
    vectors = embeddings(network, frames)
    return torch.cat([vectors.flatten(1), seconds[:, None].to(vectors.dtype)], 1)
