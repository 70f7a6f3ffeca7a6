"""What the first run asks: the person, the dog, the vet's number; and what the answers come to.

The questions are data; nothing here speaks, listens or stores.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from handsfree.interview.field import Answers, Field, FieldKind
from handsfree.interview.form import Summary
from handsfree.protocol.subject import Neutered, Sex, Shape, Sight, Size
from handsfree.records.model import BirthPrecision

__all__ = ["FirstRun", "first_run", "first_run_fields", "first_run_summary"]

OLDEST_YEARS = 30.0
"""No dog on record became older."""
_YES_NO = {"yes": "yes", "no": "no"}
_SPELL = (
    "Say one letter at a time: alpha, bravo, charlie, and so on. Go back takes the last one "
    "away. Say finished at the end. Say skip for a plain name."
)
_SPELL_BY_KEYS = "Type the name and press Enter."


@dataclass(frozen=True, kw_only=True)
class FirstRun:
    """The answers of a first run, as they are stored.

    Attributes:
        name: The person's name.
        sight: How much they see.
        pace: Steps by which the voice was made faster; negative for slower.
        dog: The dog's name.
        known_dog: It is the dog of that name that is stored already.
        dog_fields: Fields of the dog.
        vet_number: The vet's number; None if it was left open.
    """

    name: str
    sight: Sight
    pace: int
    dog: str
    known_dog: bool = False
    dog_fields: dict[str, Any] = field(default_factory=dict)
    vet_number: str | None = None


def first_run_fields(known_dogs: Sequence[str] = ()) -> tuple[Field, ...]:
    """Return the questions of the first run.

    Args:
        known_dogs: Names of dogs that are stored already.
    """
    known = {name.casefold() for name in known_dogs}

    def is_known(answers: Answers) -> bool:
        return str(answers.get("dog") or "My dog").casefold() in known

    return (
        Field(
            id="sight",
            prompt="How much do you see: full, a bit, or nothing?",
            again="Say full, a bit, or nothing.",
            help="By this I leave out what must be seen, and print nothing for a screen reader. "
            "Say full, a bit, or nothing.",
            grammar="sight",
            values={"full": "You see well", "low": "You see a bit", "none": "You see nothing"},
            choices={"full": "full", "low": "a bit", "none": "nothing"},
            default="full",
            default_said="I take it that you see well.",
        ),
        Field(
            id="pace",
            kind=FieldKind.PACE,
            prompt="How is my pace? Say slower, faster, or right.",
            again="Say slower, faster, or right.",
            help="Say slower or faster as often as you like, and right when it suits you.",
            typed="The voice's pace: type slower, faster, or right.",
            default=0.0,
            default_said="The pace stays.",
        ),
        Field(
            id="person",
            kind=FieldKind.NAME,
            prompt="Spell your name, such as kilo, india, mike. Say finished at the end.",
            again="One letter at a time, then finished. Or say skip.",
            help=_SPELL,
            typed="What is your name?",
            grammar="spelling",
            label="Your name",
            default="Me",
            default_said="Then I say no name.",
        ),
        Field(
            id="dog",
            kind=FieldKind.NAME,
            prompt="Spell your dog's name. Say finished at the end.",
            again="One letter at a time, then finished. Or say skip.",
            help=_SPELL,
            typed="What is your dog's name?",
            grammar="spelling",
            label="The dog's name",
            default="My dog",
            default_said="Then I call it my dog.",
        ),
        _yes_no(
            "known_dog",
            "Is that the dog of this name that I know already?",
            yes="The dog that I know",
            no="Another dog of that name",
            default="yes",
            when=is_known,
        ),
        Field(
            id="sex",
            prompt="Is it a girl or a boy?",
            again="Say girl, or boy.",
            help="Some questions are for one sex alone. Say girl, or boy.",
            grammar="sex",
            values={"female": "A girl", "male": "A boy"},
            choices={"female": "girl", "male": "boy"},
        ),
        _yes_no("neutered", "Is it neutered?", yes="Neutered", no="Not neutered"),
        Field(
            id="years",
            kind=FieldKind.NUMBER,
            prompt="How old is it, in whole years? Say zero for a pup.",
            again="Say a number of years, such as four, or zero.",
            help="About is good enough. Under one year say zero, and I ask for the months.",
            grammar="integer",
            label="Age in years",
            high=OLDEST_YEARS,
            whole=True,
        ),
        Field(
            id="months",
            kind=FieldKind.NUMBER,
            prompt="How many months old is it?",
            again="Say a number of months, from zero to eleven.",
            help="Count whole months since birth.",
            grammar="integer",
            label="Age in months",
            high=11.0,
            whole=True,
            when=lambda answers: answers.get("years") == 0.0,
        ),
        Field(
            id="size",
            prompt="How big: tiny, small, medium, large, or giant?",
            again="Say tiny, small, medium, large, or giant.",
            help="Grown up. Tiny is under five kilos, small under ten, medium under twenty five, "
            "large under forty five, giant above.",
            grammar="size",
            values={
                "toy": "Tiny",
                "small": "Small",
                "medium": "Medium",
                "large": "Large",
                "giant": "Giant",
            },
            choices={
                "toy": "tiny",
                "small": "small",
                "medium": "medium",
                "large": "large",
                "giant": "giant",
            },
        ),
        _yes_no("flat_face", "Has it a short, flat face?", yes="Flat face", no="No flat face"),
        _yes_no(
            "dark_gums",
            "Are its gums dark by nature?",
            yes="Gums dark by nature",
            no="Gums not dark by nature",
        ),
        _yes_no(
            "bitten",
            "Has it ever bitten or snapped when handled?",
            yes="Has bitten or snapped",
            no="Never bitten",
        ),
        Field(
            id="vet",
            kind=FieldKind.DIGITS,
            prompt="Your vet's telephone number, digit by digit. Say finished at the end.",
            again="One digit at a time, then finished. Or say skip.",
            help="I say this number when something cannot wait. One digit at a time. Go back "
            "takes the last one away.",
            typed="What is your vet's telephone number?",
            grammar="digits",
            label="The vet's number",
            default_said="No vet's number yet.",
        ),
    )


def _yes_no(id: str, prompt: str, *, yes: str, no: str, **more: Any) -> Field:  # noqa: A002
    return Field(
        id=id,
        prompt=prompt,
        again=f"{prompt} Yes or no?",
        help="Say yes or no, or skip if you don't know.",
        grammar="yes_no",
        values={"yes": yes, "no": no},
        choices=_YES_NO,
        **more,
    )


def first_run_summary(fields: Sequence[Field]) -> Summary:
    """Return what reads all answers back, in a few sentences."""
    by_id = {one.id: one for one in fields}

    def summary(answers: Answers) -> tuple[str, ...]:
        said = {key: by_id[key].read_back(value) for key, value in answers.items()}
        groups = (
            ("person", "sight"),
            ("dog", "sex", "neutered"),
            ("months",) if "months" in answers else ("years",),
            ("size", "flat_face", "dark_gums"),
            ("bitten",),
            ("vet",),
        )
        sentences = []
        for group in groups:
            parts = [said[key] for key in group if answers.get(key) is not None]
            if parts:
                text = ", ".join([parts[0], *(part[:1].lower() + part[1:] for part in parts[1:])])
                sentences.append(f"{text}.")
        return tuple(sentences)

    return summary


def first_run(answers: Answers, on: date) -> FirstRun:
    """Return what is to be stored.

    Args:
        answers: Of a form that ended complete.
        on: The day, from which the age counts back.
    """
    fields: dict[str, Any] = {}
    if answers.get("sex") is not None:
        fields["sex"] = Sex(str(answers["sex"]))
    if answers.get("neutered") is not None:
        fields["neutered"] = Neutered(str(answers["neutered"]))
    if answers.get("size") is not None:
        fields["size"] = Size(str(answers["size"]))
    if answers.get("flat_face") == "yes":
        fields["shape"] = Shape.FLAT_FACED
    for key, name in (("dark_gums", "pigmented_gums"), ("bitten", "has_bitten")):
        if answers.get(key) is not None:
            fields[name] = answers[key] == "yes"
    fields |= _birth(answers, on)
    vet = answers.get("vet")
    return FirstRun(
        name=str(answers.get("person") or "Me"),
        sight=Sight(str(answers.get("sight") or "full")),
        pace=int(float(answers.get("pace") or 0.0)),
        dog=str(answers.get("dog") or "My dog"),
        known_dog=answers.get("known_dog") == "yes",
        dog_fields=fields,
        vet_number=None if vet is None else str(vet),
    )


def _birth(answers: Answers, on: date) -> dict[str, Any]:
    """Return the birth date that an age in whole months or years means: the middle of what fits."""
    years, months = answers.get("years"), answers.get("months")
    if isinstance(months, float):
        born = _months_before(on - timedelta(days=15), int(months))
        return {"birth": born, "birth_precision": BirthPrecision.MONTH}
    if isinstance(years, float) and years > 0.0:
        born = _months_before(on - timedelta(days=182), 12 * int(years))
        return {"birth": born, "birth_precision": BirthPrecision.YEAR}
    return {}


def _months_before(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    return date(year, month + 1, min(day.day, 28))
