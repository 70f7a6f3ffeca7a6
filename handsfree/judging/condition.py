"""Body condition on the nine-point scale, worked out from what hands and eyes found.

A person is never asked for the number: owners with a chart in hand were wrong in 64 % of cases, and
mostly too low (Eastland-Jones and others 2014). Three answers (ribs, waist, tuck) and two
follow-ups are compared with the description of each of the nine points, in our own words, after the
scale of Laflamme 1997. The score comes with its uncertainty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from handsfree.judging.model import Finding

__all__ = ["POINTS", "BodyCondition", "IdealWeight", "body_condition", "ideal_weight"]

POINTS = tuple(range(1, 10))

# Each answer says which points it speaks for. A point that an answer does not name is ruled less
# likely the further it lies away.
_SPEAKS_FOR: Mapping[str, Mapping[str, tuple[int, ...]]] = {
    "outline.ribs": {
        "sticking_out": (1, 2),
        "sharp": (3,),
        "easy": (4, 5),
        "covered": (6,),
        "hard_to_feel": (7,),
        "firm_press": (8,),
        "not_felt": (9,),
    },
    "outline.waist": {
        "extreme": (1, 2),
        "clear": (3, 4, 5),
        "slight": (6, 7),
        "absent": (7, 8, 9),
        "bulging": (8, 9),
    },
    "outline.tuck": {
        "extreme": (1, 2),
        "clear": (3, 4, 5),
        "slight": (5, 6, 7),
        "absent": (7, 8),
        "hanging": (9,),
    },
    "outline.bones": {"hidden": (4, 5, 6, 7, 8, 9), "felt": (3, 4), "stick_out": (1, 2)},
    "outline.fat": {
        "none": (1, 2, 3, 4, 5, 6),
        "tail_base": (7, 8),
        "thick": (8,),
        "neck_too": (9,),
    },
    "outline.muscle": {
        "wasted": (1,),
        "thin": (2, 3),
        "little_less": (2, 3, 4),
        "full": POINTS[2:],
    },
}
_WEIGHT = {
    "outline.ribs": 3.0,
    "outline.waist": 2.0,
    "outline.tuck": 1.5,
    "outline.bones": 1.0,
    "outline.fat": 1.0,
    "outline.muscle": 0.25,
}
"""Feeling the ribs tells most; sight is misled by coat. Our judgement, awaiting a vet."""


@dataclass(frozen=True, kw_only=True)
class BodyCondition:
    """A derived score.

    Attributes:
        score: 1 to 9; the lower one where two are alike.
        low: Lowest point that the answers still allow.
        high: Highest.
        answers: On how many answers it rests.
    """

    score: int
    low: int
    high: int
    answers: int

    def __post_init__(self) -> None:
        if not 1 <= self.low <= self.score <= self.high <= 9:
            msg = f"body condition {self.low} to {self.high} around {self.score} is none"
            raise ValueError(msg)

    def said(self) -> str:
        """As spoken: "five of nine, between four and six"; the scale is always named."""
        return f"{self.score} of 9, between {self.low} and {self.high}"


@dataclass(frozen=True, kw_only=True)
class IdealWeight:
    """An ideal-weight range, for a vet to confirm.

    ``low_kg`` and ``high_kg`` come from the score's upper and lower end; ``formula`` is how.
    """

    low_kg: float
    high_kg: float
    formula: str


def body_condition(findings: Sequence[Finding]) -> BodyCondition | None:
    """Derive the score, or None without the ribs and one of waist and tuck.

    The point with the smallest weighted distance to all answers wins. The range is every point
    whose distance is within one weight of the ribs' answer of the best, and at least one point to
    each side: a trained eye is no better than that.
    """
    given = {
        f.item: f.value
        for f in findings
        if f.status == "observed"
        and isinstance(f.value, str)
        and f.value in _SPEAKS_FOR.get(f.item, {})
    }
    if "outline.ribs" not in given or not given.keys() & {"outline.waist", "outline.tuck"}:
        return None
    cost = {
        point: sum(
            _WEIGHT[item] * min(abs(point - p) for p in _SPEAKS_FOR[item][str(value)])
            for item, value in given.items()
        )
        for point in POINTS
    }
    best = min(POINTS, key=lambda point: (cost[point], abs(point - 5)))
    near = [point for point in POINTS if cost[point] - cost[best] <= 1.0]
    return BodyCondition(
        score=best,
        low=max(1, min(*near, best - 1)),
        high=min(9, max(*near, best + 1)),
        answers=len(given),
    )


def ideal_weight(weight_kg: float, condition: BodyCondition) -> IdealWeight | None:
    """The ideal-weight range for scores 6 to 9, else None.

    Each point above five stands for about 10 % over the ideal (AAHA weight-management toolkit), so
    the weight is divided by 1 + 0.10 for each point. Nothing is computed below six.
    """
    if condition.score < 6:
        return None

    def ideal(score: int) -> float:
        return weight_kg / (1 + 0.10 * (score - 5))

    # The lower end of the score may be five: then the dog's own weight is the upper end.
    return IdealWeight(
        low_kg=round(ideal(condition.high), 1),
        high_kg=round(ideal(max(5, condition.low)), 1),
        formula="weight divided by 1 plus 0.10 for each point above 5",
    )
