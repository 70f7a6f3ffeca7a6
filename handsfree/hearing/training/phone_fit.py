"""Trains the phone network: harm done to frames, the loss, the schedule, and how it does.

Connectionist temporal classification (Graves and others, 2006) with AdamW (Loshchilov and Hutter,
2019), one cycle of a cosine; stretches of time and bands of frequency are painted over as in
SpecAugment (Park and others, 2019). Nothing here makes sound or writes files.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import MEL_BANDS
from handsfree.hearing.phones.network import BLANK
from handsfree.hearing.training.phone_material import PHONES, SCALE, PhoneMaterial
from handsfree.hearing.training.phone_model import Model, scaled

__all__ = ["Errors", "Recipe", "edits", "fit", "greedy", "held_errors"]

_PAINT_DB = 40.0
_WARM = 0.03
"""Share of the training in which the step grows to its largest."""
_LEAST_STEP = 1e-5
_JUDGED_BATCH = 256


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How the network is trained.

    Attributes:
        channels: Of each block.
        blocks: How many.
        epochs: Passes over the material.
        minutes: Train for so long instead, if given.
        batch: Utterances in a mini-batch.
        step: Largest step of AdamW.
    """

    channels: int = 384
    blocks: int = 10
    epochs: int = 24
    minutes: float | None = None
    batch: int = 512
    step: float = 3e-3


@dataclass(frozen=True, kw_only=True)
class Errors:
    """How well utterances of one group are spelt.

    Attributes:
        takes: Utterances.
        phones: Phones said in them.
        wrong: Phones changed, missed or added, by the likeliest path.
    """

    takes: int
    phones: int
    wrong: int


class _Batches:
    """Mini-batches of the material on the device."""

    def __init__(self, torch: Any, material: PhoneMaterial, device: str, seed: int) -> None:
        self._torch, self._device, self._material = torch, device, material
        self._frames = torch.from_numpy(material.frames).to(device)
        starts = np.cumsum(material.lengths) - material.lengths
        self._starts = torch.from_numpy(starts).to(device)
        self._lengths = torch.from_numpy(material.lengths).to(device)
        self._lots = torch.Generator(device=device)
        self._lots.manual_seed(seed)

    def order(
        self, rows: NDArray[np.int64], size: int, rng: np.random.Generator
    ) -> Iterator[NDArray[np.int64]]:
        """Yield rows in batches of about equal length, the batches in an order by lot."""
        near = self._material.lengths[rows] + rng.uniform(0, 25, len(rows))
        ordered = rows[np.argsort(near)]
        for number in rng.permutation(-(-len(rows) // size)):
            yield ordered[size * number : size * (number + 1)]

    def __call__(self, rows: NDArray[np.int64], *, harm: bool) -> tuple[Any, Any, Any]:
        """Return scaled frames (batch, 32, frames), the steps' mask, and each one's steps."""
        torch = self._torch
        index = torch.from_numpy(rows).to(self._device)
        lengths = self._lengths[index]
        place = torch.arange(int(lengths.max()), device=self._device)[None]
        inside = place < lengths[:, None]
        at = self._starts[index][:, None] + torch.minimum(place, lengths[:, None] - 1)
        x = self._frames[at].float() / SCALE
        if harm:
            x = self._harmed(x, lengths, place)
        x = scaled(x) * inside[..., None]
        return x.transpose(1, 2), inside[:, ::2].float()[:, None], (lengths + 1) // 2

    def _harmed(self, x: Any, lengths: Any, place: Any) -> Any:
        """Another level, tone and noise floor; bands and a stretch of time painted over."""
        torch, many = self._torch, len(x)

        def lot() -> Any:
            return torch.rand(many, 1, 1, device=self._device, generator=self._lots)

        slope = torch.linspace(-1, 1, MEL_BANDS, device=self._device)
        x = x + (lot() - 0.5) * 6 + (lot() - 0.5) * 8 * slope
        floor = 25 + lot() * 30 * (lot() < 0.3)
        noise = torch.randn(x.shape, device=self._device, generator=self._lots)
        x = torch.maximum(x, floor + noise * 2)
        band = torch.arange(MEL_BANDS, device=self._device)
        for _ in range(2):
            width = (lot() * 5).floor()
            first = (lot() * (MEL_BANDS - width)).floor()
            x = x.masked_fill((band >= first) & (band < first + width) & (lot() < 0.5), _PAINT_DB)
        width = (lot() * 12).floor()
        first = (lot() * (lengths[:, None, None] - width)).floor()
        when = place[..., None]
        return x.masked_fill((when >= first) & (when < first + width) & (lot() < 0.4), _PAINT_DB)


def _precision(torch: Any, device: str) -> Any:
    """Half precision where the device is quick at it."""
    if device == "cpu":
        return torch.autocast("cpu", enabled=False)
    return torch.autocast("cuda", dtype=torch.bfloat16)


def _step(largest: float, done: float) -> float:
    """The step when the share `done` of the training is over."""
    return largest * min(1.0, done / _WARM) * 0.5 * (1 + float(np.cos(np.pi * done))) + _LEAST_STEP


def fit(
    torch: Any,
    material: PhoneMaterial,
    recipe: Recipe,
    seed: int,
    device: str,
    say: Callable[[str], None] = print,
) -> Model:
    """Return a network trained on what is not held back.

    On a graphics processor sums are made in no fixed order, so the same seed gives another network
    of the same kind.
    """
    torch.manual_seed(seed)
    model = Model(torch, recipe.channels, recipe.blocks, len(PHONES) + 1, device)
    parameters = list(model.module.parameters())
    say(f"{sum(p.numel() for p in parameters) / 1e6:.2f} million weights, on {device}.")
    rng = np.random.default_rng(seed)
    batches = _Batches(torch, material, device, seed)
    rows = np.flatnonzero(~material.held)
    epoch_steps = -(-len(rows) // recipe.batch)
    optimiser = torch.optim.AdamW(parameters, lr=0.0, weight_decay=1e-2, betas=(0.9, 0.98))
    began, step, epoch, done = time.monotonic(), 0, 0, 0.0
    model.module.train()
    while done < 1.0:
        losses: list[float] = []
        for batch in batches.order(rows, recipe.batch, rng):
            for group in optimiser.param_groups:
                group["lr"] = _step(recipe.step, done)
            x, mask, steps = batches(batch, harm=True)
            with _precision(torch, device):
                logits = model(x, mask)
            said = [material.phones[row] for row in batch]
            log_probs = torch.log_softmax(logits.float(), 1).permute(2, 0, 1)
            loss = torch.nn.functional.ctc_loss(
                log_probs,
                torch.tensor([k for one in said for k in one], dtype=torch.long, device=device),
                steps,
                torch.tensor([len(one) for one in said], device=device),
                blank=BLANK,
                zero_infinity=True,
            )
            optimiser.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(parameters, 1.0)
            optimiser.step()
            losses.append(float(loss.detach()))
            step += 1
            minutes = (time.monotonic() - began) / 60
            done = step / (epoch_steps * recipe.epochs)
            if recipe.minutes is not None:
                done = minutes / recipe.minutes
            if done >= 1.0:
                break
        epoch += 1
        say(f"Epoch {epoch}, step {step}, {minutes:.1f} min: loss {np.mean(losses):.3f}.")
    model.module.eval()
    return model


def greedy(outputs: NDArray[np.int64]) -> list[int]:
    """Return what a path spells: repeats merged, then blanks taken out."""
    changed = np.diff(outputs, prepend=-1) != 0
    return [int(phone) for phone in outputs[changed] if phone != BLANK]


def edits(said: Sequence[int], heard: Sequence[int]) -> int:
    """Return the least number of phones changed, missed or added (Levenshtein, 1966)."""
    places = np.arange(len(said) + 1)
    costs = places
    for phone in heard:
        changed = costs[:-1] + (np.array(said, int) != phone)
        least = np.concatenate([[costs[0] + 1], np.minimum(costs[1:] + 1, changed)])
        costs = np.minimum.accumulate(least - places) + places
    return int(costs[-1])


def held_errors(
    torch: Any, model: Model, material: PhoneMaterial, device: str
) -> dict[str, Errors]:
    """Return how the held-back voices are spelt, by group."""
    found: dict[str, Errors] = {}
    batches = _Batches(torch, material, device, 0)
    rows = np.flatnonzero(material.held)
    for batch in batches.order(rows, _JUDGED_BATCH, np.random.default_rng(0)):
        x, mask, steps = batches(batch, harm=False)
        with torch.no_grad(), _precision(torch, device):
            best = model(x, mask).float().argmax(1).cpu().numpy()
        for row, path, count in zip(batch, best, steps.tolist(), strict=True):
            said, group = material.phones[row], str(material.groups[row])
            before = found.get(group, Errors(takes=0, phones=0, wrong=0))
            found[group] = Errors(
                takes=before.takes + 1,
                phones=before.phones + len(said),
                wrong=before.wrong + edits(said, greedy(path[:count])),
            )
    return dict(sorted(found.items()))
