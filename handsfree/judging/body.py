"""A judgement as plain data, to be stored or printed as JSON.

Everything that is read later stands in it in words, so that it stays readable under a newer table.
"""

from __future__ import annotations

from typing import Any

from handsfree.judging.model import Change, Finding, Fired, Gap, Judgement, Trend

__all__ = ["FORM", "body_of"]

FORM = 1
"""Version of this form."""


def body_of(judgement: Judgement) -> dict[str, Any]:
    """The judgement as JSON data: level, fired rows with advice and source, changes, gaps."""
    return {
        "form": FORM,
        "level": judgement.level.value,
        "fired": [_fired(f) for f in judgement.fired],
        "changes": [_change(c) for c in judgement.changes],
        "trends": [_trend(t) for t in judgement.trends],
        "not_covered": [_gap(g) for g in judgement.not_covered],
        "vital_missing": list(judgement.vital_missing),
        "cautions": list(judgement.cautions),
        "contradictions": list(judgement.contradictions),
        "body_condition": judgement.body_condition,
        "ideal_weight": judgement.ideal_weight,
        "rules": judgement.rules_version,
        "on": None if judgement.on is None else judgement.on.isoformat(),
        "unfinished": judgement.unfinished,
        "only": judgement.only,
    }


def _fired(fired: Fired) -> dict[str, Any]:
    rule = fired.rule
    return {
        "rule": rule.id,
        "level": fired.level.value,
        "row_level": rule.level.value,
        "topic": rule.topic,
        "name": rule.name,
        "sides": list(fired.sides),
        "possible": fired.possible,
        "stepped": fired.stepped,
        "say": rule.say,
        "meanwhile": rule.meanwhile,
        "avoid": rule.avoid,
        "recheck": rule.recheck,
        "recheck_h": rule.recheck_h,
        "source": rule.cite,
        "basis": rule.basis,
        "read": rule.read,
        "evidence": [_evidence(e) for e in fired.evidence],
    }


def _evidence(finding: Finding) -> dict[str, Any]:
    return {
        "item": finding.item,
        "side": finding.side,
        "value": finding.value,
        "unit": finding.unit,
        "certainty": finding.certainty,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "item": change.item,
        "side": change.side,
        "kind": change.kind.value,
        "before": change.before,
        "now": change.now,
        "unit": change.unit,
        "since": None if change.since is None else change.since.isoformat(),
        "counts": change.counts,
        "usual": change.usual,
        "usual_spread": change.usual_spread,
        "readings": change.readings,
    }


def _trend(trend: Trend) -> dict[str, Any]:
    return {
        "item": trend.item,
        "side": trend.side,
        "per_month": trend.per_month,
        "low": trend.low,
        "high": trend.high,
        "points": trend.points,
        "unit": trend.unit,
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {"item": gap.item, "side": gap.side, "reason": gap.reason, "vital": gap.vital}
