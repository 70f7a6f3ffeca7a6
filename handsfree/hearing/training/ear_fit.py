"""Trains the ear's embedding network on, with heads over it, on sound harmed afresh in every batch.

AdamW (Loshchilov and Hutter, 2019), one cycle of a cosine, and the running mean of the weights
(Polyak and Juditsky, 1992). Heads of several forms learn side by side and steer the network
together; nobody's weights are in another's loss.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.ear.utterance import FEATURES
from handsfree.hearing.training.ear_batches import EarBatches, features
from handsfree.hearing.training.phone_batches import Batches, Rows, alone, epoch
from handsfree.hearing.training.phone_fit import RunningMean, cosine
from handsfree.hearing.training.phone_harm import USUAL, Bank, Noisiness
from handsfree.hearing.training.phone_material import PhoneMaterial
from handsfree.hearing.training.torch_embedding import embedding_network

__all__ = ["EarRecipe", "Examples", "Fitted", "MemberRecipe", "examples", "fit_ear"]

_MEASURED = 24
"""Batches from which the features' means and deviations are taken."""
_TOGETHER = 4
"""Batches in a step: each is of clips of like length, and so of few phrases."""
_JUDGED_BATCH = 512


@dataclass(frozen=True, kw_only=True)
class MemberRecipe:
    """How one member of the head is fitted.

    Attributes:
        hidden: Units of each hidden layer; empty for a logistic regression.
        drop: Share of inputs of each layer that is dropped in training.
        decay: How strongly weights are drawn to nought.
        step: Largest step of AdamW.
    """

    hidden: tuple[int, ...] = ()
    drop: float = 0.0
    decay: float = 1e-2
    step: float = 2e-3


@dataclass(frozen=True, kw_only=True)
class EarRecipe:
    """How the head is fitted.

    Attributes:
        members: Its members.
        epochs: Passes over the material.
        minutes: Fit for so long instead, if given.
        batch: Outputs of 20 ms in a mini-batch, as the phone network counts.
        network_step: Largest step of the embedding network; 0 leaves it as it is.
        noisiness: How much noise there is.
    """

    members: Sequence[MemberRecipe] = (
        MemberRecipe(),
        MemberRecipe(hidden=(512, 512), drop=0.15),
    )
    epochs: int = 60
    minutes: float | None = None
    batch: int = 40000
    network_step: float = 4e-4
    noisiness: Noisiness = USUAL


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """What was fitted.

    Attributes:
        mean: What is taken off each feature, shape (1249,).
        scale: What it is then multiplied by.
        members: Of each its layers' weights, shape (inputs, outputs), and biases.
        network: Weights of the embedding network, where it has learnt too.
    """

    mean: NDArray[np.float32]
    scale: NDArray[np.float32]
    members: Sequence[list[tuple[NDArray[np.float32], NDArray[np.float32]]]]
    network: Mapping[str, NDArray[np.float32]] | None = None


@dataclass(frozen=True, kw_only=True)
class Examples:
    """Features of clips held back.

    Attributes:
        features: Shape (n, 1249).
        labels: Shape (n,).
        speakers: Engine and voice of each.
        harmed: Whether harm was done to it.
    """

    features: NDArray[np.float32]
    labels: NDArray[np.int64]
    speakers: NDArray[np.str_]
    harmed: NDArray[np.bool_]


class _Scaled:
    """Makes scaled features of rows of clips."""

    def __init__(self, torch: Any, batches: EarBatches, network: Any, device: str) -> None:
        self._torch, self._batches, self._network = torch, batches, network
        self._device = device
        self.mean = torch.zeros(FEATURES, device=device)
        self.scale = torch.ones(FEATURES, device=device)

    def measure(self, some: Sequence[Rows]) -> None:
        torch = self._torch
        found = torch.cat([self.plain(rows)[0] for rows in some])
        self.mean, spread = found.mean(0), found.std(0)
        self.scale = 1 / spread.clamp(min=1e-3)

    def plain(self, rows: Rows, *, harm: bool = True, learns: bool = False) -> tuple[Any, Any]:
        frames, seconds, labels = self._batches(rows, harm=harm)
        with self._torch.set_grad_enabled(learns):
            return features(self._torch, self._network, frames, seconds), labels

    def __call__(self, some: Sequence[Rows], *, learns: bool) -> tuple[Any, Any]:
        pairs = [self.plain(rows, learns=learns) for rows in some]
        found = self._torch.cat([one for one, _ in pairs])
        return (found - self.mean) * self.scale, self._torch.cat([labels for _, labels in pairs])


def _member(torch: Any, recipe: MemberRecipe, classes: int, device: str) -> Any:
    sizes = [FEATURES, *recipe.hidden, classes]
    layers: list[Any] = []
    for depth, (inputs, outputs) in enumerate(pairwise(sizes)):
        if depth:
            layers.append(torch.nn.ReLU())
        if recipe.drop:
            layers.append(torch.nn.Dropout(recipe.drop))
        layers.append(torch.nn.Linear(inputs, outputs))
    return torch.nn.Sequential(*layers).to(device)


def _stripped(member: Any) -> list[tuple[NDArray[np.float32], NDArray[np.float32]]]:
    state = [one.detach().float().cpu().numpy() for one in member.parameters()]
    return [(state[n].T.copy(), state[n + 1]) for n in range(0, len(state), 2)]


def _take(torch: Any, begin: Fitted, scaled: _Scaled, network: Any, members: Sequence[Any]) -> None:
    """Give everything the weights it had."""
    given = [[one.shape for pair in member for one in pair] for member in begin.members]
    wanted = [[tuple(one.t().shape) for one in member.parameters()] for member in members]
    if given != wanted:
        msg = "The head to begin with has members of another form than asked for."
        raise EngineError(msg)
    scaled.mean = torch.from_numpy(begin.mean).to(scaled.mean)
    scaled.scale = torch.from_numpy(begin.scale).to(scaled.scale)
    with torch.no_grad():
        for member, before in zip(members, begin.members, strict=True):
            values = (one for pair in before for one in pair)
            for parameter, one in zip(member.parameters(), values, strict=True):
                parameter.copy_(torch.from_numpy(np.ascontiguousarray(one.T)))
    if begin.network is not None:
        network.load_state_dict({name: torch.from_numpy(w) for name, w in begin.network.items()})


def fit_ear(
    torch: Any,
    material: PhoneMaterial,
    bank: Bank,
    index: Mapping[str, int],
    recipe: EarRecipe,
    seed: int,
    device: str,
    say: Callable[[str], None] = print,
    *,
    begin: Fitted | None = None,
) -> Fitted:
    """Return a head fitted to what is not held back.

    On a graphics processor sums are made in no fixed order, so the same seed gives another head of
    the same kind.

    Args:
        torch: The module.
        material: Clips, among them stretches that mean nothing (``with_pieces``).
        bank: Sounds to do harm with.
        index: The phrases' labels, from 1 on.
        recipe: How it is fitted.
        seed: Of all that is drawn by lot.
        device: ``cpu`` or ``cuda``.
        say: Told after each pass.
        begin: What was fitted before, to go on from, with members of the same form.

    Raises:
        EngineError: Those members are of another form.
    """
    torch.manual_seed(seed)
    torch.set_float32_matmul_precision("high")
    rng = np.random.default_rng(seed)
    network = embedding_network(torch).to(device).eval()
    sounds = Batches(torch, material, bank, device, seed, recipe.noisiness)
    scaled = _Scaled(torch, EarBatches(torch, material, sounds, index, device), network, device)
    members = [_member(torch, one, len(index) + 1, device) for one in recipe.members]
    if begin is None:
        scaled.measure(epoch(material, recipe.batch, rng)[:_MEASURED])
    else:
        _take(torch, begin, scaled, network, members)
    groups = [
        {"params": list(member.parameters()), "step": one.step, "weight_decay": one.decay}
        for member, one in zip(members, recipe.members, strict=True)
    ]
    learns = recipe.network_step > 0
    if learns:
        tuned = {"params": list(network.parameters()), "step": recipe.network_step}
        groups.append({**tuned, "weight_decay": 0.0})
    optimiser = torch.optim.AdamW(groups, lr=0.0, betas=(0.9, 0.98))
    means = [RunningMean(module) for module in (*members, network)]
    began, step, passed, done = time.monotonic(), 0, 0, 0.0
    while done < 1.0:
        losses: list[Any] = []
        planned = epoch(material, recipe.batch, rng)
        for first in range(0, len(planned), _TOGETHER):
            for group in optimiser.param_groups:
                group["lr"] = cosine(group["step"], done)
            rows, labels = scaled(planned[first : first + _TOGETHER], learns=learns)
            found = torch.stack(
                [torch.nn.functional.cross_entropy(member(rows), labels) for member in members]
            )
            optimiser.zero_grad()
            found.sum().backward()
            optimiser.step()
            for mean in means:
                mean.add(step)
            step += 1
            losses.append(found.detach())
            minutes = (time.monotonic() - began) / 60
            done = (passed + min(1.0, (first + _TOGETHER) / len(planned))) / recipe.epochs
            if recipe.minutes is not None:
                done = minutes / recipe.minutes
            if done >= 1.0:
                break
        passed += 1
        told = ", ".join(f"{loss:.3f}" for loss in torch.stack(losses).mean(0).tolist())
        say(f"Pass {passed}, step {step}, {minutes:.1f} min: losses {told}.")
    for mean in means:
        mean.use()
    state = {name: one.cpu().numpy() for name, one in network.state_dict().items()}
    return Fitted(
        network=state if learns else None,
        mean=scaled.mean.cpu().numpy(),
        scale=scaled.scale.cpu().numpy(),
        members=[_stripped(member) for member in members],
    )


def examples(
    torch: Any,
    material: PhoneMaterial,
    bank: Bank,
    index: Mapping[str, int],
    device: str,
    seed: int,
    network: Mapping[str, NDArray[np.float32]] | None = None,
    noisiness: Noisiness = USUAL,
) -> Examples:
    """Return features of the clips held back: each clean once and twice with all harm."""
    net = embedding_network(torch).to(device).eval()
    if network is not None:
        net.load_state_dict({name: torch.from_numpy(one) for name, one in network.items()})
    sounds = Batches(torch, material, bank, device, seed, noisiness)
    scaled = _Scaled(torch, EarBatches(torch, material, sounds, index, device), net, device)
    held = np.flatnonzero(material.held)
    held = held[np.argsort(material.lengths[held])]
    found: list[tuple[Any, Any, NDArray[np.str_], bool]] = []
    for harm in (False, True, True):
        for begin in range(0, len(held), _JUDGED_BATCH):
            clips = held[begin : begin + _JUDGED_BATCH]
            rows, labels = scaled.plain(alone(clips), harm=harm)
            found.append((rows.cpu().numpy(), labels.cpu().numpy(), material.speakers[clips], harm))
    return Examples(
        features=np.concatenate([rows for rows, *_ in found]),
        labels=np.concatenate([labels for _, labels, *_ in found]),
        speakers=np.concatenate([speakers for *_, speakers, _ in found]),
        harmed=np.concatenate([np.full(len(labels), harm) for _, labels, _, harm in found]),
    )
