"""Two clocks: the pace is found and kept, however slowly the canceller itself learns."""

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.hearing.drift import ClockFollower

RATE = 16_000
BLOCK = 160


class _Tones:
    """A sound that can be had at any time, between samples as well."""

    def __init__(self) -> None:
        rng = np.random.default_rng(1)
        self._turns = rng.uniform(150.0, 3500.0, 60) * 2.0 * np.pi / RATE
        self._phases = rng.uniform(0.0, 2.0 * np.pi, 60)

    def at(self, times: NDArray[np.float64]) -> NDArray[np.float64]:
        waves = np.cos(np.outer(times, self._turns) + self._phases)
        return np.asarray(400.0 * waves.sum(axis=1))


class _Reader:
    """Reads a tone and tells how late it is read."""

    TURN = 2.0 * np.pi / 80.0  # two whole turns in a block

    def __init__(self) -> None:
        self.follower = ClockFollower()
        self._late = 200.0
        for number in range(10, 20):  # until the tone fills what is kept of it
            self.follower.read(np.cos(self.TURN * (number * BLOCK + np.arange(BLOCK))))

    def late(self, times: NDArray[np.float64]) -> float:
        read = self.follower.read(np.cos(self.TURN * times))
        phase = -np.angle(read @ np.exp(-1j * self.TURN * times)) / self.TURN
        self._late += (phase - self._late + 40.0) % 80.0 - 40.0
        return self._late


def _paces(drift_ppm: float, learns_s: float, seconds: float) -> NDArray[np.float64]:
    """Return the pace at each block, beside a canceller that follows a lag in ``learns_s``."""
    reader, tones = _Reader(), _Tones()
    learnt = 0.0  # the lag that the canceller's response has taken over, in samples
    paces = []
    for number in range(20, int(seconds * RATE / BLOCK)):
        times = number * BLOCK + np.arange(BLOCK, dtype=np.float64)
        late = reader.late(times)
        lag = times[0] * drift_ppm * 1e-6 + 200.0 - late
        reader.follower.look(tones.at(times - late - learnt), tones.at(times - late - lag))
        learnt += (lag - learnt) * BLOCK / RATE / learns_s
        paces.append(reader.follower.drift_ppm)
    return np.array(paces)


@pytest.mark.parametrize("learns_s", [0.6, 3.0, 10.0])
@pytest.mark.parametrize("drift_ppm", [60.0, -60.0])
def test_the_pace_settles(drift_ppm: float, learns_s: float) -> None:
    """Where the canceller learns slowly (a soft, late echo) the pace does not swing for good."""
    paces = _paces(drift_ppm, learns_s, 24.0)
    assert np.abs(paces[-600:] - drift_ppm).max() < 6.0


@pytest.mark.parametrize("drift_ppm", [150.0, -150.0])
def test_in_rests_the_reading_place_goes_back_by_whole_blocks(drift_ppm: float) -> None:
    """What is read stays with the echo, but for whole blocks: whole turns of the tone."""
    reader, tones = _Reader(), _Tones()
    moved = 0
    lags = []
    for number in range(20, int(60.0 * RATE / BLOCK)):
        times = number * BLOCK + np.arange(BLOCK, dtype=np.float64)
        if number % 100 < 80:
            late = reader.late(times)
            # The canceller here learns nothing: all of the lag is the follower's to take.
            lag = times[0] * drift_ppm * 1e-6 + 200.0 - late
            reader.follower.look(tones.at(times), tones.at(times - lag))
            lags.append(lag)
        else:
            moved += reader.follower.rest(np.cos(reader.TURN * times))
    assert moved == np.sign(drift_ppm)
    assert max(map(abs, lags[1000:])) < 0.5


def _rested(drift_ppm: float, *, sooner: bool) -> list[int]:
    """Return the blocks told in rests, of a follower that has found its pace in 30 s of sound."""
    reader, tones = _Reader(), _Tones()
    for number in range(20, int(30.0 * RATE / BLOCK)):
        times = number * BLOCK + np.arange(BLOCK, dtype=np.float64)
        lag = times[0] * drift_ppm * 1e-6 + 200.0 - reader.late(times)
        reader.follower.look(tones.at(times), tones.at(times - lag))
    return [reader.follower.rest(np.zeros(BLOCK), sooner=lambda: sooner) for _ in range(1000)]


def test_an_echo_that_may_not_come_sooner_waits_for_the_last() -> None:
    """At 250 ppm 120 samples part in 30 s; the last of 183 is reached 16 s later."""
    assert _rested(-250.0, sooner=True)[:1] == [-1]
    assert not any(_rested(-250.0, sooner=False))
    assert _rested(250.0, sooner=False)[:1] == [1]
