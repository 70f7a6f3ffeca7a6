"""Single measurements are told from checks by their routine's name."""

from __future__ import annotations

import pytest

from handsfree.protocol.loader import load
from handsfree.protocol.single import single_title


@pytest.mark.parametrize(
    ("routine", "title"),
    [
        ("measure_weight", "the weight"),
        ("measure_weight_difference", "the weight"),
        ("measure_breaths_asleep", "breaths at rest"),
        ("measure_breaths_said", "breaths at rest"),
        ("measure_something_new", "something new"),
    ],
)
def test_a_measurement_is_titled_whatever_its_way(routine: str, title: str) -> None:
    """The way it is taken is no part of what it is; one of a newer program is named as it is."""
    assert single_title(routine) == title


def test_no_routine_of_the_check_is_a_single_measurement() -> None:
    """Every shipped routine is a check."""
    assert [single_title(routine) for routine in load().routines] == [""] * len(load().routines)
