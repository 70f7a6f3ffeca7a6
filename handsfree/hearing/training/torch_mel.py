"""Mel frames in PyTorch: what ``ear.embedding.Embedder`` makes, for many sounds at once.

A frame is the power spectrum of 25 ms under Hann's window, summed in 32 bands, in dB. The bands'
weights are not written down here: they are measured on the network that the program runs, tone by
tone, so that training and running cannot part.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import FLOOR_DB, FRAME_SAMPLES, MEL_BANDS
from handsfree.hearing.ear.tflite import Network, network_file
from handsfree.hearing.phones.frames import AFTER_SAMPLES, BEFORE_SAMPLES, LEVEL_DB, LOUD

__all__ = ["MelFrames", "levelled", "mel_weights", "warped", "window"]

_SPAN = 512
_HANN = 400
_TONE = 8000.0
_LEAST_POWER = 1e-10
_BENT_HZ = 4800.0
"""Above it a warp runs back, so that the highest frequency stays."""
_TOP_HZ = 8000.0


def window() -> NDArray[np.float64]:
    """Return the window of a frame, shape (512,): 400 samples of Hann's in its middle."""
    out = np.zeros(_SPAN)
    first = (_SPAN - _HANN) // 2
    out[first : first + _HANN] = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(_HANN) / _HANN)
    return out


@cache
def mel_weights() -> NDArray[np.float64]:
    """Return the weight of each frequency in each band, shape (257, 32), as the network has it.

    One tone a frequency is shown to the network; their spectra being known, its answers tell the
    weights.

    Raises:
        EarUnavailable: The network cannot run here.
    """
    network = Network(network_file("melspectrogram"), (1, _SPAN))
    turns = np.arange(_SPAN // 2 + 1)[:, None] * np.arange(_SPAN) / _SPAN
    tones = (_TONE * np.cos(2 * np.pi * turns)).astype(np.float32)
    power = np.abs(np.fft.rfft(tones.astype(np.float64) * window())) ** 2
    answers_db = np.stack([network(tone[None]).reshape(MEL_BANDS) for tone in tones])
    found = np.linalg.solve(power, 10 ** (answers_db.astype(np.float64) / 10))
    found[found < found.max() * 1e-6] = 0.0  # what the network's own floor leaves
    return np.asarray(found)


def warped(weights: NDArray[np.float64], warp: float) -> NDArray[np.float64]:
    """Return the bands' weights for a throat of another length, shape (257, 32).

    With them a sound has the bands that its frequencies moved by the factor `warp` would have
    (Jaitly and Hinton, 2013); 1.1 is a shorter throat.
    """
    bins = np.linspace(0.0, _TOP_HZ, _SPAN // 2 + 1)
    bent = _BENT_HZ * min(warp, 1.0) / warp
    moved = np.interp(bins, [0.0, bent, _TOP_HZ], [0.0, bent * warp, _TOP_HZ])
    pace = np.gradient(moved, bins)
    columns = [np.interp(moved, bins, column) * pace for column in weights.T]
    return np.asarray(np.stack(columns, 1))


class MelFrames:
    """Makes frames on a device.

    Args:
        torch: The module.
        device: As PyTorch names it.
        warps: Lengths of throats, see ``warped``, of which one may be chosen for each sound.
    """

    def __init__(self, torch: Any, device: str, warps: Sequence[float] = ()) -> None:
        self._torch = torch
        self._window = torch.from_numpy(window().astype(np.float32)).to(device)
        weights = np.stack([mel_weights(), *(warped(mel_weights(), one) for one in warps)])
        self._weights = torch.from_numpy(weights.astype(np.float32)).to(device)

    def __call__(self, sound: Any, throat: Any = None) -> Any:
        """Return frames in dB, shape (batch, n, 32).

        Args:
            sound: In units of int16, float32, shape (batch, samples), 512 of them at least.
            throat: For each sound a warp's number, counted from 1, or 0 for none; shape (batch,).
        """
        torch = self._torch
        spectrum = torch.fft.rfft(sound.unfold(1, _SPAN, FRAME_SAMPLES) * self._window)
        weights = self._weights[0] if throat is None else self._weights[throat]
        power = (spectrum.real**2 + spectrum.imag**2) @ weights
        return (10 * torch.log10(power.clamp(min=_LEAST_POWER))).clamp(min=FLOOR_DB)


def levelled(
    torch: Any, frames: Any, start: Any, end: Any, after: Any = None, pace: Any = None
) -> tuple[Any, Any]:
    """Cut utterances out and bring each to one level, as ``phones.frames.placed_frames`` does.

    Args:
        torch: The module.
        frames: In dB, shape (batch, n, 32), the first beginning at sample 0.
        start: First sample of each utterance, 0.30 s or more; shape (batch,), whole numbers.
        end: One past its last.
        after: Samples kept after each; 0.22 s unless given.
        pace: How much quicker each shall be, at the same pitch; frames between frames are read off
            straight lines. As it is unless given.

    Returns:
        Frames in dB, shape (batch, most, 32), and how many of them each utterance has.
    """
    first = start - BEFORE_SAMPLES
    begin = ((first.float() / FRAME_SAMPLES).round()).long()
    kept = AFTER_SAMPLES if after is None else after
    count = ((end + kept - first) // FRAME_SAMPLES).clamp(min=1)
    count = torch.minimum(count, frames.shape[1] - begin)
    if pace is not None:
        count = (count / pace).long().clamp(min=1)
    most = int(count.max())
    place = torch.arange(most, device=frames.device)[None]
    known = place < count[:, None]
    if pace is None:
        cut = _picked(torch, frames, begin[:, None] + place)
    else:
        place = place * pace[:, None]
        whole = place.long()
        part = (place - whole)[..., None]
        early = _picked(torch, frames, begin[:, None] + whole)
        cut = early + part * (_picked(torch, frames, begin[:, None] + whole + 1) - early)
    middle = first[:, None] + FRAME_SAMPLES * place + _SPAN // 2
    inside = known & (middle >= start[:, None]) & (middle < end[:, None])
    inside = torch.where(inside.any(1, keepdim=True), inside, known)
    loudest = cut.amax(2).masked_fill(~inside, float("nan"))
    loud = torch.nanquantile(loudest, LOUD, dim=1)
    cut = (cut + (LEVEL_DB - loud)[:, None, None]).clamp(min=FLOOR_DB)
    return cut, count


def _picked(torch: Any, frames: Any, index: Any) -> Any:
    """Frames by their numbers, the last one where there are no more."""
    index = index.clamp(max=frames.shape[1] - 1)
    return torch.gather(frames, 1, index[..., None].expand(-1, -1, MEL_BANDS))
