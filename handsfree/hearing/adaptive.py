"""A linear echo canceller in NumPy: what we played, through an estimate of the room, is taken off.

A partitioned-block frequency-domain adaptive filter whose step is that of a Kalman filter, so that
it holds still while a person speaks (Enzner and Vary, Signal Processing 86, 2006; from memory). It
only subtracts: what a person says is never thinned out, unlike by cancellers that also suppress.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import to_int16
from handsfree.hearing.drift import ClockFollower

__all__ = ["LinearEcho"]

_BLOCK = SAMPLE_RATE // 100
_BINS = _BLOCK + 1
_KEEP = 0.9998
"""How much of the room's response is taken to stay the same from block to block (10 ms)."""
_SILENT = 30.0
_INERTIA = 0.6
"""Of the estimate of what is not echo; quick, so that a person's first sound holds the filter."""
_EMPTY = 0.01
"""Share of the response's power: a block with less holds no echo."""
_UNSURE = 0.01
"""The first doubt about each bin of the response."""


class LinearEcho:
    """Subtracts the echo of the reference, up to ``reach_s`` after it was played.

    Args:
        reach_s: Delay of the device and the room's ringing together.
    """

    def __init__(self, reach_s: float = 0.45) -> None:
        self._parts = round(reach_s * SAMPLE_RATE / _BLOCK)
        self._weights = np.zeros((self._parts, _BINS), np.complex128)
        self._doubt = np.full((self._parts, _BINS), _UNSURE)
        self._spectra = np.zeros((self._parts, _BINS), np.complex128)
        self._noise = np.full(_BINS, 1e4)
        self._before = np.zeros(_BLOCK)
        self._samples = np.zeros(0, np.int16)
        self._reference = np.zeros(0, np.int16)
        self._since_sound = 10**6
        self._turn = 0
        self._clock = ClockFollower()

    def process(self, samples: Samples, reference: Samples) -> tuple[Samples, Samples]:
        """Return the cleaned sound that is ready, in whole blocks of 10 ms, and its echo."""
        self._samples = np.concatenate([self._samples, samples])
        self._reference = np.concatenate([self._reference, reference])
        done, echoes = [np.zeros(0, np.int16)], [np.zeros(0, np.int16)]
        while len(self._samples) >= _BLOCK:
            near, self._samples = self._samples[:_BLOCK], self._samples[_BLOCK:]
            far, self._reference = self._reference[:_BLOCK], self._reference[_BLOCK:]
            loud = float(np.abs(far).max(initial=0)) > _SILENT
            self._since_sound = 0 if loud else self._since_sound + 1
            if self._since_sound > self._parts + 1:
                silence = far.astype(np.float64)
                self._rest(self._clock.rest(silence, sooner=self._begins_late))
                done.append(near)
                echoes.append(np.zeros(_BLOCK, np.int16))
            else:
                read = self._clock.read(far.astype(np.float64))
                clean, echo = self._block(near.astype(np.float64), read)
                done.append(clean)
                echoes.append(echo)
        return np.concatenate(done), np.concatenate(echoes)

    def _begins_late(self) -> bool:
        """Whether the response holds next to nothing in its first block: it could begin sooner."""
        power = np.square(self._weights.real) + np.square(self._weights.imag)
        return float(power[0].sum()) < _EMPTY * float(power.sum())

    def _rest(self, later: int) -> None:
        """Nothing of ours can be heard: keep the room's response, and be a little less sure.

        Args:
            later: Blocks by which the response has moved.
        """
        if self._spectra.any():
            self._spectra[:] = 0.0
            self._before[:] = 0.0
            self._doubt += 0.02 * np.abs(self._weights) ** 2
        if later:
            self._weights = np.roll(self._weights, later, axis=0)
            self._doubt = np.roll(self._doubt, later, axis=0)
            self._weights[0 if later > 0 else -1] = 0.0

    def _block(
        self, near: NDArray[np.float64], far: NDArray[np.float64]
    ) -> tuple[Samples, Samples]:
        self._spectra = np.roll(self._spectra, 1, axis=0)
        self._spectra[0] = np.fft.rfft(np.concatenate([self._before, far]))
        self._before = far
        x, w = self._spectra, self._weights
        echo = np.fft.irfft(np.sum(w * x, axis=0), 2 * _BLOCK)[_BLOCK:]
        error = near - echo
        self._clock.look(echo, near)
        spectrum = np.fft.rfft(np.concatenate([np.zeros(_BLOCK), error]))
        power = x.real**2 + x.imag**2
        uncertain = np.sum(self._doubt * power, axis=0) * 0.5
        # What is left now is taken for the person's: so their first sound slows the learning.
        heard = spectrum.real**2 + spectrum.imag**2
        self._noise = _INERTIA * self._noise + (1.0 - _INERTIA) * heard
        gain = self._doubt * np.conj(x) / (uncertain + self._noise + 1e3)
        change = gain * spectrum
        # A room's response has no wrapped-around part: a third of the blocks a turn is cleared.
        w += change
        self._turn = (self._turn + 1) % 3
        part = slice(self._turn, None, 3)
        response = np.fft.irfft(w[part], 2 * _BLOCK, axis=1)
        response[:, _BLOCK:] = 0.0
        w[part] = np.fft.rfft(response, axis=1)
        self._doubt = np.maximum(
            _KEEP**2 * (self._doubt - 0.5 * (gain * x).real * self._doubt)
            + (1.0 - _KEEP**2) * (w.real**2 + w.imag**2),
            1e-10,
        )
        return to_int16(error), to_int16(echo)
