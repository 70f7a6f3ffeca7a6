"""What a rehearsal came to: each item beside its truth, and the run's figures, as plain JSON."""

from __future__ import annotations

import resource
import sys
from collections.abc import Sequence
from typing import Any

from handsfree.dialogue.actions import Status
from handsfree.protocol.model import Kind, Protocol
from handsfree.records.model import Answer
from handsfree.rehearsal.scenario import Truth

__all__ = ["items_of", "peak_rss_mb", "percentile", "score"]

_SAID_REASON = {
    "wont_let": "dog_refused",
    "cant_see": "cannot_see",
    "skip": "skipped",
    "dont_know": "not_known",
}


def items_of(
    answers: Sequence[Answer], truth: Truth, protocol: Protocol, windows_s: dict[str, int]
) -> list[dict[str, Any]]:
    """Return one object an item: what was stored, what was heard, and what is true.

    ``truth`` is the value that a faultless check would have stored, or ``not_observed`` where the
    scenario's person refuses, or None where it does not apply.
    """
    return [_item(answer, truth, protocol, windows_s) for answer in answers]


def _item(
    answer: Answer, truth: Truth, protocol: Protocol, windows_s: dict[str, int]
) -> dict[str, Any]:
    best = answer.candidates[0] if answer.candidates else None
    return {
        "item": answer.item,
        "side": answer.side,
        "status": answer.status.value,
        "reason": answer.reason,
        "value": answer.value,
        "unit": answer.unit,
        "heard": answer.words,
        "confidence": None if best is None else round(best.probability, 3),
        "truth": _truth(answer, truth, protocol, windows_s),
    }


def _truth(
    answer: Answer, truth: Truth, protocol: Protocol, windows_s: dict[str, int]
) -> str | float | None:
    if answer.status is Status.NOT_APPLICABLE:
        return None
    if truth.refusal(answer.item) is not None or answer.by == "machine":
        return "not_observed"
    question = protocol.question(answer.item)
    if question.kind is Kind.REFILL:
        times = sorted(truth.refill_s[:3])
        return times[1]
    value = truth.value(answer.item, answer.side, question)
    if question.kind is Kind.COUNT and not isinstance(value, str):
        window = windows_s.get(answer.item, question.windows_s[0])
        return round(value * window / 60) * 60 / window
    return value


def score(items: Sequence[dict[str, Any]]) -> dict[str, int]:
    """Count answers that are right, wrong and missed.

    A timed refill is right within 0.15 s of its truth, any other number when it is equal.
    """
    right = wrong = missed = 0
    for item in items:
        if item["truth"] is None:
            continue
        if item["truth"] == "not_observed":
            if item["status"] == Status.NOT_OBSERVED:
                right += 1
            else:
                wrong += 1
        elif item["status"] == Status.NOT_OBSERVED:
            missed += 1
        elif _equal(item):
            right += 1
        else:
            wrong += 1
    return {"answers": right + wrong + missed, "right": right, "wrong": wrong, "missed": missed}


def _equal(item: dict[str, Any]) -> bool:
    value, truth = item["value"], item["truth"]
    if isinstance(value, str) or isinstance(truth, str):
        return bool(value == truth)
    return abs(float(value) - float(truth)) <= (0.15 if item["unit"] == "s" else 0.01)


def percentile(values: Sequence[float], share: float) -> float | None:
    """Return the value below which ``share`` of the values lie, or None for no values."""
    if not values:
        return None
    ordered = sorted(values)
    return round(ordered[min(len(ordered) - 1, int(share * len(ordered)))], 3)


def peak_rss_mb() -> float:
    """Return the most memory that this process has had resident, in MB."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return round(peak / (1024.0 * 1024.0 if sys.platform == "darwin" else 1024.0), 1)
