"""Trains the phone network: the loss, the schedule, the mean of the weights, and how it does.

Connectionist temporal classification (Graves and others, 2006) with AdamW (Loshchilov and Hutter,
2019), one cycle of a cosine. What is kept is not the last weights but their running mean (Polyak
and Juditsky, 1992). What is done to the sound is in ``phone_batches.py``. Nothing here makes
speech or writes files.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.phones.network import BLANK
from handsfree.hearing.training.phone_batches import Batch, Batches, alone, epoch
from handsfree.hearing.training.phone_harm import USUAL, Bank, Mixed, Noisiness
from handsfree.hearing.training.phone_material import PHONES, PhoneMaterial
from handsfree.hearing.training.phone_model import Model, Weights

__all__ = [
    "JUDGED",
    "Errors",
    "Recipe",
    "RunningMean",
    "cosine",
    "edits",
    "fit",
    "greedy",
    "held_errors",
]

_WARM = 0.03
"""Share of the training in which the step grows to its largest."""
_LEAST_STEP = 1e-5
_DECAY = 1e-2
_KEPT = 0.999
"""Share of the mean that a step leaves; less at first."""
_SPARED = 4
"""An utterance's loss counts by its phones and so many more, so that long ones don't rule."""
_JUDGED_BATCH = 256

JUDGED: dict[str, tuple[bool, Mixed | None]] = {
    "clean": (False, None),
    "rough": (True, None),
    "coloured noise at 5 dB": (False, Mixed(kind="coloured", snr_db=5.0)),
    "noise at 0 dB": (False, Mixed(kind="bank", snr_db=0.0)),
}
"""What the voices held back are judged in: whether all harm is done, or one kind of noise."""


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How the network is trained.

    Attributes:
        channels: Of each block.
        blocks: How many.
        epochs: Passes over the material.
        minutes: Train for so long instead, if given.
        batch: Outputs in a mini-batch, 20 ms each: about 600 utterances.
        step: Largest step of AdamW.
        noisiness: How much noise there is.
    """

    channels: int = 512
    blocks: int = 16
    epochs: int = 160
    minutes: float | None = None
    batch: int = 56000
    step: float = 2.5e-3
    noisiness: Noisiness = USUAL


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


def _precision(torch: Any, device: str) -> Any:
    """Half precision where the device is quick at it."""
    if device == "cpu":
        return torch.autocast("cpu", enabled=False)
    return torch.autocast("cuda", dtype=torch.bfloat16)


def cosine(largest: float, done: float) -> float:
    """The step when the share `done` of the training is over."""
    return largest * min(1.0, done / _WARM) * 0.5 * (1 + float(np.cos(np.pi * done))) + _LEAST_STEP


class RunningMean:
    """The running mean of a network's weights and of its norms' measures.

    Args:
        module: A module of PyTorch; its weights now are where the mean begins.
    """

    def __init__(self, module: Any) -> None:
        self._module = module
        self._values = {name: one.detach().clone() for name, one in module.state_dict().items()}

    def add(self, step: int) -> None:
        """Take the weights after this step in."""
        part = 1 - min(_KEPT, (1 + step) / (10 + step))
        for name, one in self._module.state_dict().items():
            if one.is_floating_point():
                self._values[name].lerp_(one.detach(), part)

    def use(self) -> None:
        """Give the mean to the network."""
        self._module.load_state_dict(self._values)


def _optimiser(torch: Any, parameters: Sequence[Any]) -> Any:
    """AdamW that draws only weights to nought, neither biases nor norms."""
    groups = (
        {"params": [one for one in parameters if one.dim() > 1], "weight_decay": _DECAY},
        {"params": [one for one in parameters if one.dim() <= 1], "weight_decay": 0.0},
    )
    return torch.optim.AdamW(groups, lr=0.0, betas=(0.9, 0.98))


def _loss(torch: Any, logits: Any, batch: Batch) -> Any:
    """Mean loss of the batch, each utterance's by the number of its phones."""
    device = logits.device
    counts = torch.tensor([len(one) for one in batch.phones], device=device)
    losses = torch.nn.functional.ctc_loss(
        torch.log_softmax(logits.float(), 1).permute(2, 0, 1),
        torch.tensor([k for one in batch.phones for k in one], dtype=torch.long, device=device),
        batch.steps,
        counts,
        blank=BLANK,
        reduction="none",
        zero_infinity=True,
    )
    return (losses / (counts + _SPARED)).mean()


def fit(
    torch: Any,
    material: PhoneMaterial,
    bank: Bank,
    recipe: Recipe,
    seed: int,
    device: str,
    say: Callable[[str], None] = print,
    *,
    begin: Weights | None = None,
) -> Model:
    """Return a network trained on what is not held back.

    On a graphics processor sums are made in no fixed order, so the same seed gives another network
    of the same kind.

    Args:
        torch: The module.
        material: Clips.
        bank: Sounds to do harm with.
        recipe: How it is trained.
        seed: Of all that is drawn by lot.
        device: ``cpu`` or ``cuda``.
        say: Told after each epoch.
        begin: Weights of a network of the same shape to go on from.

    Raises:
        EngineError: Those weights are of another shape.
    """
    torch.manual_seed(seed)
    model = Model(torch, recipe.channels, recipe.blocks, len(PHONES) + 1, device)
    parameters = list(model.module.parameters())
    say(f"{sum(p.numel() for p in parameters) / 1e6:.2f} million weights, on {device}.")
    rng = np.random.default_rng(seed)
    batches = Batches(torch, material, bank, device, seed, recipe.noisiness)
    if begin is not None:
        largest = max(epoch(material, recipe.batch, rng), key=len)
        model.take(begin, (batch := batches(largest)).x, batch.mask)
    optimiser, mean = _optimiser(torch, parameters), RunningMean(model.module)
    began, step, passed, done = time.monotonic(), 0, 0, 0.0
    model.module.train()
    while done < 1.0:
        losses: list[float] = []
        planned = epoch(material, recipe.batch, rng)
        for number, rows in enumerate(planned, start=1):
            for group in optimiser.param_groups:
                group["lr"] = cosine(recipe.step, done)
            batch = batches(rows)
            with _precision(torch, device):
                logits = model(batch.x, batch.mask)
            loss = _loss(torch, logits, batch)
            optimiser.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(parameters, 1.0)
            optimiser.step()
            step += 1
            mean.add(step)
            losses.append(float(loss.detach()))
            minutes = (time.monotonic() - began) / 60
            done = (passed + number / len(planned)) / recipe.epochs
            if recipe.minutes is not None:
                done = minutes / recipe.minutes
            if done >= 1.0:
                break
        passed += 1
        say(f"Epoch {passed}, step {step}, {minutes:.1f} min: loss {np.mean(losses):.3f}.")
    mean.use()
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
    torch: Any, model: Model, material: PhoneMaterial, bank: Bank, device: str
) -> dict[str, Errors]:
    """Return how the held-back voices are spelt, by group and by what is done to them.

    Where all harm is done some are taken out of their noise: phones found there are all wrong.
    """
    found: dict[str, Errors] = {}
    held = np.flatnonzero(material.held)
    held = held[np.argsort(material.lengths[held])]
    batches = Batches(torch, material, bank, device, 0)
    for condition, (harm, mixed) in JUDGED.items():
        for begin in range(0, len(held), _JUDGED_BATCH):
            clips = held[begin : begin + _JUDGED_BATCH]
            batch = batches(alone(clips), harm=harm, mixed=mixed)
            with torch.no_grad(), _precision(torch, device):
                best = model(batch.x, batch.mask).float().argmax(1).cpu().numpy()
            counts = batch.steps.tolist()
            for clip, said, path, count in zip(clips, batch.phones, best, counts, strict=True):
                group = f"{material.groups[clip]}, {condition}" if said else "nobody speaks"
                before = found.get(group, Errors(takes=0, phones=0, wrong=0))
                found[group] = Errors(
                    takes=before.takes + 1,
                    phones=before.phones + len(said),
                    wrong=before.wrong + edits(said, greedy(path[:count])),
                )
    return dict(sorted(found.items()))
