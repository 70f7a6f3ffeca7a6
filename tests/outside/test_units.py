"""Units against NIST Special Publication 811 (2008), appendix B.8 and B.9."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import CallerError
from handsfree.units import STORED, UCUM, UNITS, convert, parse_quantity, shown


@pytest.mark.parametrize(
    "unit, to, factor",
    [
        ("lb", "kg", 0.45359237),  # exact since 1959; SP 811 B.8 "pound (avoirdupois)" to kg
        ("oz", "g", 28.349523125),  # a sixteenth of the pound; SP 811 rounds to 2.834952 E+01
        ("in", "mm", 25.4),  # exact; SP 811 B.8 "inch (in)"
        ("st", "lb", 14.0),  # the stone is fourteen pounds: common practice, no source
        ("L", "mL", 1000.0),  # SI prefix
        ("cm", "mm", 10.0),  # SI prefix
        ("kg", "g", 1000.0),  # SI prefix
    ],
)
def test_factors(unit: str, to: str, factor: float) -> None:
    """One of each unit is as large as the handbook says."""
    assert convert(1.0, unit, to) == pytest.approx(factor, rel=1e-12)
    assert convert(factor, to, unit) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    "fahrenheit, celsius",
    [
        # SP 811 B.8: t/degC = (t/degF - 32)/1.8; the values to two decimals are our arithmetic
        (32.0, 0.0),
        (212.0, 100.0),
        (-40.0, -40.0),
        (94.0, 34.44),
        (99.5, 37.50),
        (100.0, 37.78),
        (102.5, 39.17),
        (103.0, 39.44),
        (104.0, 40.00),
        (105.8, 41.00),
    ],
)
def test_temperatures(fahrenheit: float, celsius: float) -> None:
    """Degrees Fahrenheit become degrees Celsius by the handbook's formula."""
    assert round(convert(fahrenheit, "degF", "Cel"), 2) == celsius


@pytest.mark.parametrize("celsius, fahrenheit", [(37.7, 99.86), (39.2, 102.56), (39.5, 103.10)])
def test_temperatures_back(celsius: float, fahrenheit: float) -> None:
    """Degrees Celsius become degrees Fahrenheit by the same formula, turned round."""
    assert round(convert(celsius, "Cel", "degF"), 2) == fahrenheit


def test_twelve_pounds() -> None:
    """12 lb are 5.4431 kg: 12 times the exact factor."""
    assert round(convert(12.0, "lb", "kg"), 4) == 5.4431


@given(
    st.floats(-1e6, 1e6),
    st.sampled_from([(a, b) for a in UNITS for b in UNITS if UNITS[a].kind == UNITS[b].kind]),
)
def test_there_and_back(value: float, units: tuple[str, str]) -> None:
    """A value goes to any unit of its kind and back without harm."""
    unit, to = units
    assert convert(convert(value, unit, to), to, unit) == pytest.approx(value, rel=1e-9, abs=1e-6)


def test_kinds_do_not_mix() -> None:
    """A weight is no length, an unknown unit is none, and no number is no value."""
    for bad in (("kg", "mm"), ("furlong", "mm"), ("kg", "furlong")):
        with pytest.raises(CallerError):
            convert(1.0, *bad)
    with pytest.raises(CallerError, match="finite"):
        convert(float("nan"), "kg", "lb")


def test_every_unit_has_its_code_and_stored_form() -> None:
    """Every unit has a UCUM code, and every kind a stored unit of size one."""
    assert set(UCUM) == set(UNITS)
    for kind, token in STORED.items():
        unit = UNITS[token]
        assert (unit.kind, unit.factor, unit.zero) == (kind, 1.0, 0.0)


@pytest.mark.parametrize(
    "text, kg",
    [("12.4kg", 12.4), ("12,4 kg", 12.4), ("12.4", 12.4), ("12 lb", 5.44310844), ("900 g", 0.9)],
)
def test_typed_weights(text: str, kg: float) -> None:
    """A typed weight may name its unit, with or without a space, with comma or point."""
    assert parse_quantity(text, kind="mass", default="kg") == pytest.approx(kg)


@pytest.mark.parametrize("text", ["", "kg", "heavy", "12 cm", "nan", "1e999", "12 kg kg", "1.2.3"])
def test_what_is_no_weight(text: str) -> None:
    """Anything else is refused with an example."""
    with pytest.raises(CallerError, match="such as"):
        parse_quantity(text, kind="mass", default="kg")


@pytest.mark.parametrize(
    "value, unit, imperial, text",
    [
        (12.25, "kg", False, "12.2 kg"),
        (3.45, "kg", False, "3.45 kg"),
        (12.4, "kg", True, "27.3 lb"),
        (38.5, "Cel", False, "38.5 °C"),
        (38.5, "Cel", True, "101.3 °F"),
        (12.0, "mm", False, "12 mm"),
        (25.4, "mm", True, "1 in"),
        (24.0, "/min", True, "24 /min"),
        (1.5, "s", False, "1.5 s"),
    ],
)
def test_shown(value: float, unit: str, imperial: bool, text: str) -> None:
    """Values are shown in the system that people chose, with decimals that are worth showing."""
    assert shown(value, unit, imperial=imperial) == text
