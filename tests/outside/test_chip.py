"""Chip numbers against ISO 11784 and ISO 3166-1.

ISO 11784 gives the code 64 bits, of which ten hold the country's or maker's number and 38 that of
the animal (as ICAR's page on the coding of the transponder lists them: bits 17 to 26 and 27 to 64).
Numbers of countries come from the library pycountry, which carries Debian's iso-codes.
"""

from __future__ import annotations

import pycountry
import pytest

from handsfree.errors import CallerError
from handsfree.kennel.chip import checked_chip


def test_every_country_of_the_standard_is_taken() -> None:
    """Today's countries, and those of ISO 3166-3, under which older chips were made."""
    today = {country.numeric for country in pycountry.countries}
    before = {
        str(country.numeric)
        for country in pycountry.historic_countries
        if getattr(country, "numeric", None) is not None
    }
    assert len(today) > 240
    assert len(before) > 20
    for code in today | before:
        assert checked_chip(f"{code}000000000001").startswith(code)


@pytest.mark.parametrize("code", ["001", "002", "003", "895", "899"])
def test_a_code_outside_of_those_that_were_ever_given_is_refused(code: str) -> None:
    """ISO 3166-1 numbers countries from 004 (Afghanistan) to 894 (Zambia)."""
    numbers = {int(country.numeric) for country in pycountry.countries}
    assert (min(numbers), max(numbers)) == (4, 894)
    with pytest.raises(CallerError, match="no country has"):
        checked_chip(f"{code}000000000001")


def test_makers_lie_from_900_to_998() -> None:
    """ISO 11784: 900 to 998 are makers, 999 marks test chips (from memory)."""
    for code in range(900, 999):
        assert checked_chip(f"{code}000000000001")
    with pytest.raises(CallerError, match="test chip"):
        checked_chip("999000000000001")


def test_no_animal_has_more_than_38_bits_can_hold() -> None:
    """38 bits are 274877906944 numbers; the standard's twelve digits go no further."""
    assert 2**38 == 274_877_906_944
    assert checked_chip("826274877906943")
    with pytest.raises(CallerError, match="no chip can hold"):
        checked_chip("826274877906944")
