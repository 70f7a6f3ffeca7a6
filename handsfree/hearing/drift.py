"""Two devices, two clocks: brings what we played onto the clock of the microphone.

The echo that a canceller expects is compared with what is heard; a lag that keeps coming back says
how fast the clocks drift apart, and the reference is read that much faster or slower.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE

__all__ = ["ClockFollower"]

Floats = NDArray[np.float64]

_BLOCK = SAMPLE_RATE // 100
_HALF = 16
"""Half the length of the interpolating filter."""
_MARGIN = 200
"""Samples by which the reference is read late, so that it can be read early as well; an echo comes
later than that."""
_FAR = 100.0
"""Drifted apart by more than this, the reading place goes back by a block in the next rest."""
_FURTHEST = _MARGIN - _HALF - 1.0
"""The reading place never lies further off than what is kept of the reference."""
_MOST_PPM = 300.0
_GRID = np.arange(-4.0, 4.0001, 0.125)
_EVERY = 20
"""Blocks of our own voice between two looks at the lag."""
_LEARNS_S = 0.6
"""About how long the canceller itself takes to follow a lag: what remains of it is the drift's."""
_AT_ONCE = 0.3
"""Share of a lag by which the reading place moves at once. Below 0.15 the pace swings to and fro
for good where the canceller learns slowly (a late, soft echo); 0.2 to 0.5 do equally well."""


class ClockFollower:
    """Reads the reference at the microphone's pace."""

    def __init__(self) -> None:
        self._past = np.zeros(2 * _BLOCK + _MARGIN + 2 * _HALF + 256)
        self._place = 0.0
        self._pace = 0.0
        self._spectrum = np.zeros(_BLOCK + 1, np.complex128)
        turns = np.outer(_GRID, np.arange(_BLOCK + 1)) * np.pi / _BLOCK
        self._phases = np.exp(1j * turns)
        self._hann = np.hanning(2 * _BLOCK)
        self._seen = 0
        self._before = (np.zeros(_BLOCK), np.zeros(_BLOCK))

    @property
    def drift_ppm(self) -> float:
        """By how much the reference is read faster than it came."""
        return self._pace * 1e6

    def read(self, reference: Floats) -> Floats:
        """Return a block of the reference on the microphone's clock, ``_MARGIN`` samples late."""
        place = self._pass(reference)
        at = len(self._past) - _BLOCK - _MARGIN + np.arange(_BLOCK) - place
        whole = np.floor(at).astype(np.int64)
        part = (at - whole)[:, None]
        taps = np.arange(-_HALF + 1, _HALF + 1)[None, :]
        distance = taps - part
        window = 0.5 + 0.5 * np.cos(np.pi * distance / (_HALF + 1))
        weights = np.sinc(distance) * window
        return np.asarray(np.sum(self._past[whole[:, None] + taps] * weights, axis=1))

    def rest(self, reference: Floats, *, sooner: Callable[[], bool] = lambda: True) -> int:
        """Let a block of silence pass unread.

        Args:
            reference: Shape (160,).
            sooner: Tells whether the echo may come a block sooner after what is read; if not, the
                reading place is brought back that way only when it can go no further. Asked only
                when it matters.

        Returns:
            By how many blocks later than before (-1, 0 or 1) the echo now comes after what is read:
            the reading place is brought back in steps of a block, so that a response that is kept
            in blocks only moves along and is not learnt anew.
        """
        self._pass(reference)
        if abs(self._place) < _FAR:
            return 0
        later = 1 if self._place > 0.0 else -1
        if later < 0 and self._place > -_FURTHEST and not sooner():
            return 0
        self._place -= later * _BLOCK
        return later

    def _pass(self, reference: Floats) -> float:
        """Take in a block; return the place at which it is to be read."""
        self._past = np.concatenate([self._past[_BLOCK:], reference])
        place = self._place
        self._place = float(np.clip(place + self._pace * _BLOCK, -_FURTHEST, _FURTHEST))
        return place

    def look(self, expected: Floats, heard: Floats) -> None:
        """Compare a block of the expected echo with what was heard; both float, shape (160,)."""
        one = np.fft.rfft(np.concatenate([self._before[0], expected]) * self._hann)
        two = np.fft.rfft(np.concatenate([self._before[1], heard]) * self._hann)
        self._before = (expected, heard)
        cross = np.conj(one) * two
        self._spectrum = 0.96 * self._spectrum + cross / np.sqrt(np.abs(cross) + 1.0)
        self._seen += 1
        if self._seen % _EVERY:
            return
        likeness = (self._phases @ self._spectrum).real
        best = int(np.argmax(likeness))
        if 0 < best < len(_GRID) - 1 and likeness[best] > 0.3 * np.abs(self._spectrum).sum():
            below, top, above = likeness[best - 1 : best + 2]
            bend = below - 2.0 * top + above
            lag = _GRID[best] + (0.0625 * (below - above) / bend if bend < 0.0 else 0.0)
            self._pace += 0.15 * lag / _LEARNS_S / SAMPLE_RATE
            limit = _MOST_PPM * 1e-6
            self._pace = float(np.clip(self._pace, -limit, limit))
            self._place += _AT_ONCE * lag
