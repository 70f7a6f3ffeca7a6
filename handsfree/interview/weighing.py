"""Weighing on a bathroom scale: the person with the dog, less the person alone, three times.

The arithmetic and its noise stand in ``measuring.amounts``; here stands what is asked.
"""

from __future__ import annotations

from handsfree.dialogue.actions import Confirmed
from handsfree.dialogue.phrases import amount, number
from handsfree.errors import HeardError
from handsfree.interview.field import Field, FieldKind
from handsfree.interview.form import Form
from handsfree.interview.measured import Measured
from handsfree.measuring.amounts import LIMITS, Verdict, Weight, plausible, weight_by_difference

__all__ = ["PAIRS", "DifferenceWeight", "difference_fields"]

PAIRS = 3
_COUNTS = ("first", "second", "third")
_HEAVIEST_KG = 400.0
_ITEM = "weight.kg"


def difference_fields() -> tuple[Field, ...]:
    """Return the six readings that are asked for, pair by pair."""
    fields = []
    for nth in _COUNTS[:PAIRS]:
        for who, prompt, label in (
            ("together", f"The {nth} pair: the scale with you and the dog?", "Together"),
            ("alone", "And you alone?", "Alone"),
        ):
            fields.append(
                Field(
                    id=f"{who}_{nth}",
                    kind=FieldKind.NUMBER,
                    prompt=prompt,
                    again="Say what the scale shows, for instance seventy two point four kilos.",
                    help="Step on with the dog in your arms, wait, and say the number. Then put "
                    "it down, step off and on, and say the number again.",
                    grammar="weight",
                    label=label,
                    unit="kg",
                    low=1.0,
                    high=_HEAVIEST_KG,
                )
            )
    return tuple(fields)


class DifferenceWeight(Form, Measured):
    """Takes three pairs of readings and stores the difference."""

    def __init__(self, *, by_keys: bool = False) -> None:
        super().__init__(
            difference_fields(),
            intro=("We weigh you with the dog, then you alone, three times.",),
            by_keys=by_keys,
        )
        self._weight: Weight | None = None
        self._doubtful = False

    def _finish(self, *before: str) -> None:
        """Work out the weight; ask back what can hardly be."""
        readings = self.answers
        together, alone = (
            [v for k, v in readings.items() if k.startswith(who) and isinstance(v, float)]
            for who in ("together", "alone")
        )
        pairs = min(len(together), len(alone))
        if pairs < PAIRS:
            self._leave("Not all readings are there.")
            return
        try:
            weight = weight_by_difference(together, alone)
        except HeardError:
            self._leave("With the dog the scale showed no more than without.")
            return
        assert self.opened is not None
        found = plausible(LIMITS["weight"], weight.kg, self.opened.subject.weight_kg)
        if found.verdict is Verdict.REFUSE:
            self._leave(f"{number(weight.kg)} kilos cannot be.")
            return
        self._weight = weight
        self._doubtful = found.verdict is Verdict.ASK_BACK
        said = (
            f"The dog weighs {amount(round(weight.kg, 1), 'kg')}, give or take "
            f"{amount(round(weight.noise_kg, 1), 'kg')}."
        )
        if not self._doubtful:
            self._store(weight)
            self.conclude(*before, said, self._coarse(weight), "Stored.")
            return
        self._confirm(weight.kg, f"{said} {found.say}")

    def _coarse(self, weight: Weight) -> str:
        if not weight.coarse:
            return ""
        share = round(weight.share * 100.0)
        return f"That noise is {share} percent of its weight: small changes cannot be seen so."

    def _settle(self, *, yes: bool) -> None:
        """Store a weight that was asked back only if it is confirmed."""
        if self._weight is None:
            super()._settle(yes=yes)
            return
        if yes:
            self._store(self._weight)
            self.conclude(self._coarse(self._weight), "Stored.")
        else:
            self._leave("Then it is not kept.")

    def _store(self, weight: Weight) -> None:
        readings = tuple(
            (key, float(value)) for key, value in self.answers.items() if isinstance(value, float)
        )
        self.record("weight.scale", "carried", confirmed=Confirmed.CONFIRMED)
        self.record(
            _ITEM,
            round(weight.kg, 2),
            unit="kg",
            method=(*weight.method, *readings),
            confirmed=Confirmed.CONFIRMED,
        )

    def _leave(self, why: str) -> None:
        self.record(_ITEM, None, reason="not_measured")
        self.conclude(why, "No weight is stored. Weigh again when you like.")
