"""Every row of the table fires in a case and is silent in its nearest non-cases."""

from __future__ import annotations

import pytest

from handsfree.judging.engine import fire

from .shared import CASES, dog, findings, table


def _cases() -> list[tuple[str, str, str, tuple[str, ...]]]:
    cases = []
    for line in CASES.read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        row, about, fires, silent = (part.strip() for part in line.split("|", 3))
        cases.append((row, about, fires, tuple(s.strip() for s in silent.split("||"))))
    return cases


@pytest.mark.parametrize(("row", "about", "fires", "silent"), _cases(), ids=lambda v: str(v)[:30])
def test_row_fires_in_its_case_and_not_beside_it(
    row: str, about: str, fires: str, silent: tuple[str, ...]
) -> None:
    """The row fires for its case; just under the limit, or in another dog, it does not."""
    assert row in {f.rule.id for f in fire(findings(fires), dog(about), table())}
    for other in silent:
        who, text = about, other
        if other.startswith("{"):
            who, _, text = other[1:].partition("}")
        assert row not in {f.rule.id for f in fire(findings(text), dog(who), table())}, other


def test_every_row_has_a_case_with_a_non_case() -> None:
    """No row is left without one, and no case names a row that is gone."""
    cases = {row: silent for row, _, _, silent in _cases()}
    assert set(cases) == {rule.id for rule in table().rules}
    assert all(silent and all(silent) for silent in cases.values())


NO_FINDING = {
    "breaths.state": {"panting", "active"},
    "heart.mood": {"excited", "asleep"},
    "heart.pulse": {"not_found"},
    "history.medicine": {"pain_relief", "steroid", "antibiotic", "heart", "other"},
    "kennel.looks": {"something"},  # leads into the closer look
    "history.contact": {"yes"},
    "history.new_food": {"yes"},
    "mouth.gum_colour": {"dark"},
    "mouth.eyelid_colour": {"dark"},
    "noticed.water_measured": {"yes"},
    "now.strain_result": {"nothing", "little"},
    "season.last": {"lately"},
    "season.mated": {"yes"},
}
"""Answers that are not usual and yet say nothing by themselves: circumstances, not findings."""


def test_no_unusual_answer_passes_in_silence() -> None:
    """Each unusual value of each item fires a row, but for the circumstances listed above."""
    who = dog("sex=female neutered=no")
    silent: dict[str, set[str]] = {}
    for info in table().catalogue.items.values():
        if info.kind != "choice" or not info.normal:
            continue
        for value in set(info.values) - info.normal:
            side = f"@{info.sides[0]}" if info.sides else ""
            if not fire(findings(f"{info.item}{side}={value}"), who, table()):
                silent.setdefault(info.item, set()).add(value)
    silent.pop("lumps.known", None)  # through the vet's result: see the tests of lumps
    assert silent == NO_FINDING


def test_no_usual_answer_fires() -> None:
    """What the protocol calls usual never fires a row by itself."""
    who = dog("sex=female neutered=no")
    for info in table().catalogue.items.values():
        if info.kind != "choice":
            continue
        for value in info.normal & set(info.values):
            side = f"@{info.sides[0]}" if info.sides else ""
            assert not fire(findings(f"{info.item}{side}={value}"), who, table()), info.item


def test_now_rows_say_one_short_sentence_without_a_diagnosis() -> None:
    """A row of the highest level interrupts with one sentence, and says what not to do."""
    for rule in table().rules:
        if rule.level == "now":
            assert rule.say.count(".") == 1, rule.id
            assert len(rule.say.split()) <= 14, rule.id
            assert rule.avoid or rule.meanwhile, rule.id


DISEASES = frozenset(
    {"cancer", "tumour", "torsion", "bloat", "pyometra", "glaucoma", "pneumonia", "diabetes"}
    | {"epilepsy", "parvo", "cushing", "addison", "leukaemia", "lymphoma", "sepsis", "stroke"}
)


def test_no_row_names_a_disease() -> None:
    """What is said never diagnoses."""
    for rule in table().rules:
        for text in (rule.say, rule.name, rule.meanwhile, rule.avoid):
            assert not [d for d in DISEASES if d in text.lower()], rule.id
