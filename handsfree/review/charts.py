"""Charts of one number over time, drawn as SVG by our own hand.

A chart takes points and gives text; nothing is read here. Meaning never rests on colour: the dog's
own usual is a dashed line, a published band a bordered area, both with their words beside them.
All text is escaped by the markup type that this module returns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

__all__ = ["Chart", "Point", "drawn"]

WIDTH, HEIGHT = 400, 230
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 62, 14, 30
_DOTS_UP_TO = 60
"""With more points than this the line alone is drawn; the table holds every value."""


@dataclass(frozen=True, kw_only=True)
class Point:
    """One value on one day, in the chart's unit, with the ends of its uncertainty if known.

    ``how`` says how it was taken; ``key`` names the answer it comes from.
    """

    on: date
    value: float
    low: float | None = None
    high: float | None = None
    how: str = ""
    key: str = ""


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One chart.

    Attributes:
        key: Distinct within the page, letters and digits.
        title: What is shown.
        unit: Unit as written.
        points: Values, oldest first, at least one.
        usual: The dog's own median; None with fewer than three readings taken alike.
        usual_spread: Median absolute deviation of those.
        band_low: Lower end of a published band.
        band_high: Upper end.
        band_words: The band in words, with its source; why there is none if there is none.
        says: One sentence on what the chart shows.
        decimals: Decimals worth showing.
    """

    key: str
    title: str
    unit: str
    points: tuple[Point, ...]
    usual: float | None = None
    usual_spread: float | None = None
    band_low: float | None = None
    band_high: float | None = None
    band_words: str = ""
    says: str = ""
    decimals: int = 1

    def __post_init__(self) -> None:
        if not self.points:
            msg = f"a chart of {self.title} needs a point"
            raise ValueError(msg)

    def text(self, value: float) -> str:
        """Return a value as written on the page."""
        return f"{round(value, self.decimals):g}"

    @property
    def svg(self) -> Markup:
        """The drawing."""
        return drawn(self)


class _Scale:
    """From values and days to places in the drawing."""

    def __init__(self, chart: Chart) -> None:
        values = [v for p in chart.points for v in (p.value, p.low, p.high) if v is not None]
        values += [v for v in (chart.usual, chart.band_low, chart.band_high) if v is not None]
        low, high = min(values), max(values)
        room = (high - low) * 0.12 or max(abs(high) * 0.05, 0.5)
        self.step = _nice((high - low + 2 * room) / 4)
        self.low = max(0.0, math.floor((low - room) / self.step) * self.step)
        self.high = math.ceil((high + room) / self.step) * self.step
        self.first, self.last = chart.points[0].on, chart.points[-1].on
        self.days = max((self.last - self.first).days, 1)
        self.single = self.first == self.last

    def x(self, day: date) -> float:
        if self.single:
            return (_LEFT + WIDTH - _RIGHT) / 2
        inner = WIDTH - _LEFT - _RIGHT - 16
        return _LEFT + 8 + inner * (day - self.first).days / self.days

    def y(self, value: float) -> float:
        inner = HEIGHT - _TOP - _BOTTOM
        return HEIGHT - _BOTTOM - inner * (value - self.low) / (self.high - self.low)

    def ticks(self) -> list[float]:
        count = round((self.high - self.low) / self.step)
        return [self.low + self.step * number for number in range(count + 1)]

    def day_ticks(self) -> list[date]:
        if self.single:
            return [self.first]
        parts = 3 if self.days >= 3 else 1
        return [self.first + timedelta(days=round(self.days * n / parts)) for n in range(parts + 1)]


def _nice(step: float) -> float:
    """Return a step of 1, 2 or 5 times a power of ten, no smaller than ``step``."""
    power = 10.0 ** math.floor(math.log10(step))
    return next(power * factor for factor in (1, 2, 5, 10) if power * factor >= step * 0.999)


def drawn(chart: Chart) -> Markup:
    """Return the chart as one SVG element."""
    scale = _Scale(chart)
    parts = [
        Markup(
            '<svg class="chart" viewBox="0 0 {} {}" role="img" aria-labelledby="{}-t {}-d">'
            '<title id="{}-t">{}, {}</title><desc id="{}-d">{}</desc>'
        ).format(
            WIDTH,
            HEIGHT,
            chart.key,
            chart.key,
            chart.key,
            chart.title,
            chart.unit,
            chart.key,
            chart.says,
        ),
        *_frame(chart, scale),
        *_band(chart, scale),
        *_usual(chart, scale),
        *_values(chart, scale),
        Markup("</svg>"),
    ]
    return Markup("").join(parts)


def _frame(chart: Chart, scale: _Scale) -> list[Markup]:
    parts = []
    for value in scale.ticks():
        y = scale.y(value)
        parts.append(
            Markup(
                '<path class="grid" d="M{} {:.1f}H{}"/><text x="{}" y="{:.1f}" class="tick end">'
                "{:g}</text>"
            ).format(_LEFT, y, WIDTH - _RIGHT, _LEFT - 6, y + 4, round(value, 6))
        )
    days = scale.day_ticks()
    form = "%d %b %y" if scale.days > 300 else "%d %b"
    for place, day in enumerate(days):
        side = "mid" if scale.single or 0 < place < len(days) - 1 else "end" if place else "start"
        parts.append(
            Markup('<text x="{:.1f}" y="{}" class="tick {}">{}</text>').format(
                scale.x(day), HEIGHT - 10, side, day.strftime(form).lstrip("0")
            )
        )
    return parts


def _band(chart: Chart, scale: _Scale) -> list[Markup]:
    if chart.band_low is None and chart.band_high is None:
        return []
    top = scale.y(scale.high if chart.band_high is None else chart.band_high)
    bottom = scale.y(scale.low if chart.band_low is None else chart.band_low)
    parts = [
        Markup('<rect class="band" x="{}" y="{:.1f}" width="{}" height="{:.1f}"/>').format(
            _LEFT, top, WIDTH - _LEFT - _RIGHT, max(bottom - top, 0)
        )
    ]
    parts += [
        Markup('<path class="edge" d="M{} {:.1f}H{}"/>').format(_LEFT, scale.y(end), WIDTH - _RIGHT)
        for end in (chart.band_low, chart.band_high)
        if end is not None
    ]
    return parts


def _usual(chart: Chart, scale: _Scale) -> list[Markup]:
    if chart.usual is None:
        return []
    y = scale.y(chart.usual)
    return [
        Markup(
            '<path class="usual" d="M{} {:.1f}H{}"/><text x="{}" y="{:.1f}" class="tick">'
            "usual {}</text>"
        ).format(_LEFT, y, WIDTH - _RIGHT, WIDTH - _RIGHT + 5, y + 4, chart.text(chart.usual))
    ]


def _values(chart: Chart, scale: _Scale) -> list[Markup]:
    places = [(scale.x(p.on), scale.y(p.value)) for p in chart.points]
    parts = []
    if len(places) > _DOTS_UP_TO:
        parts += _envelope(chart, scale)
    if len(places) > 1:
        steps = "L".join(f"{x:.1f} {y:.1f}" for x, y in places)
        parts.append(Markup('<path class="line" d="M{}"/>').format(steps))
    if len(places) > _DOTS_UP_TO:
        x, y = places[-1]
        return [*parts, Markup('<circle class="dot" cx="{:.1f}" cy="{:.1f}" r="4"/>').format(x, y)]
    for point, (x, y) in zip(chart.points, places, strict=True):
        if point.low is not None and point.high is not None:
            top, bottom = scale.y(point.high), scale.y(point.low)
            parts.append(
                Markup('<path class="doubt" d="M{:.1f} {:.1f}h10m-5 0V{:.1f}m-5 0h10"/>').format(
                    x - 5, top, bottom
                )
            )
        parts.append(Markup('<circle class="dot" cx="{:.1f}" cy="{:.1f}" r="4"/>').format(x, y))
    return parts


def _envelope(chart: Chart, scale: _Scale) -> list[Markup]:
    """Return the uncertainty of many readings as one area about their line."""
    known = [p for p in chart.points if p.low is not None and p.high is not None]
    if len(known) < 2:
        return []
    up = [(scale.x(p.on), scale.y(p.high)) for p in known if p.high is not None]
    down = [(scale.x(p.on), scale.y(p.low)) for p in reversed(known) if p.low is not None]
    steps = "L".join(f"{x:.1f} {y:.1f}" for x, y in (*up, *down))
    return [Markup('<path class="cloud" d="M{}Z"/>').format(steps)]
