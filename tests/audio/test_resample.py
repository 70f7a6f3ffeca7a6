"""Resampling: right amplitude, right time, no aliases, the same in pieces as in one go."""

import numpy as np
import pytest

from handsfree.audio.resample import Resampler, resample, to_int16

PAIRS = [
    (22_050, 16_000),
    (48_000, 16_000),
    (44_100, 16_000),
    (8_000, 16_000),
    (16_000, 48_000),
    (16_000, 44_100),
]


def sine(
    hertz: float, rate: int, seconds: float = 0.5
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a sine of amplitude 10 000, shape (n,)."""
    return 10_000 * np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate)


@pytest.mark.parametrize("rate_in, rate_out", PAIRS)
@pytest.mark.parametrize("hertz", [100.0, 1_000.0, 3_000.0])
def test_a_tone_keeps_its_amplitude_and_its_time(rate_in: int, rate_out: int, hertz: float) -> None:
    """Output n stands for the time n / rate_out: no delay, error under -80 dB."""
    made = resample(sine(hertz, rate_in), rate_in, rate_out)
    wanted = sine(hertz, rate_out)
    assert len(made) == len(wanted)
    middle = slice(600, -600)
    assert np.abs(made[middle] - wanted[middle]).max() < 2.0


def test_what_the_lower_rate_cannot_hold_is_taken_out() -> None:
    """9.5 kHz has no place at 16 kHz: it must not come back as 6.5 kHz."""
    made = resample(sine(9_500, 22_050), 22_050, 16_000)
    assert np.abs(made[600:-600]).max() < 3.0


@pytest.mark.parametrize("rate_in, rate_out", PAIRS)
def test_pieces_make_the_same_as_the_whole(rate_in: int, rate_out: int) -> None:
    """A stream may be cut anywhere."""
    random = np.random.default_rng(7)
    sound = random.normal(0, 3_000, 12_345)
    resampler = Resampler(rate_in, rate_out)
    pieces, at = [], 0
    while at < len(sound):
        step = int(random.integers(1, 700))
        pieces.append(resampler.push(sound[at : at + step]))
        at += step
    pieces.append(resampler.flush())
    assert np.array_equal(np.concatenate(pieces), resample(sound, rate_in, rate_out))


def test_int16_is_clipped_not_wrapped() -> None:
    """Too loud stays loud."""
    assert to_int16(np.array([40_000.0, -40_000.0, 1.5])).tolist() == [32_767, -32_768, 2]


def test_a_rate_of_zero_is_refused() -> None:
    """A device that claims no rate is a mistake of the caller."""
    with pytest.raises(ValueError, match="above zero"):
        Resampler(0, 16_000)
