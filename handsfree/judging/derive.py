"""Numbers worked out from today's answers and the dog's past, for rows to test.

Each becomes a finding whose item begins with ``derived.``; what cannot be worked out is left out,
never guessed. A derived number is as sure as the answer that it rests on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from statistics import median

from handsfree.judging.catalogue import DERIVED
from handsfree.judging.condition import body_condition
from handsfree.judging.model import Certainty, Finding
from handsfree.judging.past import ERROR_OF, Past, baseline_of, circumstances, weight_error
from handsfree.protocol.subject import Subject

__all__ = ["derived"]

_YEAR = timedelta(days=365)
_MONTH = timedelta(days=31)
_WEEK = timedelta(days=10)


def derived(
    findings: Sequence[Finding], subject: Subject, past: Past, on: date
) -> tuple[Finding, ...]:
    """Everything that can be worked out.

    Args:
        findings: Today's answers, one an item and side.
        subject: The dog.
        past: Its earlier exams.
        on: Today.
    """
    score = body_condition(findings)
    found: list[Finding] = []
    if score is not None:
        ribs = next(f for f in findings if f.item == "outline.ribs")
        found.append(_made("derived.body_condition", float(score.score), ribs))
    found += _unsampled(findings, subject)
    for finding in findings:
        if finding.number is None:
            continue
        if finding.item == "weight.kg":
            found += _weight(finding, findings, subject, past, on)
        elif finding.item in ("breaths.rate", "breaths.recount"):
            found += _breathing(finding, findings, past)
        elif finding.item == "lumps.known_length":
            found += _lump(finding, subject, past)
        elif finding.item == "temperature.degrees":
            found += _fever(findings, past, on)
        elif finding.item == "noticed.water":
            found += _water(finding, findings, subject)
        elif finding.item == "mouth.refill":
            found += _refill(finding, past, on)
    return tuple(found)


def _unsampled(findings: Sequence[Finding], subject: Subject) -> list[Finding]:
    """Known lumps that no vet has judged: there, gone or not looked at, the advice stays."""
    sampled = {lump.key for lump in subject.lumps if lump.vet_result}
    keys: dict[str | None, Certainty] = {lump.key: "confirmed" for lump in subject.lumps}
    keys |= {f.side: f.certainty for f in findings if f.item == "lumps.known" and f.value}
    keys |= {f.side: "confirmed" for f in findings if f.item == "lumps.known" and not f.value}
    item = "derived.lump_unsampled"
    return [
        Finding(item=item, side=key, value=1.0, unit=DERIVED[item].unit, certainty=certainty)
        for key, certainty in keys.items()
        if key not in sampled
    ]


def _made(item: str, value: float, basis: Finding, side: str | None = None) -> Finding:
    return replace(
        basis, item=item, side=side, value=value, unit=DERIVED[item].unit, certainty=basis.certainty
    )


def _weight(
    finding: Finding, findings: Sequence[Finding], subject: Subject, past: Past, on: date
) -> list[Finding]:
    """Loss and gain in per cent. The stable weight is the highest median of three of a year.

    A difference within measuring error counts for nothing, so that a toy dog on a bathroom scale
    does not seem to waste away.
    """
    now = finding.number
    if now is None or now <= 0:
        return []
    numbers = [(day, kg) for day, kg in past.numbers("weight.kg") if day <= on and kg > 0]
    year = [kg for day, kg in numbers if on - day <= _YEAR]
    month = [kg for day, kg in numbers if on - day <= _MONTH]
    week = [kg for day, kg in numbers if on - day <= _WEEK]
    found = []
    error = weight_error(findings)

    def share(item: str, before: float, change: float) -> None:
        if change > error:
            found.append(_made(item, 100 * change / before, finding))

    if subject.age_months is not None and subject.age_months < 1:
        recent = [kg for day, kg in numbers if on - day <= timedelta(days=3)]
        if recent and recent[-1] > now:
            # A kitchen scale weighs a pup to grams: no allowance for error.
            value = 100 * (recent[-1] - now) / recent[-1]
            found.append(_made("derived.newborn_loss", value, finding))
        return found
    if month:
        share("derived.weight_loss_month", max(month), max(month) - now)
    if year:
        threes = [median(year[i : i + 3]) for i in range(len(year) - 2)]
        stable = max(threes) if threes else max(year)
        share("derived.weight_loss", stable, stable - now)
    if week:
        share("derived.weight_gain_week", min(week), now - min(week))
    return found


def _breathing(finding: Finding, findings: Sequence[Finding], past: Past) -> list[Finding]:
    """Rise over the median of the dog's own sleeping counts, past the error of counting."""
    like = circumstances(findings, "breaths.rate")
    if like != ("asleep",) or finding.number is None:
        return []
    base = baseline_of(past.numbers("breaths.rate", None, like))
    if base is None or finding.number - base.middle <= ERROR_OF["breaths.rate"]:
        return []
    rise = 100 * (finding.number - base.middle) / base.middle
    return [_made("derived.breathing_rise", rise, finding)]


def _lump(finding: Finding, subject: Subject, past: Past) -> list[Finding]:
    """Growth since the last length known, and how long the lump has been followed."""
    numbers = past.numbers("lumps.known_length", finding.side)
    before = numbers[-1][1] if numbers else None
    if before is None:
        known = {lump.key: lump.length_mm for lump in subject.lumps}
        before = known.get(finding.side or "")
    if not before or finding.number is None:
        return []
    grown = finding.number - before
    return [
        _made("derived.lump_growth", 100 * grown / before, finding, finding.side),
        _made("derived.lump_growth_mm", grown, finding, finding.side),
    ]


def _fever(findings: Sequence[Finding], past: Past, on: date) -> list[Finding]:
    """Days since an earlier reading outside 37.7 to 39.2 °C at the same site."""
    like = circumstances(findings, "temperature.degrees")
    odd = [
        day
        for day, degrees in past.numbers("temperature.degrees", None, like)
        if day <= on and not 37.7 <= degrees <= 39.2
    ]
    basis = next(f for f in findings if f.item == "temperature.degrees")
    return [_made("derived.odd_heat_days", float((on - odd[-1]).days), basis)] if odd else []


def _water(finding: Finding, findings: Sequence[Finding], subject: Subject) -> list[Finding]:
    """Water of a day for each kilogram, by today's weight or the last known."""
    weighed = next((f.number for f in findings if f.item == "weight.kg"), None)
    weight = weighed or subject.weight_kg
    if finding.number is None or not weight:
        return []
    return [_made("derived.water", finding.number / weight, finding)]


def _refill(finding: Finding, past: Past, on: date) -> list[Finding]:
    """Whether refill was slow earlier today already: slow twice cannot wait."""
    slow = any(day == on and s > 2.5 for day, s in past.numbers("mouth.refill"))
    return [_made("derived.refill_slow_before", 1.0, finding)] if slow else []
