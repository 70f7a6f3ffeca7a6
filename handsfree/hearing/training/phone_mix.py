"""Makes one phone network of several: ``python -m ...phone_mix --out FILE NETWORK=SHARE ...``.

The weights are averaged ("model soups", Wortsman and others, 2022). That works where the networks
were trained on from the same one, and does best where each was trained on something else. A network
with fewer blocks than another is grown first, as it is when training goes on with more blocks.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import CallerError, HandsfreeError
from handsfree.hearing.phones import PhoneNetwork
from handsfree.hearing.training.phone_model import Weights, read_weights, write_network

__all__ = ["grown", "main", "mixed"]

_SLIGHT = 0.03
"""Size of a new block's output beside what enters it: enough to learn from."""
_SEED = 5


def grown(weights: Weights, blocks: int, seed: int = _SEED) -> Weights:
    """Return a deeper network that answers nearly as before: new blocks add next to nothing.

    Args:
        weights: Of the network.
        blocks: How many it is to have; the new ones are spread evenly among the old.
        seed: Of the new weights.

    Raises:
        CallerError: It has more already, or less than half as many.
    """
    more = blocks - len(weights.blocks)
    if not 0 <= more <= len(weights.blocks):
        msg = f"A network of {len(weights.blocks)} blocks cannot be grown to {blocks} in one go."
        raise CallerError(msg)
    rng = np.random.default_rng(seed)
    after = set(np.linspace(0, len(weights.blocks) - 1, more).round().astype(int).tolist())
    found = []
    for place, block in enumerate(weights.blocks):
        found.append(block)
        if place in after:
            along, across, bias = block
            depth = rng.normal(0.0, 0.1, along.shape)
            depth[:, along.shape[1] // 2] += 0.5
            point = rng.normal(0.0, _SLIGHT / math.sqrt(len(across)), across.shape)
            below = np.full(bias.shape, -_SLIGHT / 3, np.float32)
            found.append((depth.astype(np.float32), point.astype(np.float32), below))
    return Weights(stem=weights.stem, blocks=found, out=weights.out)


def mixed(parts: Sequence[tuple[Weights, float]]) -> Weights:
    """Return the mean of networks of one shape.

    Args:
        parts: Each network and its share; the shares make one.

    Raises:
        CallerError: There is none, the shares do not make one, or the shapes differ.
    """
    shares = [share for _, share in parts]
    if not parts or not math.isclose(sum(shares), 1.0, abs_tol=1e-6):
        msg = f"The shares of the networks make {sum(shares):g}, not 1."
        raise CallerError(msg)
    shapes = {
        tuple(array.shape for layer in (one.stem, *one.blocks, one.out) for array in layer)
        for one, _ in parts
    }
    if len(shapes) != 1:
        msg = "The networks have other channels: only networks of one shape can be mixed."
        raise CallerError(msg)

    def mean(arrays: Sequence[NDArray[np.float32]]) -> NDArray[np.float32]:
        total = sum(s * a.astype(np.float64) for s, a in zip(shares, arrays, strict=True))
        return np.asarray(total, np.float32)

    every = [one for one, _ in parts]
    stem = mean([w.stem[0] for w in every]), mean([w.stem[1] for w in every])
    out = mean([w.out[0] for w in every]), mean([w.out[1] for w in every])
    blocks = [
        (mean([b[0] for b in same]), mean([b[1] for b in same]), mean([b[2] for b in same]))
        for same in zip(*(w.blocks for w in every), strict=True)
    ]
    return Weights(stem=stem, blocks=blocks, out=out)


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line; the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m handsfree.hearing.training.phone_mix",
        description=(__doc__ or "").splitlines()[0],
    )
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=_SEED, help="of the blocks that are grown")
    parser.add_argument("networks", nargs="+", metavar="NETWORK=SHARE")
    given = parser.parse_args(arguments)
    try:
        parts = [_part(text) for text in given.networks]
        read = [(read_weights(file), share) for file, share in parts]
        most = max(len(one.blocks) for one, _ in read)
        whole = mixed([(grown(one, most, given.seed), share) for one, share in read])
        write_network(given.out, PhoneNetwork(parts[0][0]).phones, whole)
    except HandsfreeError as wrong:
        print(wrong, file=sys.stderr)
        return wrong.exit_code
    print(f"Written: {given.out}, {len(parts)} networks, {most} blocks.")
    return 0


def _part(text: str) -> tuple[Path, float]:
    file, _, share = text.rpartition("=")
    try:
        return Path(file), float(share)
    except ValueError:
        msg = f"{text!r} is not NETWORK=SHARE."
        raise CallerError(msg) from None


if __name__ == "__main__":
    sys.exit(main())
