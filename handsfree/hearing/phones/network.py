"""The network: from mel frames to how likely each phone is, every 20 ms.

A stem that halves the rate, then residual blocks of convolutions parted into time and channels (as
in arXiv 1910.10261), trained with connectionist temporal classification (Graves and others, 2006):
output 0 is "blank", no new phone. NumPy alone runs it: about 13 ms for a second of sound.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import DataError
from handsfree.hearing.ear.embedding import MEL_BANDS

__all__ = ["BLANK", "FORM", "MIDDLE_DB", "SPREAD_DB", "STEM", "PhoneNetwork", "load_network"]

FORM = "handsfree-phones-1"
BLANK = 0
STEM = 5
"""Frames that the stem looks at; it moves by two."""
MIDDLE_DB, SPREAD_DB = 60.0, 15.0
"""Frames are scaled by these before the stem."""


class PhoneNetwork:
    """The network as read from its file.

    Args:
        file: An ``.npz`` that ``handsfree.hearing.training.phone_net`` has written.

    Attributes:
        phones: Its phones; output k + 1 is phone k.
        stem: Weights of shape (channels, 32, 5), and a bias.
        blocks: For each block its kernels in time (channels, 11), its weights across channels
            (in, out) and a bias.
        out: Weights of shape (channels, 1 + phones), and a bias.

    Raises:
        DataError: The file is missing, broken or of another form.
    """

    def __init__(self, file: Path) -> None:
        try:
            with np.load(file, allow_pickle=False) as arrays:
                if str(arrays["form"]) != FORM:
                    raise ValueError(str(arrays["form"]))
                self.phones = tuple(str(phone) for phone in arrays["phones"])
                self.stem = arrays["stem_w"].astype(np.float32), _floats(arrays["stem_b"])
                self.blocks = [
                    (
                        _floats(arrays[f"depth{n}"]),
                        _floats(arrays[f"point{n}"]),
                        _floats(arrays[f"bias{n}"]),
                    )
                    for n in range(int(arrays["blocks"]))
                ]
                self.out = _floats(arrays["out_w"]), _floats(arrays["out_b"])
        except (OSError, ValueError, KeyError, BadZipFile) as wrong:
            msg = (
                f"the phone network {file.name} cannot be read ({wrong}). Install handsfree again, "
                f"or make it: python -m handsfree.hearing.training.phone_net"
            )
            raise DataError(msg) from None

    def __call__(self, frames: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return log probabilities, shape (ceil(n / 2), 1 + phones), of frames (n, 32) in dB."""
        if frames.ndim != 2 or frames.shape[1] != MEL_BANDS:
            msg = f"frames must be rows of {MEL_BANDS} bands, not of shape {frames.shape}"
            raise ValueError(msg)
        weights, bias = self.stem
        count = -(-len(frames) // 2)
        scaled = (frames - MIDDLE_DB) / SPREAD_DB
        padded = np.pad(scaled, ((STEM // 2, STEM // 2 + 1), (0, 0)))
        spans = 2 * np.arange(count)[:, None] + np.arange(STEM)
        x = padded[spans].transpose(0, 2, 1).reshape(count, STEM * MEL_BANDS)
        x = np.maximum(x @ weights.reshape(len(weights), -1).T + bias, 0.0)
        for depth, point, offset in self.blocks:
            y = _along(x, depth) @ point  # in place from here on: memory is what takes the time
            y += offset
            np.maximum(y, 0.0, out=y)
            x += y
        logits = x @ self.out[0] + self.out[1]
        logits -= logits.max(axis=1, keepdims=True)
        return np.asarray(logits - np.log(np.exp(logits).sum(axis=1, keepdims=True)), np.float32)


def _along(x: NDArray[np.float32], kernel: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return each channel of ``x``, shape (n, c), convolved in time with its row of ``kernel``."""
    width, count = kernel.shape[1], len(x)
    steps = np.ascontiguousarray(kernel.T)
    padded = np.zeros((count + width - 1, x.shape[1]), np.float32)
    padded[width // 2 : width // 2 + count] = x
    total: NDArray[np.float32] = padded[:count] * steps[0]
    product = np.empty_like(total)
    for shift in range(1, width):
        np.multiply(padded[shift : shift + count], steps[shift], out=product)
        total += product
    return total


def _floats(values: NDArray[np.float16]) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, np.float32)


@cache
def load_network() -> PhoneNetwork:
    """Return the network that is shipped with the program."""
    with resources.as_file(resources.files("handsfree.hearing.phones") / "network.npz") as file:
        return PhoneNetwork(file)
