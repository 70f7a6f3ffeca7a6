"""The dog's own past: what is new, unchanged, changed or gone since its last exams.

Missing data is said as missing and never filled in. A number counts as changed only past its
measuring error. Past values serve judging and are told after today's answer, never before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import islice
from statistics import median

from handsfree.judging.catalogue import Catalogue
from handsfree.judging.model import Change, ChangeKind, Finding, PastExam, Trend

__all__ = [
    "ERROR_OF",
    "Baseline",
    "Past",
    "Reading",
    "baseline_of",
    "changes_since",
    "trends_of",
    "weight_error",
]

ERROR_OF: Mapping[str, float] = {
    "weight.kg": 0.25,
    "temperature.degrees": 0.3,
    "temperature.recheck": 0.3,
    "breaths.rate": 4.0,
    "breaths.recount": 4.0,
    "heart.rate": 8.0,
    "heart.recount": 8.0,
    "mouth.refill": 0.5,
    "lumps.known_length": 3.0,
    "lumps.known_width": 3.0,
    "mammary.gland_length": 3.0,
    "mammary.gland_width": 3.0,
    "neck.node_size": 3.0,
}
"""How far two readings may differ by measuring alone, in the item's unit.

Weight: two bathroom-scale differences (0.23 kg); refill: owner by voice; lumps: two callipers
(2.8 mm); counts: one miscount in 30 s each. Our arithmetic, awaiting a vet."""

_FINE_SCALES = {"kitchen": 0.02, "platform": 0.1}
"""Scales that weigh the dog alone, with their error in kg; otherwise two weighings are compared."""

_NOT_CALM = {"heart.rate": ("excited",), "breaths.rate": ("panting", "active")}
"""States in which a number is no baseline and is compared with none."""

_LIKE = {
    "weight.kg": ("weight.scale",),
    "breaths.rate": ("breaths.state",),
    "heart.rate": ("heart.mood",),
    "temperature.degrees": ("temperature.site",),
    "temperature.recheck": ("temperature.site",),
}
"""Numbers are compared only where these were the same: never asleep with awake, ear with rectal."""


@dataclass(frozen=True)
class Reading:
    """One earlier value with its day."""

    on: date
    value: str | float


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """A dog's own usual value: median and median absolute deviation of ``points`` readings."""

    middle: float
    spread: float
    points: int


class Past:
    """Earlier exams, indexed once, oldest first.

    Args:
        history: The exams, in any order.
    """

    def __init__(self, history: Sequence[PastExam]) -> None:
        ordered = sorted(history, key=lambda exam: exam.on)
        self.exams = len(ordered)
        self._days = [exam.on for exam in ordered]
        # Years of daily checks hold tens of thousands of answers: one plain pass, no objects made.
        found: defaultdict[tuple[str, str | None], list[tuple[int, str | float]]] = defaultdict(
            list
        )
        for place, exam in enumerate(ordered):
            for finding in exam.findings:
                value = finding.value
                if value is not None:
                    found[finding.item, finding.side].append((place, value))
        self._found = dict(found)

    @classmethod
    def of(cls, history: Sequence[PastExam]) -> Past:
        """Index the observed answers of earlier exams."""
        return cls(history)

    @classmethod
    def of_values(
        cls,
        days: Sequence[date],
        values: Iterable[tuple[int, str, str | None, str | float]],
    ) -> Past:
        """Index observed answers without making findings of them, for years of daily checks.

        Args:
            days: Day of each earlier exam, oldest first.
            values: Place of the exam among ``days``, item, side, value; places rising.
        """
        past = cls(())
        past.exams = len(days)
        past._days = list(days)
        found: defaultdict[tuple[str, str | None], list[tuple[int, str | float]]] = defaultdict(
            list
        )
        for place, item, side, value in values:
            found[item, side].append((place, value))
        past._found = dict(found)
        return past

    def of_item(self, item: str, side: str | None = None) -> tuple[Reading, ...]:
        """Earlier readings of one item and side, oldest first."""
        return tuple(
            Reading(self._days[place], value) for place, value in self._found.get((item, side), ())
        )

    def last_of(self, item: str, side: str | None = None) -> str | float | None:
        """The last value of an item and side, or None."""
        held = self._found.get((item, side))
        return held[-1][1] if held else None

    def numbers(
        self,
        item: str,
        side: str | None = None,
        like: tuple[str | float | None, ...] | None = None,
        *,
        last: int | None = None,
    ) -> list[tuple[date, float]]:
        """Earlier numbers taken alike, oldest first; only the ``last`` so many if given."""
        return list(islice(self._alike(item, side, like), last))[::-1]

    def _alike(
        self, item: str, side: str | None, like: tuple[str | float | None, ...] | None
    ) -> Iterator[tuple[date, float]]:
        """Earlier numbers taken alike, newest first."""
        wanted = [
            (dict(self._found.get((other, None), ())), value)
            for other, value in zip(_LIKE.get(item, ()), like or (), strict=False)
        ]
        for place, value in reversed(self._found.get((item, side), [])):
            if not isinstance(value, str) and all(had.get(place) == v for had, v in wanted):
                yield self._days[place], float(value)


def circumstances(findings: Sequence[Finding], item: str) -> tuple[str | float | None, ...]:
    """Today's circumstances of a number, to be compared with earlier ones."""
    return tuple(
        next((f.value for f in findings if f.item == other and f.side is None), None)
        for other in _LIKE.get(item, ())
    )


def weight_error(findings: Sequence[Finding]) -> float:
    """Error of today's weight in kg, by the scale that was used."""
    (scale,) = circumstances(findings, "weight.kg")
    return _FINE_SCALES.get(str(scale), ERROR_OF["weight.kg"])


def baseline_of(numbers: Sequence[tuple[date, float]]) -> Baseline | None:
    """Median and spread of at least three readings, else None."""
    if len(numbers) < 3:
        return None
    values = [value for _, value in numbers]
    middle = median(values)
    return Baseline(
        middle=middle,
        spread=median(abs(value - middle) for value in values),
        points=len(values),
    )


def changes_since(
    findings: Sequence[Finding], past: Past, catalogue: Catalogue
) -> tuple[Change, ...]:
    """Compare each answer with the dog's last answer to the same item and side.

    Usual now and usual before says nothing. With no earlier exam there is nothing to compare.
    """
    if past.exams == 0:
        return ()
    found = []
    for finding in findings:
        info = catalogue.items.get(finding.item)
        if info is None or finding.status == "not_applicable":
            continue
        if info.unit is not None:
            change = _number_change(finding, findings, past)
        else:
            change = _choice_change(finding, past, info.normal)
        if change is not None:
            found.append(change)
    return tuple(found)


def _choice_change(finding: Finding, past: Past, normal: frozenset[str]) -> Change | None:
    if not normal:
        return None
    if finding.value in normal and past.last_of(*finding.key) in {None, *normal}:
        return None
    earlier = past.of_item(*finding.key)
    last = earlier[-1] if earlier else None
    was_odd = last is not None and last.value not in normal
    if finding.status == "not_observed":
        if last is None or not was_odd:
            return None
        return _change(finding, ChangeKind.NOT_LOOKED, last)
    odd = finding.value not in normal
    if odd and not was_odd:
        return _change(finding, ChangeKind.FIRST_SEEN, last)
    if last is None or not (odd or was_odd):
        return None
    if not odd:
        return _change(finding, ChangeKind.GONE, last)
    if finding.value != last.value:
        return _change(finding, ChangeKind.CHANGED, last)
    since = last
    for reading in reversed(earlier):
        if reading.value != finding.value:
            break
        since = reading
    return _change(finding, ChangeKind.UNCHANGED, since)


def _number_change(finding: Finding, findings: Sequence[Finding], past: Past) -> Change | None:
    now = finding.number
    like = circumstances(findings, finding.item)
    if now is None or set(like) & set(_NOT_CALM.get(finding.item, ())):
        return None
    if finding.item == "weight.kg":
        like = ()  # a change of weight shows on any scale; only a trend needs the same one
    numbers = past.numbers(finding.item, finding.side, like, last=BASELINE_READINGS)
    if not numbers:
        return None
    on, before = numbers[-1]
    error = weight_error(findings) if finding.item == "weight.kg" else ERROR_OF.get(finding.item, 0)
    counts = abs(now - before) > error
    usual = baseline_of(numbers)
    return Change(
        item=finding.item,
        side=finding.side,
        kind=ChangeKind.CHANGED if counts else ChangeKind.UNCHANGED,
        before=before,
        now=now,
        unit=finding.unit,
        since=on,
        counts=counts,
        usual=None if usual is None else usual.middle,
        usual_spread=None if usual is None else usual.spread,
        readings=len(numbers),
    )


def _change(finding: Finding, kind: ChangeKind, last: Reading | None) -> Change:
    return Change(
        item=finding.item,
        side=finding.side,
        kind=kind,
        before=None if last is None else last.value,
        now=finding.value,
        unit=finding.unit,
        since=None if last is None else last.on,
    )


BASELINE_READINGS = 30
"""The dog's usual is that of its last readings, so that it may age."""

TREND_POINTS = 6
"""With fewer readings the numbers are shown and nothing is said of a trend."""

_TREND_DAYS = 365
_TREND_READINGS = 100


def trends_of(
    findings: Sequence[Finding], past: Past, on: date, catalogue: Catalogue
) -> tuple[Trend, ...]:
    """Robust trends of weight and sleeping breaths, today's reading included.

    Over a year, or the last hundred readings where there are more.

    Silent with fewer than six readings, and where the 95 % interval does not leave out zero.
    """
    found = []
    for finding in findings:
        if finding.item not in ("weight.kg", "breaths.rate") or finding.number is None:
            continue
        like = circumstances(findings, finding.item)
        if finding.item == "breaths.rate" and like != ("asleep",):
            continue
        numbers = [
            (day, value)
            for day, value in past.numbers(finding.item, finding.side, like, last=_TREND_READINGS)
            if 0 <= (on - day).days <= _TREND_DAYS
        ]
        trend = trend_of([*numbers, (on, finding.number)])
        if trend is not None:
            low, middle, high = (30 * value for value in trend)
            found.append(
                Trend(
                    item=finding.item,
                    side=finding.side,
                    per_month=middle,
                    low=low,
                    high=high,
                    points=len(numbers) + 1,
                    unit=catalogue.items[finding.item].unit or "",
                )
            )
    return tuple(found)


def trend_of(numbers: Sequence[tuple[date, float]]) -> tuple[float, float, float] | None:
    """Low end, slope and high end a day; None where nothing can be said."""
    if len(numbers) < TREND_POINTS or len({day for day, _ in numbers}) < 2:
        return None
    from handsfree.measuring.statistics import robust_slope

    slope = robust_slope(
        [float(day.toordinal()) for day, _ in numbers], [value for _, value in numbers]
    )
    return (slope.low, slope.slope, slope.high) if slope.certain else None
