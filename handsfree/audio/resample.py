"""Changing the sampling rate: a polyphase windowed-sinc filter, for whole sounds and for streams.

NumPy alone, because importing SciPy would cost a good part of the second that a command may take
to its first spoken sample. No files and no devices here.
"""

from __future__ import annotations

from functools import cache
from math import ceil, gcd

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import Samples

__all__ = ["Resampler", "resample", "to_int16"]

_ZERO_CROSSINGS = 24
"""Half length of the filter, in zero crossings of its sinc: about 80 dB of stop band."""

_ROLLOFF = 0.93
"""Share of the lower Nyquist frequency that passes; the rest is the transition band."""

_KAISER_BETA = 8.0

Floats = NDArray[np.float32]


@cache
def _filter_bank(up: int, down: int) -> Floats:
    """Return one filter per output phase, shape (up, taps), each summing to one."""
    cutoff = _ROLLOFF * min(1.0, up / down)
    half = ceil(_ZERO_CROSSINGS / cutoff)
    offsets = np.arange(-half + 1, half + 1, dtype=np.float64)
    # An output of phase p lies p/up of an input sample after the tap at offset 0.
    time = offsets[None, :] - (np.arange(up, dtype=np.float64) / up)[:, None]
    inside = np.clip(1.0 - (time / half) ** 2, 0.0, None)
    bank = cutoff * np.sinc(cutoff * time) * np.i0(_KAISER_BETA * np.sqrt(inside))
    bank /= bank.sum(axis=1, keepdims=True)
    return bank.astype(np.float32)


class Resampler:
    """Resamples a stream piece by piece.

    Output sample n stands for the time n / rate_out of the input: the filter's delay is taken out,
    so that positions can be converted by the ratio of the rates alone. The last few milliseconds
    of input are held back until more comes or `flush` is called.

    Args:
        rate_in: Samples per second that come in.
        rate_out: Samples per second that go out.
    """

    def __init__(self, rate_in: int, rate_out: int) -> None:
        if rate_in <= 0 or rate_out <= 0:
            msg = f"a sampling rate must be above zero, not {rate_in} and {rate_out}"
            raise ValueError(msg)
        divisor = gcd(rate_in, rate_out)
        self._up, self._down = rate_out // divisor, rate_in // divisor
        self._bank = _filter_bank(self._up, self._down)
        self._half = self._bank.shape[1] // 2
        # Input from index `_first` on; zeros stand before the beginning.
        self._held: Floats = np.zeros(self._half - 1, dtype=np.float32)
        self._first = -(self._half - 1)
        self._made = 0
        self._taken = 0

    def push(self, samples: NDArray[np.number]) -> Floats:
        """Take input, shape (n,), any scale; return what can be made of it so far."""
        self._taken += len(samples)
        self._held = np.concatenate([self._held, samples.astype(np.float32)])
        return self._make()

    def flush(self) -> Floats:
        """Return the rest, so that all output lasts as long as all input did."""
        wanted = ceil(self._taken * self._up / self._down)
        padding = np.zeros(self._half + self._down, dtype=np.float32)
        self._held = np.concatenate([self._held, padding])
        return self._make(limit=wanted)

    def _make(self, limit: int | None = None) -> Floats:
        # Output n needs input up to floor(n * down / up) + half.
        last = self._first + len(self._held) - 1 - self._half
        count = (last * self._up + self._up - 1) // self._down + 1 if last >= 0 else 0
        if limit is not None:
            count = min(count, limit)
        if count <= self._made:
            return np.zeros(0, dtype=np.float32)
        pieces = []
        for start in range(self._made, count, 8192):
            numbers = np.arange(start, min(start + 8192, count)) * self._down
            index, phase = numbers // self._up, numbers % self._up
            at = index - self._first - (self._half - 1)
            windows = np.lib.stride_tricks.sliding_window_view(self._held, 2 * self._half)
            pieces.append(np.einsum("ij,ij->i", windows[at], self._bank[phase]))
        self._made = count
        keep = self._made * self._down // self._up - (self._half - 1)
        if keep > self._first:
            self._held = self._held[keep - self._first :]
            self._first = keep
        return np.concatenate(pieces)


def to_int16(samples: NDArray[np.floating]) -> Samples:
    """Round to int16 and clip what lies outside."""
    rounded: Samples = np.clip(np.rint(samples), -32768, 32767).astype(np.int16)
    return rounded


def resample(samples: NDArray[np.number], rate_in: int, rate_out: int) -> Floats:
    """Return ``samples``, shape (n,), at ``rate_out``; the scale stays as it is."""
    if rate_in == rate_out:
        return samples.astype(np.float32)
    resampler = Resampler(rate_in, rate_out)
    return np.concatenate([resampler.push(samples), resampler.flush()])
