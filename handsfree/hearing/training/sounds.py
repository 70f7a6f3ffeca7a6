"""Sounds that are no speech, and rooms: all computed, none recorded.

Barks, growls, whines, panting, clatter of dishes, running water, hum and coloured noise, coughs and
breaths; and impulse responses of shoebox rooms. Full scale is 1.0, the rate 16 kHz.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

__all__ = [
    "NOISES",
    "ROOMS",
    "bark",
    "kitchen",
    "noise_bed",
    "other_sound",
    "panting",
    "room",
    "unit",
]

Sound = NDArray[np.float64]
RATE_HZ = 16000


def _band(sound: Sound, low_hz: float, high_hz: float, order: int = 2) -> Sound:
    sos = butter(order, [low_hz, min(high_hz, 7900)], "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(sosfilt(sos, sound))


def _resonate(sound: Sound, centre_hz: float, width_hz: float) -> Sound:
    radius = np.exp(-np.pi * width_hz / RATE_HZ)
    theta = 2 * np.pi * centre_hz / RATE_HZ
    return np.asarray(lfilter([1 - radius], [1, -2 * radius * np.cos(theta), radius**2], sound))


def unit(sound: Sound) -> Sound:
    """Return the sound at peak 1; silence stays silent."""
    peak = float(np.abs(sound).max(initial=0.0))
    return sound / peak if peak > 0 else sound


def _coloured(rng: np.random.Generator, count: int, slope: float) -> Sound:
    """Noise whose power falls with frequency to the power of `slope`."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.maximum(np.fft.rfftfreq(count, 1 / RATE_HZ), 20.0)
    return unit(np.fft.irfft(spectrum * frequency ** (-slope / 2), count))


def bark(rng: np.random.Generator) -> Sound:
    """One bark: a rough, falling tone rich in overtones and noise, through a wide-open mouth."""
    size = rng.uniform(0, 1)  # 0 a large dog, 1 a small one
    length = int(RATE_HZ * rng.uniform(0.07, 0.28))
    t = np.linspace(0, 1, length)
    top = 260 + 700 * size * rng.uniform(0.7, 1.2)
    rise = rng.uniform(0.1, 0.4)
    shape = np.where(t < rise, 0.75 + 0.25 * t / rise, 1 - (t - rise) * rng.uniform(0.2, 0.7))
    wobble = 1 + rng.uniform(0, 0.06) * rng.standard_normal(length).cumsum() / np.sqrt(length)
    phase = 2 * np.pi * np.cumsum(top * shape * wobble) / RATE_HZ
    tone = sum(np.sin(k * phase) / k ** rng.uniform(0.3, 1.1) for k in range(1, 9))
    rough = 1 + rng.uniform(0.2, 0.9) * np.sin(phase / 2 + rng.uniform(0, 6))
    source = np.asarray(tone) * rough + rng.uniform(0.2, 1.8) * rng.standard_normal(length)
    formants = [(500 + 500 * size, 200), (1100 + 800 * size, 300), (2300 + 900 * size, 500)]
    sound = sum(unit(_resonate(source, f * rng.uniform(0.8, 1.25), w)) for f, w in formants)
    attack, decay = rng.uniform(0.02, 0.12), rng.uniform(1.5, 5)
    envelope = np.minimum(1, t / attack) * np.exp(-decay * np.maximum(0, t - attack)) * (1 - t**6)
    return unit(np.asarray(sound) * envelope)


def _series(
    rng: np.random.Generator, count: int, make: Callable[[np.random.Generator], Sound], gap_s: float
) -> Sound:
    out = np.zeros(count)
    at = int(rng.uniform(0, gap_s) * RATE_HZ)
    while at < count:
        piece = make(rng) * rng.uniform(0.5, 1.0)
        end = min(count, at + piece.size)
        out[at:end] += piece[: end - at]
        at = end + int(rng.uniform(0.3, 1.7) * gap_s * RATE_HZ)
    return unit(out)


def barking(rng: np.random.Generator, count: int) -> Sound:
    """A dog (or two alike) barking."""
    dog = int(rng.integers(1 << 31))

    def same_dog(r: np.random.Generator) -> Sound:
        return bark(np.random.default_rng(dog)) if r.random() < 0.6 else bark(r)

    return _series(rng, count, same_dog, rng.uniform(0.1, 0.6))


def panting(rng: np.random.Generator, count: int) -> Sound:
    """Breath in and out, two to five times a second."""
    t = np.arange(count) / RATE_HZ
    rate = rng.uniform(2.0, 5.0)
    gate = np.maximum(0, np.sin(2 * np.pi * rate * t + rng.uniform(0, 6))) ** rng.uniform(0.7, 3)
    gate += 0.5 * np.maximum(0, -np.sin(2 * np.pi * rate * t)) ** 2
    low = rng.uniform(300, 1200)
    return unit(_band(rng.standard_normal(count), low, low * rng.uniform(2, 5)) * gate)


def growling(rng: np.random.Generator, count: int) -> Sound:
    """A low, rough rumble that swells."""
    pulse = rng.uniform(55, 130) * (1 + 0.05 * _coloured(rng, count, 2))
    phase = 2 * np.pi * np.cumsum(pulse) / RATE_HZ
    source = np.maximum(0, np.sin(phase)) ** 6 + 0.25 * rng.standard_normal(count)
    swell = 0.5 + 0.5 * np.sin(np.linspace(0, rng.uniform(2, 9), count) + rng.uniform(0, 6))
    low = _resonate(source, rng.uniform(250, 600), 150)
    return unit((low + 0.5 * _resonate(source, rng.uniform(900, 1600), 300)) * (0.2 + swell))


def _whine(rng: np.random.Generator) -> Sound:
    length = int(RATE_HZ * rng.uniform(0.15, 0.9))
    t = np.linspace(0, 1, length)
    start, end = rng.uniform(500, 1600), rng.uniform(500, 2200)
    pitch = start + (end - start) * t + rng.uniform(0, 60) * np.sin(2 * np.pi * 6 * t)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE_HZ
    tone = (
        np.sin(phase) + rng.uniform(0, 0.6) * np.sin(2 * phase) + 0.03 * rng.standard_normal(length)
    )
    return unit(tone * np.sin(np.pi * t) ** 0.6)


def whining(rng: np.random.Generator, count: int) -> Sound:
    """Whines and yelps."""
    return _series(rng, count, _whine, 0.6)


def _clank(rng: np.random.Generator) -> Sound:
    length = int(RATE_HZ * rng.uniform(0.05, 0.5))
    t = np.arange(length) / RATE_HZ
    base = rng.uniform(300, 3500)
    sound = sum(
        rng.uniform(0.2, 1) * np.exp(-t * rng.uniform(8, 120)) * np.sin(2 * np.pi * f * t + p)
        for f, p in zip(base * rng.uniform(1, 4, size=6), rng.uniform(0, 6, size=6), strict=True)
    )
    return unit(np.asarray(sound) + np.exp(-t * 200) * rng.standard_normal(length))


def clatter(rng: np.random.Generator, count: int) -> Sound:
    """Plates, cutlery, a bowl on tiles, claws, a door."""
    return _series(rng, count, _clank, rng.uniform(0.02, 0.5))


def water(rng: np.random.Generator, count: int) -> Sound:
    """A running tap."""
    bed = _band(_coloured(rng, count, rng.uniform(0, 1)), rng.uniform(100, 900), 7000)
    swell = 1 + 0.3 * _coloured(rng, count, 2)
    return unit(bed * swell)


def hum(rng: np.random.Generator, count: int) -> Sound:
    """A fridge or fan: mains overtones over rumble."""
    t = np.arange(count) / RATE_HZ
    mains = rng.choice([50.0, 60.0])
    tone = sum(rng.uniform(0, 1) / k * np.sin(2 * np.pi * mains * k * t) for k in range(1, 14))
    return unit(unit(np.asarray(tone)) + rng.uniform(0.2, 2) * _coloured(rng, count, 1.5))


def plain(rng: np.random.Generator, count: int) -> Sound:
    """Coloured noise, from white to rumble."""
    return _coloured(rng, count, rng.uniform(0, 2))


def kitchen(rng: np.random.Generator, count: int) -> Sound:
    """Water, hum and dishes together."""
    return unit(
        water(rng, count) * rng.uniform(0.1, 1)
        + hum(rng, count) * rng.uniform(0, 0.7)
        + clatter(rng, count) * rng.uniform(0.1, 1)
    )


def tune(rng: np.random.Generator, count: int) -> Sound:
    """A few notes from a radio: harmonic tones that change several times a second."""
    out = np.zeros(count)
    at = 0
    while at < count:
        length = int(RATE_HZ * rng.uniform(0.1, 0.6))
        t = np.arange(min(length, count - at)) / RATE_HZ
        pitch = 110 * 2 ** (rng.integers(0, 36) / 12)
        note = sum(np.sin(2 * np.pi * pitch * k * t) / k for k in range(1, 7))
        out[at : at + t.size] += np.asarray(note) * np.exp(-t * rng.uniform(0.5, 6))
        at += length
    return unit(out)


NOISES: dict[str, Callable[[np.random.Generator, int], Sound]] = {
    "barking": barking,
    "clatter": clatter,
    "growling": growling,
    "hum": hum,
    "kitchen": kitchen,
    "panting": panting,
    "plain": plain,
    "tune": tune,
    "water": water,
    "whining": whining,
}


def noise_bed(rng: np.random.Generator, count: int, kind: str | None = None) -> Sound:
    """`count` samples of a kind of noise, or of one drawn by lot; root mean square 1."""
    names = list(NOISES)
    weights = np.array([3 if n in {"barking", "kitchen"} else 1 for n in names], float)
    name = kind or str(rng.choice(names, p=weights / weights.sum()))
    sound = NOISES[name](rng, count)
    return sound / max(1e-9, float(np.sqrt(np.mean(sound**2))))


def _burst(rng: np.random.Generator) -> Sound:
    """A cough, breath, sniff or click: shaped noise."""
    length = int(RATE_HZ * rng.uniform(0.03, 0.5))
    t = np.linspace(0, 1, length)
    low = rng.uniform(100, 2000)
    sound = _band(rng.standard_normal(length), low, low * rng.uniform(1.5, 5))
    return unit(sound * np.minimum(1, t / rng.uniform(0.02, 0.5)) * (1 - t) ** rng.uniform(0.3, 3))


def other_sound(rng: np.random.Generator) -> Sound:
    """A short sound that a segmenter might take for speech, 0.08 to 1.6 s, peak 1."""
    count = int(RATE_HZ * rng.uniform(0.15, 1.6))
    draw = rng.random()
    if draw < 0.3:
        return bark(rng)
    if draw < 0.45:
        return barking(rng, count)
    makers = [panting, growling, whining, clatter, clatter, kitchen, water, tune]
    if draw < 0.85:
        return makers[int(rng.integers(len(makers)))](rng, count)
    return _burst(rng) if draw < 0.95 else _series(rng, count, _burst, 0.3)


# Width, depth, height in metres, and the time in which sound falls by 60 dB.
ROOMS: dict[str, tuple[float, float, float, float]] = {
    "small": (2.6, 3.2, 2.4, 0.25),
    "living": (4.2, 5.5, 2.5, 0.45),
    "tiled": (3.5, 4.5, 2.7, 0.9),
}


def room(
    rng: np.random.Generator, name: str | None = None, distance_m: float | None = None
) -> Sound:
    """Impulse response from a mouth to a microphone in a shoebox room, direct sound of size 1.

    Early reflections come from mirror images (Allen and Berkley 1979), the rest is decaying noise
    joined at the level of the last images. A person may be turned away, which dulls the direct
    sound and the images alike.
    """
    width, depth, height, decay_s = ROOMS[name or str(rng.choice(list(ROOMS)))]
    size = np.array([width, depth, height]) * rng.uniform(0.85, 1.2, 3)
    decay_s *= rng.uniform(0.8, 1.3)
    distance = distance_m if distance_m is not None else float(np.exp(rng.uniform(-1.2, 1.1)))
    distance = min(distance, 0.85 * float(np.hypot(size[0], size[1])))
    volume, surface = (
        float(np.prod(size)),
        2 * float(size[0] * size[1] + size[1] * size[2] + size[0] * size[2]),
    )
    absorbed = min(0.95, 0.161 * volume / (surface * decay_s))
    reflected = np.sqrt(1 - absorbed)
    for _ in range(50):
        mouth = rng.uniform(0.1, 0.9, 3) * size
        direction = rng.standard_normal(3) * np.array([1, 1, 0.3])
        ear = mouth + distance * direction / np.linalg.norm(direction)
        if np.all(ear > 0.05 * size) and np.all(ear < 0.95 * size):
            break
    else:
        ear = np.clip(ear, 0.05 * size, 0.95 * size)
    count = int(RATE_HZ * min(1.2, decay_s * 1.1))
    response = np.zeros(count)
    orders = np.arange(-3, 4)
    n = np.stack(np.meshgrid(orders, orders, orders), -1).reshape(-1, 3)
    image = np.where(n % 2 == 0, n * size + mouth, (n + 1) * size - mouth)
    path = np.linalg.norm(image - ear, axis=1)
    direct = float(np.linalg.norm(mouth - ear))
    delay = np.round((path - direct) / 343 * RATE_HZ).astype(int)
    gain = reflected ** np.abs(n).sum(axis=1) * direct / np.maximum(path, 1e-3)
    keep = (delay >= 0) & (delay < count)
    np.add.at(response, delay[keep], gain[keep] * rng.choice([1, 1, 1, -1], keep.sum()))
    t = np.arange(count) / RATE_HZ
    # Critical distance (Kuttruff): where the diffuse field is as strong as the direct sound.
    critical = 0.057 * np.sqrt(volume / decay_s)
    tail = rng.standard_normal(count) * 10 ** (-3 * t / decay_s)
    tail[: int(0.03 * RATE_HZ)] = 0
    tail *= (direct / critical) / max(1e-9, float(np.sqrt(np.sum(tail**2))))
    response += _band(tail, 80, rng.uniform(3000, 7000))
    if rng.random() < 0.25:  # turned away
        response = np.asarray(sosfilt(butter(1, 1500, fs=RATE_HZ, output="sos"), response))
    return response
