"""The statistics that measuring and judging share, each in one place.

NumPy and the standard library alone, so that nothing heavy is loaded for a median; SciPy is the
reference in the tests, and is loaded only for the exact interval of a rate.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

__all__ = [
    "Baseline",
    "Slope",
    "Spread",
    "baseline",
    "coefficient_of_variation",
    "median",
    "minimal_detectable_change",
    "rate_interval",
    "robust_slope",
    "spread",
    "student_t",
    "within_sd",
]

_MAD_TO_SD = 1.4826
"""Median absolute deviation to standard deviation, for normal errors."""


def median(values: Iterable[float]) -> float:
    """Return the middle value, or the mean of the two middle ones.

    Raises:
        ValueError: There is no value, or one is not finite.
    """
    return float(np.median(_finite(values)))


@dataclass(frozen=True, kw_only=True)
class Spread:
    """How far values lie apart.

    Attributes:
        range: Largest less smallest, in the values' unit.
        robust_sd: 1.4826 times the median absolute deviation: the standard deviation of normal
            errors, hardly moved by a single bad value.
    """

    range: float
    robust_sd: float


def spread(values: Iterable[float]) -> Spread:
    """Return the range and the robust standard deviation of ``values``.

    Raises:
        ValueError: There is no value, or one is not finite.
    """
    data = _finite(values)
    deviation = float(np.median(np.abs(data - np.median(data))))
    return Spread(range=float(data.max() - data.min()), robust_sd=_MAD_TO_SD * deviation)


def within_sd(groups: Iterable[Sequence[float]]) -> float:
    """Return the standard deviation of repeats within a subject, pooled over subjects.

    Args:
        groups: The repeats of each subject; groups of one add nothing.

    Raises:
        ValueError: No group has two repeats.
    """
    squares, freedom = 0.0, 0
    for group in groups:
        data = _finite(group)
        if len(data) >= 2:
            squares += float(np.sum((data - data.mean()) ** 2))
            freedom += len(data) - 1
    if freedom == 0:
        msg = "no subject has two repeats"
        raise ValueError(msg)
    return math.sqrt(squares / freedom)


def coefficient_of_variation(values: Iterable[float]) -> float:
    """Return standard deviation over mean of two or more values.

    Raises:
        ValueError: Fewer than two values, or their mean is 0.
    """
    data = _finite(values)
    if len(data) < 2 or float(data.mean()) == 0.0:
        msg = "a coefficient of variation needs two values and a mean other than 0"
        raise ValueError(msg)
    return float(data.std(ddof=1) / data.mean())


def minimal_detectable_change(sem: float, confidence: float = 0.95) -> float:
    """Return the smallest difference of two readings that is more than error of measurement.

    ``z`` times the root of two times the standard error of measurement: both readings err.

    Args:
        sem: Standard error of measurement (within-subject standard deviation), any unit.
        confidence: 0.95 by habit.
    """
    if not sem >= 0.0:
        msg = f"a standard error is not negative, not {sem}"
        raise ValueError(msg)
    return _z(confidence) * math.sqrt(2.0) * sem


@dataclass(frozen=True, kw_only=True)
class Slope:
    """A robust straight line through points.

    Attributes:
        slope: Median of all pairwise slopes, in y per x.
        intercept: Median y less slope times median x.
        low: Lower end of the slope's interval.
        high: Upper end.
        points: Number of points.
    """

    slope: float
    intercept: float
    low: float
    high: float
    points: int

    @property
    def certain(self) -> bool:
        """Whether the interval leaves out no change at all."""
        return self.low > 0.0 or self.high < 0.0


def robust_slope(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> Slope:
    """Return the Theil–Sen slope with Sen's interval (normal approximation, ties regarded).

    Args:
        x: Places in time, shape (n,), at least two of them different.
        y: Readings, shape (n,).
        confidence: Of the interval.

    Raises:
        ValueError: Lengths differ, fewer than two different x, or a value is not finite.
    """
    across, up = _finite(x), _finite(y)
    if len(across) != len(up):
        msg = f"{len(across)} places but {len(up)} readings"
        raise ValueError(msg)
    i, j = np.triu_indices(len(across), k=1)
    run = across[j] - across[i]
    usable = run != 0
    if not bool(usable.any()):
        msg = "a slope needs two readings at different times"
        raise ValueError(msg)
    slopes = np.sort((up[j] - up[i])[usable] / run[usable])
    slope = float(np.median(slopes))
    intercept = float(np.median(up) - slope * np.median(across))
    low, high = _sen_interval(slopes, across, up, confidence)
    return Slope(slope=slope, intercept=intercept, low=low, high=high, points=len(across))


def _sen_interval(
    slopes: np.ndarray, x: np.ndarray, y: np.ndarray, confidence: float
) -> tuple[float, float]:
    n = len(x)
    variance = n * (n - 1) * (2 * n + 5) / 18.0
    for values in (x, y):
        _, counts = np.unique(values, return_counts=True)
        variance -= float(np.sum(counts * (counts - 1) * (2 * counts + 5))) / 18.0
    reach = _z(confidence) * math.sqrt(max(variance, 0.0))
    upper = min(round((len(slopes) + reach) / 2.0), len(slopes) - 1)
    lower = max(round((len(slopes) - reach) / 2.0) - 1, 0)
    return float(slopes[lower]), float(slopes[upper])


def rate_interval(count: int, seconds: float, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of a rate per minute, if events came at random (Poisson).

    Breaths and beats come far more evenly than at random, so this is the widest case.

    Args:
        count: Events counted, 0 or more.
        seconds: How long, above 0.
        confidence: Of the interval.

    Raises:
        ValueError: A negative count, or no time.
    """
    if count < 0 or not seconds > 0.0:
        msg = f"{count} events in {seconds} s have no rate"
        raise ValueError(msg)
    from scipy.stats import chi2  # heavy: only when first needed

    tail = (1.0 - confidence) / 2.0
    low = 0.0 if count == 0 else float(chi2.ppf(tail, 2 * count)) / 2.0
    high = float(chi2.ppf(1.0 - tail, 2 * count + 2)) / 2.0
    return low * 60.0 / seconds, high * 60.0 / seconds


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """What is usual for one dog.

    Attributes:
        median: Middle of the calm readings.
        spread: Their robust standard deviation.
        readings: How many.
    """

    median: float
    spread: float
    readings: int

    def change(self, value: float, error: float = 0.0) -> float | None:
        """Return ``value`` less the median where it counts, else None.

        Args:
            value: A new reading.
            error: The measuring error that a change has to pass (95 %), in the value's unit.
        """
        difference = value - self.median
        return difference if abs(difference) > max(error, 2.0 * self.spread) else None


def baseline(values: Sequence[float], least: int = 3) -> Baseline | None:
    """Return the baseline of calm readings, or None where there are fewer than ``least``."""
    if len(values) < least:
        return None
    return Baseline(median=median(values), spread=spread(values).robust_sd, readings=len(values))


def student_t(freedom: int, confidence: float = 0.95) -> float:
    """Return the two-sided quantile of Student's t, without SciPy (Hill 1970, within 0.1 %).

    Args:
        freedom: Degrees of freedom, 1 or more.
        confidence: Above 0 and below 1.
    """
    if freedom < 1:
        msg = f"t needs one degree of freedom, not {freedom}"
        raise ValueError(msg)
    p = 1.0 - confidence
    if freedom == 1:
        return 1.0 / math.tan(p * math.pi / 2.0)
    if freedom == 2:
        return math.sqrt(2.0 / (p * (2.0 - p)) - 2.0)
    a = 1.0 / (freedom - 0.5)
    b = 48.0 / (a * a)
    c = ((20700.0 * a / b - 98.0) * a - 16.0) * a + 96.36
    d = ((94.5 / (b + c) - 3.0) / b + 1.0) * math.sqrt(a * math.pi / 2.0) * freedom
    y = (d * p) ** (2.0 / freedom)
    if y > 0.05 + a:
        x = NormalDist().inv_cdf(p / 2.0)
        y = x * x
        if freedom < 5:
            c += 0.3 * (freedom - 4.5) * (x + 0.6)
        c = (((0.05 * d * x - 5.0) * x - 7.0) * x - 2.0) * x + b + c
        y = (((((0.4 * y + 6.3) * y + 36.0) * y + 94.5) / c - y - 3.0) / b + 1.0) * x
        y = a * y * y
        y = y + y * y / 2.0 if y <= 0.002 else math.expm1(y)
    else:
        y = (
            (1.0 / (((freedom + 6.0) / (freedom * y) - 0.089 * d - 0.822) * (freedom + 2.0) * 3.0)
             + 0.5 / (freedom + 4.0)) * y - 1.0
        ) * (freedom + 1.0) / (freedom + 2.0) + 1.0 / y  # fmt: skip
    return math.sqrt(freedom * y)


def _z(confidence: float) -> float:
    if not 0.0 < confidence < 1.0:
        msg = f"a confidence lies between 0 and 1, not at {confidence}"
        raise ValueError(msg)
    return NormalDist().inv_cdf(0.5 + confidence / 2.0)


def _finite(values: Iterable[float]) -> np.ndarray:
    data = np.asarray(list(values), dtype=np.float64)
    if data.size == 0:
        msg = "no values"
        raise ValueError(msg)
    if not bool(np.isfinite(data).all()):
        msg = "a value is not a finite number"
        raise ValueError(msg)
    return data
