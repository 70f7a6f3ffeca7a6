"""The phone network as PyTorch trains it, and its weights as the program reads them.

In training, convolutions and batch norms stand apart; for the program each batch norm is folded
into the weights before it, so that NumPy alone can run the network. PyTorch is imported only where
it is needed: the weights can be written without it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.ear.embedding import MEL_BANDS
from handsfree.hearing.phones.network import FORM, MIDDLE_DB, SPREAD_DB, STEM, PhoneNetwork

__all__ = ["Model", "Weights", "load_torch", "read_weights", "scaled", "write_network"]

Floats = NDArray[np.float32]

KERNEL = 11
"""Outputs that each block looks at: 0.22 s."""
DROP = 0.1


def load_torch() -> Any:
    """Return the module ``torch``.

    Raises:
        EngineError: It is not installed.
    """
    try:
        import torch
    except ImportError as missing:
        msg = (
            f"PyTorch, which trains the phone network, is not installed here ({missing}). "
            f"Install the extra 'train': pip install 'handsfree[train]'"
        )
        raise EngineError(msg) from None
    return torch


def scaled(frames: Any) -> Any:
    """Return frames in dB, an array or tensor of any shape, in the network's own scale."""
    return (frames - MIDDLE_DB) / SPREAD_DB


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What the program needs of a network, batch norms folded.

    Attributes:
        stem: Weights of shape (channels, 32, 5), and a bias.
        blocks: For each block its kernels in time (channels, 11), its weights across channels
            (in, out) and a bias.
        out: Weights of shape (channels, 1 + phones), and a bias.
    """

    stem: tuple[Floats, Floats] = field(repr=False)
    blocks: Sequence[tuple[Floats, Floats, Floats]] = field(repr=False)
    out: tuple[Floats, Floats] = field(repr=False)


def write_network(file: Path, phones: Sequence[str], weights: Weights) -> None:
    """Write an ``.npz`` that ``phones.PhoneNetwork`` reads, in half precision.

    A run that is stopped leaves the file as it was.
    """
    arrays: dict[str, Any] = {
        "form": np.array(FORM),
        "blocks": np.array(len(weights.blocks)),
        "phones": np.array(list(phones)),
        "stem_w": weights.stem[0].astype(np.float16),
        "stem_b": weights.stem[1].astype(np.float16),
        "out_w": weights.out[0].astype(np.float16),
        "out_b": weights.out[1].astype(np.float16),
    }
    for number, block in enumerate(weights.blocks):
        for name, values in zip(("depth", "point", "bias"), block, strict=True):
            arrays[f"{name}{number}"] = values.astype(np.float16)
    file.parent.mkdir(parents=True, exist_ok=True)
    partial = file.with_suffix(f".{os.getpid()}.part")
    with partial.open("wb") as opened:
        np.savez_compressed(opened, **arrays)
    partial.replace(file)


def read_weights(file: Path) -> Weights:
    """Return what ``write_network`` wrote, in the precision of the file.

    Raises:
        DataError: The file is missing, broken or of another form.
    """
    network = PhoneNetwork(file)
    return Weights(stem=network.stem, blocks=network.blocks, out=network.out)


class Model:
    """The network in training.

    Args:
        torch: The module.
        channels: Of each block.
        blocks: How many.
        outputs: Blank and phones.
        device: Where it is, as PyTorch names it.
    """

    def __init__(self, torch: Any, channels: int, blocks: int, outputs: int, device: str) -> None:
        nn = torch.nn
        self._torch = torch
        # Convolutions have no bias of their own: the batch norm behind them has one.
        self._stem = nn.Conv1d(MEL_BANDS, channels, STEM, stride=2, padding=STEM // 2, bias=False)
        self._stem_norm = nn.BatchNorm1d(channels)
        self._depth, self._point, self._norm = nn.ModuleList(), nn.ModuleList(), nn.ModuleList()
        for _ in range(blocks):
            along = nn.Conv1d(
                channels, channels, KERNEL, padding=KERNEL // 2, groups=channels, bias=False
            )
            self._depth.append(along)
            self._point.append(nn.Conv1d(channels, channels, 1, bias=False))
            self._norm.append(nn.BatchNorm1d(channels))
        self._drop = nn.Dropout(DROP)
        self._out = nn.Conv1d(channels, outputs, 1)
        parts = (self._stem, self._stem_norm, self._depth, self._point, self._norm, self._drop)
        self.module = nn.ModuleList([*parts, self._out]).to(device)

    def __call__(self, x: Any, mask: Any) -> Any:
        """Return logits, shape (batch, outputs, steps).

        Args:
            x: Scaled frames, shape (batch, 32, frames); noughts past each utterance's end.
            mask: One where an utterance has a step, else nought; shape (batch, 1, steps).
        """
        relu = self._torch.relu
        # Masked after each layer: for the program nothing lies beyond an utterance's end.
        x = relu(self._stem_norm(self._stem(x))) * mask
        for depth, point, norm in zip(self._depth, self._point, self._norm, strict=True):
            x = (x + self._drop(relu(norm(point(depth(x)))))) * mask
        return self._out(x)

    def take(self, weights: Weights, x: Any, mask: Any) -> None:
        """Begin with weights of before, of the same shape.

        A batch norm that was folded into them is told apart again by what the batch measures, so
        that right after this the network answers the batch as it did.

        Args:
            weights: As ``folded`` returned them.
            x: A batch as for ``__call__``, like those of the training.
            mask: Of it.

        Raises:
            EngineError: The weights are of another shape.
        """
        torch = self._torch
        parts = [
            (self._stem, self._stem_norm, *weights.stem),
            *(
                (point, norm, across.T[..., None], bias)
                for point, norm, (_, across, bias) in zip(
                    self._point, self._norm, weights.blocks, strict=False
                )
            ),
        ]
        plain = [
            (self._out.weight, weights.out[0].T[..., None]),
            (self._out.bias, weights.out[1]),
            *(
                (depth.weight, along[:, None])
                for depth, (along, _, _) in zip(self._depth, weights.blocks, strict=False)
            ),
            *((convolution.weight, values) for convolution, _, values, _ in parts),
        ]
        given = [tuple(values.shape) for _, values in plain]
        if len(weights.blocks) != len(self._norm) or given != [tuple(p.shape) for p, _ in plain]:
            msg = "The network to begin with has other blocks or channels than asked for."
            raise EngineError(msg)

        def tell_apart(bias: Any) -> Callable[[Any, Any], None]:
            def measure(norm: Any, inputs: Any) -> None:
                variance, mean = torch.var_mean(inputs[0].float(), (0, 2), correction=0)
                norm.running_mean.copy_(mean)
                norm.running_var.copy_(variance)
                norm.weight.copy_((variance + norm.eps).sqrt())
                norm.bias.copy_(bias + mean)

            return measure

        self.module.eval()
        with torch.no_grad():
            for parameter, values in plain:
                parameter.copy_(torch.from_numpy(np.ascontiguousarray(values)))
            hooks = [
                norm.register_forward_pre_hook(tell_apart(torch.from_numpy(bias).to(x.device)))
                for _, norm, _, bias in parts
            ]
            self(x, mask)
        for hook in hooks:
            hook.remove()

    def folded(self) -> Weights:
        """Return the weights for the program."""
        stem, stem_bias = self._fold(self._stem, self._stem_norm)
        blocks: list[tuple[Floats, Floats, Floats]] = []
        for depth, point, norm in zip(self._depth, self._point, self._norm, strict=True):
            across, bias = self._fold(point, norm)
            blocks.append((_array(depth.weight)[:, 0], across[..., 0].T, bias))
        out = _array(self._out.weight)[..., 0].T, _array(self._out.bias)
        return Weights(stem=(stem, stem_bias), blocks=blocks, out=out)

    def _fold(self, convolution: Any, norm: Any) -> tuple[Floats, Floats]:
        """Weights and bias that do at once what the convolution and the batch norm do."""
        factor = norm.weight / (norm.running_var + norm.eps).sqrt()
        weights = convolution.weight * factor[:, None, None]
        return _array(weights), _array(norm.bias - norm.running_mean * factor)


def _array(tensor: Any) -> Floats:
    return np.asarray(tensor.detach().float().cpu().numpy(), np.float32)
