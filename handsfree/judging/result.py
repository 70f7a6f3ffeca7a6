"""The result as sentences to be spoken, and as lines to be printed.

What to do comes first, with doubted alarms before all else. No ``now`` or ``same_day`` finding is
ever dropped for length: what there is no time to explain is counted and named. Then changes, what
was not covered, and the closing caution. Wording only: nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from handsfree.judging.catalogue import Catalogue
from handsfree.judging.growth import doubling_days
from handsfree.judging.model import Change, ChangeKind, Fired, Judgement, Level

__all__ = ["LIMIT_S", "Telling", "alone_words", "main_rows", "printed", "seconds_of", "spoken"]

LIMIT_S = 45.0
"""The spoken result is kept under this, at 160 words a minute."""

_LEAD = {
    Level.NOW: "Call a vet now",
    Level.SAME_DAY: "Call a vet today",
    Level.DAYS: "Have it seen within days",
    Level.NEXT_VISIT: "For the next visit",
    Level.WATCH: "To watch",
}
_VITAL = {
    "gums": "the gums",
    "breathing": "the breathing",
    "attitude": "the attitude",
    "belly": "the belly",
}
_REASON = {
    "skipped": "skipped",
    "cannot_see": "it could not be seen",
    "dog_refused": "the dog would not have it",
    "no_time": "there was no time",
    "not_understood": "the answer was not understood",
    "no_thermometer": "there was no thermometer",
}
_CLOSING = "This is no diagnosis. If you are worried, call your vet anyway."


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What wording needs beside the judgement.

    Attributes:
        catalogue: Items with their titles and readings.
        dog: The dog's name, as spoken.
        vet_number: As spoken; None if none is set.
        places: Known lumps' keys to their places.
        cannot_see: The person sees little or nothing: what could not be seen is always said.
    """

    catalogue: Catalogue
    dog: str = "the dog"
    vet_number: str | None = None
    places: Mapping[str, str] | None = None
    cannot_see: bool = False


def seconds_of(text: str) -> float:
    """About how long a sentence takes at 160 words a minute, its pause included.

    Fitted to the default synthesiser over the sentences of the table; the gap after a sentence is
    counted too.
    """
    letters = sum(1 for c in text if c.isalpha())
    digits = sum(1 for c in text if c.isdigit())
    pauses = sum(1 for c in text if c in ",;:") + text.count(". ")
    words = len(text.split())
    return 0.65 + 0.045 * letters + 0.124 * words + 0.53 * pauses + 0.35 * digits


def main_rows(fired: Sequence[Fired]) -> tuple[Fired, ...]:
    """Fired rows without the lesser ones that a more urgent row of the same topic says already.

    Every ``now`` and ``same_day`` row stays; of the rest one a topic, and the remark that
    something was noticed only where nothing else is said.
    """
    kept: list[Fired] = []
    topics: set[str] = set()
    for row in fired:
        urgent = row.level in (Level.NOW, Level.SAME_DAY)
        if not urgent and (row.rule.topic in topics or row.rule.topic == "noticed"):
            continue
        topics.add(row.rule.topic)
        kept.append(row)
    return tuple(kept) or tuple(fired)


def spoken(judgement: Judgement, telling: Telling) -> tuple[str, ...]:
    """The result, sentence by sentence, in at most 45 seconds.

    Only where the urgent findings are so many that naming them takes longer is the limit passed.
    """
    rows = main_rows(judgement.fired)
    doubted = [f for f in rows if f.possible and f.rule.level.rank >= Level.SAME_DAY.rank]
    sure = [f for f in rows if f not in doubted]
    must: list[str] = []
    if doubted:
        must.append(f"Not sure, but possible: {_names(doubted, telling)}.")
        when = "now" if any(f.level is Level.NOW for f in doubted) else "today"
        must.append(f"Look once more; if it is so, call a vet {when}.")
    must += _urgent(judgement, sure, telling)
    if judgement.unfinished:
        must.append(_unfinished(judgement))
    unseen = _unseen(judgement, telling)
    if telling.cannot_see:
        must += unseen
        unseen = []
    end = [telling.catalogue.cautions.get("clean_result", _CLOSING)]
    if judgement.only and not judgement.fired:
        end = []  # it is no check, and that it says little is said already
    optional: list[str] = []
    optional += _advice(sure or rows)
    optional += judgement.contradictions
    for level in (Level.DAYS, Level.NEXT_VISIT, Level.WATCH):
        optional += _lesser([f for f in sure if f.level is level], level, telling)
    optional += _changes(judgement.changes, telling)
    optional += _trends(judgement)
    optional += unseen
    optional += _not_covered(judgement, telling)
    if judgement.body_condition:
        optional.append(f"Body condition {judgement.body_condition}.")
    return _fit(must, optional, end)


def _fit(must: list[str], optional: list[str], end: list[str]) -> tuple[str, ...]:
    used = sum(map(seconds_of, [*must, *end]))
    kept = []
    left = 0
    reserve = seconds_of("And ten smaller points are in the printed result.")
    for sentence in optional:
        length = seconds_of(sentence)
        if used + length + reserve <= LIMIT_S:
            kept.append(sentence)
            used += length
        else:
            left += 1
    if left and used + reserve <= LIMIT_S:
        points = "point is" if left == 1 else "points are"
        kept.append(f"And {left} smaller {points} in the printed result.")
    return (*must, *kept, *end)


def _urgent(judgement: Judgement, sure: Sequence[Fired], telling: Telling) -> list[str]:
    told: list[str] = []
    now = [f for f in sure if f.level is Level.NOW]
    today = [f for f in sure if f.level is Level.SAME_DAY]
    if now:
        told.append(f"{_LEAD[Level.NOW]}: {_names(now[:2], telling)}.")
        told.append(
            f"The number is {telling.vet_number}."
            if telling.vet_number
            else "No vet's number is set: look it up now."
        )
        told += _counted(now[2:], "for now", telling)
    if today:
        told.append(f"{_LEAD[Level.SAME_DAY]}: {_names(today[:2], telling)}.")
        told += _counted(today[2:], "for today", telling)
    if judgement.only:
        told += alone_words(judgement)
    elif judgement.level is Level.NONE_FOUND:
        told.append(f"Nothing was found in what was looked at in {telling.dog}.")
    elif judgement.level is Level.NOT_ENOUGH:
        told.append("Not enough was seen to say that all is well.")
    if judgement.vital_missing:
        missing = _joined(_VITAL.get(v, v) for v in judgement.vital_missing)
        told.append(f"Not looked at: {missing}.")
    return told


def alone_words(judgement: Judgement) -> tuple[str, ...]:
    """Return that nothing else was measured, and what that is worth; empty for a check."""
    if not judgement.only:
        return ()
    if judgement.level is Level.NOT_ENOUGH:
        return (
            f"Only this was asked: {judgement.only}.",
            "No number came of it, so nothing can be said.",
        )
    said = f"Only this was measured: {judgement.only}."
    if judgement.fired:
        return (said,)
    return (said, "By itself that sets off no warning. One number alone says little of the dog.")


def _unfinished(judgement: Judgement) -> str:
    what = "measurement" if judgement.only else "check"
    return f"The {what} was not finished; this is from what was answered."


def _counted(rows: Sequence[Fired], what: str, telling: Telling) -> list[str]:
    if not rows:
        return []
    return [f"And {len(rows)} more {what}: {_names(rows, telling)}."]


def _advice(rows: Sequence[Fired]) -> list[str]:
    """What to do and not to do meanwhile, for the most urgent row."""
    if not rows:
        return []
    first = rows[0]
    told = []
    if first.stepped:
        told.append(f"It weighs more {first.stepped}.")
    if first.level in (Level.NOW, Level.SAME_DAY):
        told += [text for text in (first.rule.avoid, first.rule.meanwhile) if text]
    return told


def _lesser(rows: Sequence[Fired], level: Level, telling: Telling) -> list[str]:
    if not rows:
        return []
    again = [f for f in rows if f.rule.recheck]
    others = [f for f in rows if not f.rule.recheck]
    told = [f"{_LEAD[level]}: {_names(others, telling)}."] if others else []
    # A watch row that was stepped up is still to be looked at again.
    told += [f"{_LEAD[level]}: {_name(f, telling)}; look again {f.rule.recheck}." for f in again]
    return told


def _changes(changes: Sequence[Change], telling: Telling) -> list[str]:
    by_kind: dict[ChangeKind, list[str]] = {}
    for change in changes:
        text = _change_text(change, telling)
        if text and text not in by_kind.setdefault(change.kind, []):
            by_kind[change.kind].append(text)
    told = []
    for kind, lead in (
        (ChangeKind.FIRST_SEEN, "New since last time"),
        (ChangeKind.CHANGED, "Changed"),
        (ChangeKind.GONE, "No longer there"),
        (ChangeKind.UNCHANGED, "As last time"),
        (ChangeKind.NOT_LOOKED, "There last time and not looked at today"),
    ):
        if texts := by_kind.get(kind):
            more = f", and {len(texts) - 3} more" if len(texts) > 3 else ""
            told.append(f"{lead}: {', '.join(texts[:3])}{more}.")
    return told


def _change_text(change: Change, telling: Telling) -> str:
    info = telling.catalogue.items.get(change.item)
    if info is None:
        return ""
    if info.unit is not None:
        if not change.counts:
            return ""
        return f"{_title(change.item)} {_number(change.before)} to {_number(change.now)}"
    value = change.before if change.now is None or change.kind is ChangeKind.GONE else change.now
    return reading(telling, change.item, value, change.side)


def _trends(judgement: Judgement) -> list[str]:
    told = []
    for trend in judgement.trends:
        way = "rising" if trend.per_month > 0 else "falling"
        told.append(
            f"{_title(trend.item)} is {way}, about {abs(trend.per_month):.1f} {trend.unit} a month."
        )
    return told


def _growth(judgement: Judgement) -> list[str]:
    """The pace of a lump that has grown past the measuring error, for the vet's eye."""
    told = []
    for change in judgement.changes:
        before, now = change.before, change.now
        if change.item != "lumps.known_length" or not change.counts or change.since is None:
            continue
        if judgement.on is None or not isinstance(before, float) or not isinstance(now, float):
            continue
        days = doubling_days(before, now, (judgement.on - change.since).days)
        if days is not None:
            told.append(f"At this pace the lump's volume doubles in about {days:.0f} days.")
    return told


def _unseen(judgement: Judgement, telling: Telling) -> list[str]:
    """What could not be seen, for the vet to look at."""
    titles = _titles(judgement, telling, seen=False)
    return [f"Could not be seen, so ask your vet to look: {_joined(titles)}."] if titles else []


def _not_covered(judgement: Judgement, telling: Telling) -> list[str]:
    titles = _titles(judgement, telling, seen=True)
    return [f"Left out: {_joined(titles)}."] if titles else []


def _titles(judgement: Judgement, telling: Telling, *, seen: bool) -> list[str]:
    """Regions with something not observed, each once; for want of sight, or for another reason."""
    titles: dict[str, None] = {}
    for gap in judgement.not_covered:
        info = telling.catalogue.items.get(gap.item)
        if info is not None and (gap.reason != "cannot_see") is seen:
            titles.setdefault(info.title)
    return list(titles)


def reading(telling: Telling, item: str, value: str | float | None, side: str | None) -> str:
    """A value as it is read back, with its side; empty where the item is unknown."""
    info = telling.catalogue.items.get(item)
    if info is None or value is None:
        return ""
    if not isinstance(value, str):
        return f"{_title(item)} {_number(value)} {info.unit or ''}".strip()
    text = info.values.get(value, value)
    where = side_words(side, telling)
    if "{" in text:
        for mark in ("{side}", "{gland}", "{lump}", "{place}"):
            text = text.replace(mark, where)
        return text
    return f"{text}, {where}" if where else text


def side_words(side: str | None, telling: Telling) -> str:
    """A side as spoken: "left front"; a known lump by its place."""
    if side is None:
        return ""
    if telling.places and side in telling.places:
        return telling.places[side]
    return side.replace("_", " ")


def _name(row: Fired, telling: Telling) -> str:
    sides = [side_words(side, telling) for side in row.sides]
    return f"{row.rule.name}, {_joined(sides)}" if sides else row.rule.name


def _names(rows: Sequence[Fired], telling: Telling) -> str:
    names = dict.fromkeys(_name(row, telling) for row in rows)
    return "; ".join(names) if any("," in n for n in names) else _joined(names)


def _joined(words: Iterable[str]) -> str:
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} and {found[-1]}"


def _title(item: str) -> str:
    return {
        "weight.kg": "Weight",
        "breaths.rate": "Breaths a minute",
        "heart.rate": "Heart rate",
        "mouth.refill": "Refill",
        "temperature.degrees": "Temperature",
        "lumps.known_length": "Lump length",
        "lumps.known_width": "Lump width",
    }.get(item, item.partition(".")[2].replace("_", " ").capitalize())


def _number(value: str | float | None) -> str:
    return "" if value is None else f"{value:g}" if not isinstance(value, str) else value


def printed(judgement: Judgement, telling: Telling) -> tuple[str, ...]:
    """The result as plain lines: every row with its reason, advice and source, nothing left out."""
    lines = [f"Result for {telling.dog}: {_level_words(judgement.level)}."]
    lines += alone_words(judgement)
    if judgement.unfinished:
        lines.append(_unfinished(judgement))
    if judgement.level is Level.NOW and telling.vet_number:
        lines.append(f"Vet: {telling.vet_number}.")
    rows = sorted(judgement.fired, key=lambda f: not f.possible)
    for row in rows:
        lines += _row_lines(row, telling)
    lines += [f"Answers that disagree: {text}" for text in judgement.contradictions]
    lines += _changes(judgement.changes, telling)
    lines += _trends(judgement)
    lines += _growth(judgement)
    if judgement.body_condition:
        lines.append(f"Body condition {judgement.body_condition}.")
    if judgement.ideal_weight:
        lines.append(f"Ideal weight {judgement.ideal_weight}.")
    if judgement.vital_missing:
        missing = _joined(_VITAL.get(v, v) for v in judgement.vital_missing)
        lines.append(f"Not looked at, and needed to say that all is well: {missing}.")
    for gap in judgement.not_covered:
        info = telling.catalogue.items.get(gap.item)
        if info is None:
            continue
        where = side_words(gap.side, telling)
        title = f"{gap.item} {where}".strip()
        why = _REASON.get(gap.reason, gap.reason.replace("_", " "))
        lines.append(f"Not observed: {title} ({why}).")
    lines += _unseen(judgement, telling)
    lines += [f"Caution: {telling.catalogue.cautions[key]}" for key in judgement.cautions]
    lines.append(telling.catalogue.cautions.get("clean_result", _CLOSING))
    lines.append(f"Judged by table {judgement.rules_version}.")
    return tuple(lines)


def _row_lines(row: Fired, telling: Telling) -> list[str]:
    possible = "possible, not sure: " if row.possible else ""
    lines = [f"{_level_words(row.level).capitalize()}: {possible}{_name(row, telling)}."]
    if row.stepped:
        lines.append(f"  It weighs more {row.stepped}.")
    lines.append(f"  {row.rule.say}")
    lines += [f"  {text}" for text in (row.rule.meanwhile, row.rule.avoid) if text]
    if row.rule.recheck:
        lines.append(f"  Look again {row.rule.recheck}.")
    heard = dict.fromkeys(
        reading(telling, e.item, e.value, e.side)
        for e in row.evidence
        if not e.item.startswith("derived.")
    )
    if heard:
        lines.append(f"  Because of: {'; '.join(heard)}.")
    basis = "our own judgement, awaiting a vet" if row.rule.awaits_vet else row.rule.basis
    lines.append(f"  Row {row.rule.id}; {basis}: {row.rule.cite}.")
    return lines


def _level_words(level: Level) -> str:
    return {
        Level.NOW: "a vet now",
        Level.SAME_DAY: "a vet today",
        Level.DAYS: "a vet within days",
        Level.NEXT_VISIT: "at the next visit",
        Level.WATCH: "watch",
        Level.NOT_ENOUGH: "not enough was seen to say",
        Level.NONE_FOUND: "nothing found in what was looked at",
    }[level]
