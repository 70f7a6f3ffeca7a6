"""Agreement: when opinions side by side are enough, and when they speak against each other.

Most figures are near those of a recording: a synthesised voice held back from training, or a digit
said by a person (Free Spoken Digit Dataset, Z. Jackson and others, 2018). Those of a rival, of
"left", of two phones and of the ear against both are made up.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.hearing.agreement import (
    are_against,
    are_enough,
    are_enough_for_number,
    is_hardly_speech,
    is_too_little,
)
from handsfree.hearing.opinions import Opinions


def of(
    ear: float,
    read: float,
    fit: float,
    *,
    said: bool = False,
    other: float = 0.0,
    said_other: bool = False,
    phones: int = 3,
    other_words: bool = False,
    above_rivals: float = 0.0,
) -> Opinions:
    """Return opinions in the order of their names."""
    return Opinions(
        ear=ear,
        ear_other=other,
        said=said,
        said_other=said_other,
        other_words=other_words,
        read=read,
        fit=fit,
        phones=phones,
        above_rivals=above_rivals,
    )


@pytest.mark.parametrize(
    ("what", "opinions"),
    [
        ("a person's five, far from how the dictionary spells it", of(0.44, 0.99, -2.2, said=True)),
        ("a person's two", of(0.81, 1.0, -2.0, said=True, phones=2)),
        ("a person's five that the ear hardly hears", of(0.18, 0.88, -1.5, said=True)),
        ("a person's three that the recogniser took as thirty", of(0.66, 0.85, -1.04)),
        (
            "thirty, two metres away: the ear hears another",
            of(0.04, 1.0, 0.0, said=True, other=0.7),
        ),
    ],
)
def test_enough_in_quiet(what: str, opinions: Opinions) -> None:
    """Two or three agree, and nothing speaks against it."""
    assert are_enough(opinions), what


@pytest.mark.parametrize(
    ("what", "opinions"),
    [
        ("heel, said to a dog, as pale", of(0.96, 1.0, -4.5, said=True)),
        ("sit, which is a rival itself, as six", of(0.91, 0.4, -1.45, phones=4)),
        ("down as dull, by its phones alone", of(0.03, 1.0, -0.49)),
        (
            "nine: the phones say five, the others nine",
            of(0.02, 0.98, -1.0, other=0.93, said_other=True),
        ),
        ("the ear against both", of(0.02, 0.99, -0.67, said=True, other=0.6)),
    ],
)
def test_not_enough_in_quiet(what: str, opinions: Opinions) -> None:
    """Talk, or opinions against each other."""
    assert not are_enough(opinions), what


def test_the_recogniser_and_the_ear_stand_against_a_reading() -> None:
    """Blood, beside dishes, was read as black; the others leant to blood."""
    assert are_against(of(0.1, 0.95, 0.1, other=0.3, said_other=True))
    assert not are_against(of(0.6, 0.95, 0.1, other=0.3, said_other=True))
    assert not are_against(of(0.1, 0.95, 0.1, other=0.3))


def test_other_words_of_one_meaning_do_not_agree() -> None:
    """Beside dishes "a swelling" was read as "fine" and recognised as "it's clean"."""
    same = of(0.4, 0.94, -2.6, said=True, other=0.05)
    other = of(0.4, 0.94, -2.6, said=True, other=0.05, other_words=True)
    assert are_enough(same)
    assert not are_enough(other)
    near = of(0.4, 0.94, -0.4, said=True, other=0.05, other_words=True)
    assert are_enough(near), "pink and it's pink"


_CLEAR_FIVE = of(0.04, 0.99, -2.7, said=True, other=0.02, above_rivals=5.2)


@pytest.mark.parametrize(
    ("what", "opinions", "clear_by", "enough"),
    [
        ("three, recognised as thirty", of(0.69, 0.73, -1.1, other=0.11), 0.6, True),
        ("nine, read as five", of(0.83, 0.0, -2.5, said=True, other=0.02), 0.0, True),
        ("seven, read as skip it", of(0.97, 0.0, -1.3, other=0.01), 0.0, True),
        ("five, faint to all, and no other near", of(0.24, 0.32, -3.3, said=True), 2.0, True),
        ("the same with another near", of(0.24, 0.32, -3.3, said=True), 1.0, False),
        (
            "the same, and rather a word to a dog",
            of(0.24, 0.32, -3.3, above_rivals=-1.0),
            2.0,
            False,
        ),
        ("sit, said to a dog, as six", of(0.93, 0.02, -1.2, above_rivals=-3.0), 10.0, False),
        (
            "a hum as eight, which the ear does not hear",
            of(0.03, 0.53, -0.9, said=True),
            2.0,
            False,
        ),
        ("five, which the ear hardly hears", _CLEAR_FIVE, 7.3, True),
        ("the same, hardly read", replace(_CLEAR_FIVE, read=0.75), 7.3, False),
        ("the same, far from its phones", replace(_CLEAR_FIVE, fit=-4.2), 7.3, False),
        ("the same with another near", _CLEAR_FIVE, 4.5, False),
        ("the same, near a word to dogs", replace(_CLEAR_FIVE, above_rivals=1.0), 7.3, False),
        ("the same, and the ear hears another", replace(_CLEAR_FIVE, ear_other=0.2), 7.3, False),
        ("flower as twelve", of(0.43, 0.0, -3.9, said=True, above_rivals=-12.5), 0.0, False),
    ],
)
def test_a_number_of_one_word(what: str, opinions: Opinions, clear_by: float, enough: bool) -> None:
    """Two of three, or all three faintly where nothing else comes near."""
    heard = replace(opinions, said_number=True, clear_by=clear_by)
    assert are_enough_for_number(heard) is enough, what


def test_no_number_where_the_recogniser_hears_none() -> None:
    """A recorded "oops" was five to the ear and to the phones, and nothing to the recogniser."""
    oops = replace(of(0.32, 0.88, -1.9, other=0.09, above_rivals=6.2), clear_by=4.8)
    assert not are_enough_for_number(oops)
    assert are_enough_for_number(replace(oops, said_number=True))


@pytest.mark.parametrize(
    ("what", "opinions", "too_little"),
    [
        ("ow as eight", of(0.12, 1.0, 0.0, phones=2, above_rivals=10.2), True),
        ("a grunt as eighteen", of(0.02, 1.0, -0.7, phones=4, above_rivals=8.9), True),
        ("the same, recognised", of(0.02, 1.0, -0.7, said=True, phones=4), False),
        ("the same, heard a little", of(0.2, 1.0, -0.7, phones=4), False),
        ("something long", of(0.02, 1.0, -0.7, phones=8, above_rivals=12.0), False),
        ("something long that is like a word to a dog", of(0.02, 1.0, -0.7, phones=8), True),
    ],
)
def test_something_short_that_is_only_read(what: str, opinions: Opinions, too_little: bool) -> None:
    """Grunts spell numbers; in quiet the others would hear an answer."""
    assert is_too_little(opinions) is too_little, what


def test_phones_that_fit_perfectly_are_believed_against_one_of_the_others() -> None:
    """Far away "broken" was recognised as "grown in"; "there are four" was read as "six"."""
    broken = of(0.14, 1.0, 0.0, other=0.39, said_other=True, phones=6, above_rivals=25.7)
    assert are_enough(broken)
    assert not are_enough(replace(broken, above_rivals=4.0))
    six = of(0.1, 1.0, 0.1, other=0.62, said_other=True, phones=9, above_rivals=28.0)
    assert not are_enough(six)
    assert are_enough(replace(six, said_other=False))


@pytest.mark.parametrize(
    ("what", "nats", "opinions", "hardly"),
    [
        ("a recorded dog, taken as blue", 1.4, of(0.12, 0.55, -1.25, said=True), True),
        ("a recorded dog, taken as a plum", 1.4, of(0.01, 0.98, -1.43, said=True), True),
        ("a person's zero, whose phones fit", 1.6, of(0.05, 0.98, -0.71, said=True), False),
        ("a person's nine that the ear hears", 0.2, of(0.35, 0.75, -1.95, said=True), False),
        ("tacky, amid barking", 2.7, of(0.06, 0.96, -0.65, said=True), False),
    ],
)
def test_what_may_be_a_bark(what: str, nats: float, opinions: Opinions, hardly: bool) -> None:
    """No certain phone, and neither the ear nor phones that fit speak for a phrase."""
    assert is_hardly_speech(replace(opinions, speech_nats=nats)) is hardly, what
