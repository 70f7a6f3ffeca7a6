"""The shared statistics: values, edges and refusals."""

from __future__ import annotations

import math

import pytest

from handsfree.measuring import statistics as st


def test_median_of_even_number_is_between() -> None:
    """The median of an even number of values is the mean of the two middle ones."""
    assert st.median([3.0, 1.0, 2.0, 10.0]) == 2.5


@pytest.mark.parametrize("values", [[], [1.0, math.nan], [math.inf]])
def test_nothing_and_not_numbers_are_refused(values: list[float]) -> None:
    """No value, or one that is no number, is refused in words."""
    with pytest.raises(ValueError, match="value"):
        st.median(values)


def test_spread_resists_one_bad_value() -> None:
    """One bad value moves the range, and hardly the robust standard deviation."""
    spread = st.spread([10.0, 11.0, 9.0, 10.0, 50.0])
    assert spread.range == 41.0
    assert spread.robust_sd < 2.0


def test_within_sd_pools_subjects() -> None:
    """Repeats of subjects with different means are pooled within subjects."""
    assert st.within_sd([[1.0, 3.0], [11.0, 13.0], [7.0]]) == pytest.approx(math.sqrt(2.0))


def test_slope_needs_two_times() -> None:
    """Readings at one time have no slope."""
    with pytest.raises(ValueError, match="different times"):
        st.robust_slope([1.0, 1.0], [2.0, 3.0])


def test_slope_ignores_an_outlier() -> None:
    """One wild reading does not turn the line."""
    slope = st.robust_slope([0, 1, 2, 3, 4, 5, 6], [0, 1, 2, 30, 4, 5, 6])
    assert slope.slope == pytest.approx(1.0)
    assert slope.certain


def test_baseline_needs_three_and_passes_only_real_change() -> None:
    """A baseline needs three calm readings; a change must pass error and usual spread."""
    assert st.baseline([13.0, 14.0]) is None
    base = st.baseline([13.0, 14.0, 12.0, 13.0])
    assert base is not None
    assert base.change(14.0, error=2.0) is None
    assert base.change(20.0, error=2.0) == pytest.approx(7.0)
