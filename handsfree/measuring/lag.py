"""A person's own lag in saying a word when a tone fades, learned with the practice dummy.

A pure state object, told when each tone had faded and when the word began, on one sample clock. The
lag widens the lower edge of a refill's range; it never changes the time that is judged.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.measuring.statistics import median, spread

__all__ = ["FADES_S", "Lag", "LagPractice", "LagTrial"]

FADES_S = (1.4, 2.3, 1.0, 1.9, 1.2, 2.6, 1.6)
"""Seconds that each tone sounds before it has faded: uneven, so that nobody can wait by rhythm."""
NEEDED = 5
"""Good trials that a lag needs."""
FASTEST_S = 0.08
"""Faster is guessing: trained people start to speak 0.12 s after a signal at their very best
(J Acoust Soc Am 1976;60:S66, abstract)."""
SLOWEST_S = 1.5
"""Slower is a lapse, no lag; our own judgement."""


@dataclass(frozen=True, kw_only=True)
class LagTrial:
    """One tone and the word that answered it.

    Attributes:
        stream: Stream of the samples.
        faded: Sample at which the tone could be heard no more.
        word: Sample of the word's onset; None if none came.
        lag_s: Seconds between them; None where it does not count.
        why: Why it does not count, as said; empty if it does.
    """

    stream: str
    faded: int
    word: int | None
    lag_s: float | None
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Lag:
    """What practice showed.

    Attributes:
        median_s: Middle lag.
        spread_s: Robust standard deviation of the lags.
        trials: Good trials it rests on.
    """

    median_s: float
    spread_s: float
    trials: int

    @property
    def spoken(self) -> str:
        """As told, to a tenth of a second: no finer than it is."""
        tenths = max(1, round(self.median_s * 10.0))
        if tenths >= 10:
            return "You speak about a second or more after the change."
        word = ("one tenth", "two tenths", "three tenths", "four tenths", "half", "six tenths",
                "seven tenths", "eight tenths", "nine tenths")[tenths - 1]  # fmt: skip
        return f"You speak about {word} of a second after the change."


class LagPractice:
    """Collects trials until the lag is known.

    Args:
        rate: Samples a second.
        needed: Good trials that a lag needs.
    """

    def __init__(self, *, rate: int = 16_000, needed: int = NEEDED) -> None:
        self._rate = rate
        self._needed = needed
        self._trials: list[LagTrial] = []

    @property
    def trials(self) -> tuple[LagTrial, ...]:
        """All trials so far."""
        return tuple(self._trials)

    @property
    def next_fade_s(self) -> float | None:
        """How long the next tone sounds; None when no further one is due."""
        if len(self._good()) >= self._needed or len(self._trials) >= 2 * self._needed:
            return None
        return FADES_S[len(self._trials) % len(FADES_S)]

    def heard(
        self, *, faded: int, word: int | None, stream: str, word_stream: str = "",
        doubtful: bool = False,
    ) -> LagTrial:  # fmt: skip
        """Take one trial.

        Args:
            faded: Sample at which the tone had faded.
            word: Onset of the word; None if none came.
            stream: Stream of the tone.
            word_stream: Stream of the word, if it is another.
            doubtful: The onset is in doubt.
        """
        lag = None if word is None else (word - faded) / self._rate
        why = ""
        if lag is None:
            why = "I did not hear the word."
        elif word_stream and word_stream != stream:
            why = "The microphone changed in the middle."
        elif doubtful:
            why = "I could not tell when the word began."
        elif lag < FASTEST_S:
            why = "That was before the tone had faded."
        elif lag > SLOWEST_S:
            why = "That came too late."
        trial = LagTrial(stream=stream, faded=faded, word=word, lag_s=None if why else lag, why=why)
        self._trials.append(trial)
        return trial

    def result(self) -> Lag | None:
        """Return the lag, or None while there are too few good trials."""
        good = self._good()
        if len(good) < self._needed:
            return None
        return Lag(median_s=median(good), spread_s=spread(good).robust_sd, trials=len(good))

    def _good(self) -> list[float]:
        return [trial.lag_s for trial in self._trials if trial.lag_s is not None]
