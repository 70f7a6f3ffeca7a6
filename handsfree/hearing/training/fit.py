"""Fits a head: multinomial logistic regression or a perceptron, by mini-batches, NumPy alone.

Adam (Kingma and Ba 2015) with a cosine step, weights drawn towards nought (L2), inputs dropped at
random. The same code makes the shipped head and every row of the tables. Where CuPy finds a
graphics processor the same steps run there; its lots differ, so its head does too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.head import FORM

__all__ = [
    "Member",
    "Recipe",
    "Standard",
    "add_discriminant",
    "fit_member",
    "save_head",
    "standardise",
    "weigh",
]

Floats = NDArray[np.float32]
Layers = list[tuple[Floats, Floats]]


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How a member of the head is fitted.

    Attributes:
        hidden: Units of each hidden layer; empty for logistic regression.
        l2: Weight of the squared weights in the loss, first layer.
        drop: Share of inputs of each layer that is dropped in training.
        epochs: Passes over the examples.
        step: Largest step of Adam.
        smooth: Label smoothing.
        batch: Examples in a mini-batch.
        discriminant: How much of a linear discriminant is added to a logistic regression.
        shrink: How far that one's covariance is drawn towards a round one.
        weight: How much the member counts among the members of a head, whose mean is 1.
    """

    hidden: tuple[int, ...] = ()
    l2: float = 3e-4
    drop: float = 0.0
    epochs: int = 10
    step: float = 2e-3
    smooth: float = 0.0
    batch: int = 512
    discriminant: float = 0.1
    shrink: float = 0.6
    weight: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Standard:
    """What is taken off each feature, and what it is then multiplied by."""

    mean: Floats
    scale: Floats

    def __call__(self, features: Floats) -> Floats:
        """Rows of mean 0 and deviation 1, of the features' shape."""
        return np.asarray((features - self.mean) * self.scale, np.float32)


@dataclass(frozen=True, kw_only=True)
class Member:
    """One fitted net: weights and biases, first layer first."""

    layers: Layers = field(repr=False)

    def __call__(self, rows: Floats) -> Floats:
        """Outputs for standardised rows, shape (n, classes)."""
        for depth, (weights, bias) in enumerate(self.layers):
            if depth:
                rows = np.maximum(rows, 0)
            rows = rows @ weights + bias
        return rows


def standardise(features: Floats) -> Standard:
    """Means and inverse deviations of the features, shape (n, 1249)."""
    spread = features.std(axis=0)
    return Standard(
        mean=features.mean(axis=0).astype(np.float32),
        scale=(1 / np.maximum(spread, 1e-3)).astype(np.float32),
    )


def arrays() -> Any:
    """CuPy where it finds a graphics processor, otherwise NumPy."""
    try:
        import cupy

        cupy.cuda.runtime.getDeviceCount()
    except Exception:  # noqa: BLE001 - no package, no driver, no device: each has its own error
        return np
    return cupy


def fit_member(
    rows: Floats,
    labels: NDArray[np.int64],
    classes: int,
    recipe: Recipe,
    seed: int,
    weights: Floats | None = None,
) -> Member:
    """Fit one net to standardised rows; `weights` (shape (n,)) says how much each one counts."""
    rng = np.random.default_rng(seed)
    xp = arrays()
    lots = xp.random.default_rng(seed)
    sizes = [rows.shape[1], *recipe.hidden, classes]
    flat: list[Any] = []
    for inputs, outputs in pairwise(sizes):
        size = np.sqrt(2 / inputs) if recipe.hidden else 0.01 / np.sqrt(inputs)
        flat.append(xp.asarray((rng.standard_normal((inputs, outputs)) * size).astype(np.float32)))
        flat.append(xp.zeros(outputs, np.float32))
    moment = [xp.zeros_like(p) for p in flat]
    square = [xp.zeros_like(p) for p in flat]
    here, named = xp.asarray(rows), xp.asarray(labels)
    counted = None if weights is None else xp.asarray(weights)
    batches = max(1, len(rows) // recipe.batch)
    total = recipe.epochs * batches
    done = 0
    for _ in range(recipe.epochs):
        order = xp.asarray(rng.permutation(len(rows)))
        for number in range(batches):
            picked = order[number * recipe.batch : (number + 1) * recipe.batch]
            share = None if counted is None else counted[picked]
            gradients = _gradients(xp, flat, here[picked], named[picked], share, recipe, lots)
            done += 1
            warm = min(1.0, done / (0.05 * total + 1))
            step = recipe.step * warm * 0.5 * (1 + float(np.cos(np.pi * done / total)))
            for p, g, m, v in zip(flat, gradients, moment, square, strict=True):
                m += 0.1 * (g - m)
                v += 0.001 * (g * g - v)
                p -= step * (m / (1 - 0.9**done)) / (xp.sqrt(v / (1 - 0.999**done)) + 1e-8)
    back = [p if xp is np else xp.asnumpy(p) for p in flat]
    return Member(layers=[(back[i], back[i + 1]) for i in range(0, len(back), 2)])


def add_discriminant(
    member: Member, rows: Floats, labels: NDArray[np.int64], recipe: Recipe
) -> Member:
    """Add a share of Fisher's linear discriminant to a logistic regression.

    With few examples of a phrase its mean is surer than what the regression makes of it; the
    covariance is shared by all phrases. Other (column 0) is too wide for a mean and gets nought.
    """
    (weights, bias), classes = member.layers[0], member.layers[0][1].size
    counts = np.maximum(np.bincount(labels, minlength=classes), 1)
    means = np.zeros((classes, rows.shape[1]), np.float32)
    np.add.at(means, labels, rows)
    means /= counts[:, None]
    within = (rows - means[labels])[labels > 0]
    spread = within.T @ within / max(1, len(within) - classes)
    round_one = np.trace(spread) / len(spread) * np.eye(len(spread), dtype=np.float32)
    spread = (1 - recipe.shrink) * spread + recipe.shrink * round_one
    middle = means[1:].mean(axis=0)
    apart = means - middle
    slopes = np.linalg.solve(spread, apart.T).astype(np.float32)
    offsets = -0.5 * np.sum(apart * slopes.T, axis=1) - middle @ slopes
    slopes[:, 0], offsets[0] = 0, 0
    share = np.float32(recipe.discriminant)
    added = (bias + share * offsets).astype(np.float32)
    return Member(layers=[(weights + share * slopes, added)])


def weigh(member: Member, weight: float) -> Member:
    """Return the member with its outputs multiplied: a head takes the plain mean of its members."""
    *inner, (weights, bias) = member.layers
    factor = np.float32(weight)
    return Member(layers=[*inner, (weights * factor, bias * factor)])


def _gradients(
    xp: Any,
    flat: Sequence[Any],
    batch: Any,
    labels: Any,
    share: Any,
    recipe: Recipe,
    lots: Any,
) -> list[Any]:
    depth = len(flat) // 2
    inputs: list[Any] = []
    masks: list[Any] = []
    hidden = batch
    for layer in range(depth):
        if layer:
            hidden = xp.maximum(hidden, 0)
        mask = None
        if recipe.drop:
            kept = lots.random(hidden.shape, np.float32) >= recipe.drop
            mask = kept.astype(np.float32) / np.float32(1 - recipe.drop)
            hidden = hidden * mask
        inputs.append(hidden)
        masks.append(mask)
        hidden = hidden @ flat[2 * layer] + flat[2 * layer + 1]
    powers = xp.exp(hidden - hidden.max(axis=1, keepdims=True))
    error = powers / powers.sum(axis=1, keepdims=True)
    classes = error.shape[1]
    error -= recipe.smooth / classes
    error[xp.arange(len(labels)), labels] -= 1 - recipe.smooth
    if share is not None:
        error *= share[:, None]
    error /= len(labels)
    gradients: list[Any] = []
    for layer in reversed(range(depth)):
        slope = inputs[layer].T @ error + np.float32(2 * recipe.l2) * flat[2 * layer]
        gradients[:0] = [slope, error.sum(axis=0)]
        if layer:
            error = error @ flat[2 * layer].T
            mask = masks[layer]
            if mask is not None:
                error = error * mask
            error = error * (inputs[layer] > 0)
    return gradients


def save_head(
    file: Path,
    phrases: Sequence[str],
    standard: Standard,
    members: Sequence[Member],
    *,
    temperature: float,
    closed_weight: float,
    notes: str,
) -> None:
    """Write a head that `handsfree.hearing.ear.Head` reads; `notes` say how it was made."""
    arrays: dict[str, NDArray[np.generic]] = {
        "form": np.array(FORM),
        "notes": np.array(notes),
        "phrases": np.array(phrases),
        "temperature": np.array(temperature),
        "closed_weight": np.array(closed_weight),
        "mean": standard.mean,
        "scale": standard.scale,
    }
    for number, member in enumerate(members):
        for layer, (weights, bias) in enumerate(member.layers):
            arrays[f"w{number}_{layer}"] = weights.astype(np.float16)
            arrays[f"b{number}_{layer}"] = bias
    file.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(file, **arrays)  # type: ignore[arg-type]
