"""Said breaths by simulation: words with 5 % missed and 5 % doubled, and the rate they tell.

Two kinds of breathing: an even one, and one whose period wanders by a share of itself.
"""

from __future__ import annotations

import numpy as np

from handsfree.measuring.said import said_rate

RATES = (8, 10, 12, 15, 20, 25, 30, 40, 50, 60)
WANDERS = (0.0, 0.08, 0.15)
SECONDS = 30.0
MISSED = DOUBLED = 0.05
SPEAKING_SD_S = 0.06


def said_words(
    rng: np.random.Generator, per_min: float, wander: float
) -> tuple[list[float], float]:
    """Return the words' times and the true rate of the breaths that they stand for."""
    period = 60.0 / per_min
    breaths = [float(rng.uniform(0.0, period))]
    while True:
        step = period * max(0.4, 1.0 + wander * float(rng.normal()))
        if breaths[-1] + step > SECONDS:
            break
        breaths.append(breaths[-1] + step)
    truth = 60.0 * (len(breaths) - 1) / (breaths[-1] - breaths[0])
    words: list[float] = []
    for breath in breaths:
        if rng.random() < MISSED:
            continue
        words.append(breath + float(rng.normal(0.0, SPEAKING_SD_S)))
        if rng.random() < DOUBLED:
            words.append(words[-1] + float(rng.uniform(0.15, 0.45)))
    return words, truth


def said_rows(seed: int, trials: int = 200) -> list[dict[str, float | int]]:
    """Return one row for each kind of breathing and rate."""
    rows: list[dict[str, float | int]] = []
    for wander in WANDERS:
        for per_min in RATES:
            rng = np.random.default_rng([seed, per_min, round(100 * wander)])
            errors: list[float] = []
            held, none = 0, 0
            for _ in range(trials):
                words, truth = said_words(rng, per_min, wander)
                rate = said_rate(words)
                if rate is None:
                    none += 1
                    continue
                errors.append(abs(rate.per_min - truth))
                held += rate.low <= truth <= rate.high
            found = np.asarray(errors)
            rows.append(
                {
                    "wander": wander,
                    "per_min": per_min,
                    "n": trials,
                    "no_rate": none,
                    "within_1": round(float(np.mean(found <= 1.0)), 3),
                    "p95_abs": round(float(np.quantile(found, 0.95)), 2),
                    "interval_holds": round(held / max(len(found), 1), 3),
                }
            )
    return rows
