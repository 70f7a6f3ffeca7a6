"""The numbers of one dog as charts: which are shown, what is usual for the dog, what each says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.past import ERROR_OF, baseline_of
from handsfree.review.bands import band_for
from handsfree.review.charts import Chart, Point
from handsfree.review.wording import said_when, sentence
from handsfree.units import UNITS, convert

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.protocol.subject import Subject
    from handsfree.records import Answer, Store

__all__ = ["charts_of", "how_taken"]

_TITLES = (
    ("breaths.rate", "Breaths at rest", "breaths.state"),
    ("heart.rate", "Heart rate", "heart.mood"),
    ("temperature.degrees", "Temperature", "temperature.site"),
    ("mouth.refill", "Refill of the gums", None),
)
"""Item, title, and the item that says under which circumstances it was taken."""

_BASELINE = 30
"""The usual is that of the last so many readings taken alike, as in judging."""

_REFILL_ERROR_S = 0.5
"""A refill timed by voice is no better than this; our own judgement, awaiting a vet."""


def charts_of(
    store: Store, subject: Subject, protocol: Protocol, on: date, *, imperial: bool = False
) -> tuple[Chart, ...]:
    """Return the charts of a dog; none for what was never measured."""
    found = [_weights(store, subject, on, imperial=imperial)]
    for item, title, state in _TITLES:
        found.append(_item(store, subject, protocol, on, item, title, state, imperial=imperial))
    found += _lumps(store, subject, on, imperial=imperial)
    return tuple(chart for chart in found if chart is not None)


def how_taken(answer: Answer) -> str:
    """Return how a number was taken, in words: way, repeats, window, spread."""
    method = dict(answer.method)
    words = [str(method["way"])] if "way" in method else []
    if "repeats" in method:
        words.append(f"{float(method['repeats']):g} repeats")
    if "spread_s" in method:
        words.append(f"{float(method['spread_s']):.1f} s apart at most")
    if "range_low_s" in method and "range_high_s" in method:
        words.append(f"read as {method['range_low_s']:g} to {method['range_high_s']:g} s")
    if "window_s" in method:
        events = float(method.get("events", method.get("count", 0.0)))
        words.append(f"{events:g} counted in {float(method['window_s']):g} s")
    if "short_window" in method:
        words.append("a short window")
    if "resolution_per_min" in method:
        words.append(f"give or take {float(method['resolution_per_min']):g} a minute")
    if "said" in method:
        words.append(f"said as {method['said']}")
    if "like" in method:
        words.append(f"by the size of a {method['like']}")
        if "low_mm" in method and "high_mm" in method:
            words.append(f"{float(method['low_mm']):g} to {float(method['high_mm']):g} mm")
    if not words:
        words.append({"keys": "typed", "voice": "spoken", "touch": "touched"}.get(answer.by, ""))
    if method.get("doubtful") == "yes":
        words.append("timing in doubt")
    return ", ".join(word for word in words if word)


def _weights(store: Store, subject: Subject, on: date, *, imperial: bool) -> Chart | None:
    weights = store.weights.of_dog(subject.dog_id)[::-1]
    unit = "lb" if imperial else "kg"
    points = tuple(
        Point(
            on=w.at.date(),
            value=convert(w.weight_kg, "kg", unit),
            how=w.how.replace("_", " "),
            key=w.id,
        )
        for w in weights
    )
    decimals = 2 if points and points[-1].value < 10 else 1
    alike = [(p.on, p.value) for p in points if p.how == points[-1].how]
    return _chart(
        "weight",
        "Weight",
        unit,
        points,
        alike,
        on,
        error=convert(ERROR_OF["weight.kg"], "kg", unit),
        band_words="No published band: a weight is compared with the dog's own.",
        decimals=decimals,
    )


def _item(
    store: Store,
    subject: Subject,
    protocol: Protocol,
    on: date,
    item: str,
    title: str,
    state_item: str | None,
    *,
    imperial: bool,
) -> Chart | None:
    answers = [
        a
        for a in store.exams.item_history(subject.dog_id, item)[::-1]
        if isinstance(a.value, float) and a.confirmed.value != "possible"
    ]
    if not answers:
        return None
    states: dict[str, str] = {}
    if state_item is not None:
        states = {
            a.exam_id: str(a.value)
            for a in store.exams.item_history(subject.dog_id, state_item)
            if a.value is not None
        }
    stored = answers[-1].unit or ""
    unit = "degF" if imperial and stored == "Cel" else stored
    points = tuple(_point(a, states.get(a.exam_id, ""), unit) for a in answers)
    last = states.get(answers[-1].exam_id, "")
    alike = [
        (p.on, p.value)
        for a, p in zip(answers, points, strict=True)
        if states.get(a.exam_id, "") == last
    ]
    band = band_for(item, subject)
    words = "No published band is known for this dog."
    low = high = None
    if band is not None:
        low = None if band.low is None else convert(band.low, stored, unit)
        high = None if band.high is None else convert(band.high, stored, unit)
        words = f"Published: {band.says}. {protocol.sources[band.source].cite}"
    error = ERROR_OF.get(item, 0.0) * (1.8 if unit == "degF" else 1.0)
    return _chart(
        item.replace(".", ""),
        title,
        unit,
        points,
        alike,
        on,
        error=error,
        band=(low, high),
        band_words=words,
        state=last.replace("_", " "),
        decimals=0 if unit == "/min" else 1,
    )


def _point(answer: Answer, state: str, unit: str) -> Point:
    assert isinstance(answer.value, float)
    value = convert(answer.value, answer.unit or unit, unit)
    method = dict(answer.method)
    low = high = None
    if answer.item == "mouth.refill":
        half = max(float(method.get("spread_s", 0.0)) / 2, _REFILL_ERROR_S)
        low, high = max(0.0, value - half), value + half
    elif "resolution_per_min" in method:
        half = float(method["resolution_per_min"])
        low, high = max(0.0, value - half), value + half
    how = how_taken(answer)
    state = state.replace("_", " ")
    return Point(
        on=answer.at.date(),
        value=value,
        low=low,
        high=high,
        how=", ".join(word for word in (state, how) if word),
        key=answer.id,
    )


def _lumps(store: Store, subject: Subject, on: date, *, imperial: bool) -> list[Chart | None]:
    found: list[Chart | None] = []
    unit = "in" if imperial else "mm"
    for number, lump in enumerate(store.lumps.of_dog(subject.dog_id, gone=True), 1):
        answers = list(
            store.exams.item_history(subject.dog_id, "lumps.known_length", side=lump.key)
        )
        widths = {
            a.exam_id: a.value
            for a in store.exams.item_history(subject.dog_id, "lumps.known_width", side=lump.key)
        }
        if lump.found_exam_id is not None:
            for answer in store.exams.answers(lump.found_exam_id):
                if answer.side != lump.found_side:
                    continue
                if answer.item == "lumps.new_length":
                    answers.append(answer)
                elif answer.item == "lumps.new_width":
                    widths[answer.exam_id] = answer.value
        points = tuple(
            Point(
                on=a.at.date(),
                value=convert(a.value, a.unit or "mm", unit),
                how=_across(widths.get(a.exam_id), unit),
                key=a.id,
            )
            for a in reversed(answers)
            if isinstance(a.value, float)
        )
        found.append(
            _chart(
                f"lump{number}",
                f"Lump on {lump.place}, longest diameter",
                unit,
                points,
                [(p.on, p.value) for p in points],
                on,
                error=convert(ERROR_OF["lumps.known_length"], "mm", unit),
                band_words="No published band: a lump is compared with its own earlier size.",
                decimals=2 if imperial else 0,
            )
        )
    return found


def _across(width: object, unit: str) -> str:
    if not isinstance(width, float):
        return ""
    return f"{round(convert(width, 'mm', unit), 2 if unit == 'in' else 0):g} {unit} across"


def _chart(
    key: str,
    title: str,
    unit: str,
    points: tuple[Point, ...],
    alike: Sequence[tuple[date, float]],
    on: date,
    *,
    error: float,
    band: tuple[float | None, float | None] = (None, None),
    band_words: str,
    decimals: int,
    state: str = "",
) -> Chart | None:
    if not points:
        return None
    written = UNITS[unit].written if unit in UNITS else unit
    # Today's reading is compared with those before it, as judging does.
    usual = baseline_of(list(alike)[:-1][-_BASELINE:])
    last = points[-1]
    said = [
        f"{len(points)} reading{'' if len(points) == 1 else 's'}; the last is "
        f"{round(last.value, decimals):g} {written}, taken {said_when(last.on, on)}"
        + (f" ({state})" if state else "")
    ]
    if usual is not None:
        away = last.value - usual.middle
        if abs(away) <= error:
            said.append("no different from this dog's usual, measuring error allowed for")
        else:
            way = "above" if away > 0 else "below"
            said.append(
                f"{abs(round(away, max(decimals, 1))):g} {written} {way} this dog's usual of "
                f"{round(usual.middle, decimals):g}"
            )
    else:
        said.append("too few readings taken alike to say what is usual for this dog")
    low, high = band
    if high is not None and last.value > high:
        said.append("above the published band")
    elif low is not None and last.value < low:
        said.append("below the published band")
    elif low is not None or high is not None:
        said.append("within the published band")
    return Chart(
        key=f"c{key}",
        title=title,
        unit=written,
        points=points,
        usual=None if usual is None else usual.middle,
        usual_spread=None if usual is None else usual.spread,
        band_low=low,
        band_high=high,
        band_words=band_words,
        says=sentence("; ".join(said)) + ".",
        decimals=decimals,
    )
