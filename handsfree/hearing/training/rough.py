"""Makes a clean clip into what a microphone in a room would have heard.

Speed and pitch, tone, room and distance, band limits, level, noise, clipping, and the inexact start
and end that a segmenter gives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, resample, sosfilt

from handsfree.hearing.training import sounds

__all__ = ["Take", "clean_take", "rough_take"]

RATE_HZ = 16000
LEAD = RATE_HZ  # sound before the word
TAIL = int(0.6 * RATE_HZ)  # and after it


@dataclass(frozen=True, kw_only=True)
class Take:
    """Sound with an utterance in it.

    Attributes:
        samples: int16, 16 kHz.
        start: First sample of the utterance, as a segmenter might give it.
        end: One past its last.
    """

    samples: NDArray[np.int16]
    start: int
    end: int


def _int16(sound: NDArray[np.float64]) -> NDArray[np.int16]:
    return np.clip(np.round(sound * 32767), -32768, 32767).astype(np.int16)


def clean_take(sound: NDArray[np.float64], rng: np.random.Generator) -> Take:
    """The clip over faint room noise (30 LSB rms), bounds exact."""
    out = np.concatenate([np.zeros(LEAD), sound, np.zeros(TAIL)])
    out += rng.standard_normal(out.size) * 30 / 32768
    return Take(samples=_int16(out), start=LEAD, end=LEAD + sound.size)


def _tilt(sound: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """A gentle slope over frequency, as microphones and mouths differ."""
    spectrum = np.fft.rfft(sound)
    frequency = np.maximum(np.fft.rfftfreq(sound.size, 1 / RATE_HZ), 60)
    octaves = np.log2(frequency / 1000)
    curve = rng.uniform(-3, 3) * octaves + rng.uniform(-4, 4) * np.sin(
        octaves * rng.uniform(0.7, 2.5) + rng.uniform(0, 6)
    )
    return np.fft.irfft(spectrum * 10 ** (curve / 20), sound.size)


def _band_limit(sound: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    draw = rng.random()
    if draw < 0.15:  # telephone
        sos = butter(
            3,
            [rng.uniform(200, 350), rng.uniform(3000, 3600)],
            "bandpass",
            fs=RATE_HZ,
            output="sos",
        )
    elif draw < 0.4:  # 8 kHz sampling, cheap microphones
        sos = butter(6, rng.uniform(2600, 3900), fs=RATE_HZ, output="sos")
    elif draw < 0.5:  # wind filter, thin loudspeaker
        sos = butter(2, rng.uniform(120, 400), "highpass", fs=RATE_HZ, output="sos")
    else:
        return sound
    return np.asarray(sosfilt(sos, sound))


def rough_take(
    sound: NDArray[np.float64],
    rng: np.random.Generator,
    *,
    babble: NDArray[np.float64] | None = None,
    hard: float = 1.0,
) -> Take:
    """The clip as it might be heard; `hard` scales how often each harm is done.

    `babble` is other people's speech that may be laid under it.
    """
    if rng.random() < 0.75 * hard:
        factor = float(np.exp(rng.uniform(np.log(0.87), np.log(1.15))))
        sound = resample(sound, max(400, int(sound.size / factor)))
    if rng.random() < 0.6:
        sound = _tilt(sound, rng)
    begin, length = LEAD, sound.size
    out = np.concatenate([np.zeros(LEAD), sound, np.zeros(TAIL)])
    if rng.random() < 0.55 * hard:
        out = fftconvolve(out, sounds.room(rng))[: out.size]
    power = float(np.sqrt(np.mean(out[begin : begin + length] ** 2))) or 1e-6
    level = 10 ** (rng.uniform(-42, -14) / 20)
    out = out * (level / power)
    if rng.random() < 0.65 * hard:
        snr_db = rng.uniform(0, 25) if rng.random() < 0.85 else rng.uniform(-3, 5)
        if babble is not None and rng.random() < 0.12:
            bed = np.resize(babble, out.size)
            bed = bed / max(1e-9, float(np.sqrt(np.mean(bed**2))))
            snr_db += 8
        else:
            bed = sounds.noise_bed(rng, out.size)
        out = out + bed * level * 10 ** (-snr_db / 20)
    out = _band_limit(out, rng)
    # 6 to 60 LSB, and never so loud that a faint voice drowns in it.
    out = out + rng.standard_normal(out.size) * min(
        10 ** rng.uniform(0.8, 1.8) / 32768, level * 10 ** (-8 / 20)
    )
    if rng.random() < 0.05:
        out = np.clip(out * rng.uniform(2, 12), -1, 1)
    start = begin + int(RATE_HZ * (rng.normal(-0.03, 0.03)))
    end = begin + length + int(RATE_HZ * rng.normal(0.03, 0.045))
    if rng.random() < 0.1:  # a segmenter that missed soft ends
        start += int(length * rng.uniform(0, 0.12))
        end -= int(length * rng.uniform(0, 0.12))
    return Take(samples=_int16(out), start=start, end=max(end, start + 800))
