"""What is asked of which dog, in which order, and what follows an answer."""

from __future__ import annotations

import pytest

from handsfree.protocol.loader import load
from handsfree.protocol.model import Kind
from handsfree.protocol.plan import Given, Step, due, plan, spoken
from handsfree.protocol.subject import KnownLump, Neutered, Part, Sex, Sight, Subject

MALE = Subject(name="Rook", sex=Sex.MALE, neutered=Neutered.NO, age_months=36)
FEMALE = Subject(name="Wren", sex=Sex.FEMALE, neutered=Neutered.NO, age_months=36)

Answers = dict[tuple[str, str | None], Given]
TYPICAL = {
    "breaths.rate": 18.0,
    "heart.rate": 90.0,
    "mouth.refill": 1.2,
    "weight.kg": 20.0,
    "temperature.degrees": 38.5,
}


def walk(subject: Subject, routine: str, said: dict[str, str | float] | None = None) -> list[Step]:
    """The steps that are really asked, when all is normal save what is ``said``.

    ``said`` maps an item, or ``item side``, to a value.
    """
    said = said or {}
    answers: Answers = {}
    asked = []
    for step in plan(load(), routine, subject):
        if not due(step, answers):
            continue
        place = (step.item, step.side)
        if not step.applicable:
            answers[place] = Given(status="not_applicable")
            continue
        asked.append(step)
        value = said.get(f"{step.item} {step.side}", said.get(step.item))
        if value is None:
            normal = step.question.normal or tuple(step.question.values)
            value = normal[0] if step.question.kind is Kind.CHOICE else TYPICAL.get(step.item, 10.0)
        answers[place] = Given(status="observed", value=value)
    return asked


def places(steps: list[Step]) -> list[str]:
    """Items with their sides, for comparing."""
    return [f"{step.item} {step.side}" if step.side else step.item for step in steps]


def named(steps: tuple[Step, ...], item: str) -> list[Step]:
    """The steps of one item."""
    return [step for step in steps if step.item == item]


@pytest.mark.parametrize("subject", [MALE, FEMALE], ids=["male", "female"])
def test_a_healthy_dog_is_asked_little(subject: Subject) -> None:
    """A full check with no thermometer at hand asks at most 45 questions."""
    asked = walk(subject, "full", {"temperature.thermometer": "no"})
    assert 30 <= len(asked) <= 45


@pytest.mark.parametrize("routine, most", [("quick", 12), ("kennel", 14), ("glance", 5)])
def test_short_routines_are_short(routine: str, most: int) -> None:
    """The quick check, the kennel round and the glance keep to their few questions."""
    assert 3 <= len(walk(MALE, routine)) <= most


@pytest.mark.parametrize("routine", sorted(load().routines))
def test_signs_that_cannot_wait_come_first(routine: str) -> None:
    """Every routine begins with them, in at most three questions for a healthy dog."""
    asked = walk(MALE, routine)
    first = [step for step in asked if step.region.id == "now"]
    assert asked[: len(first)] == first
    assert 2 <= len(first) <= 3


def test_the_order_of_handling() -> None:
    """The dog is watched before it is touched, and the mouth and rear come late."""
    regions = load().routines["full"].regions
    order = ["watch", "noticed", "breaths", "heart", "outline", "weight", "coat", "lumps", "feet"]
    order += ["nose", "eyes", "ears", "neck", "belly", "mammary", "mouth", "genitals", "rear"]
    order += ["temperature"]
    assert [r for r in regions if r in order] == order


def test_what_is_for_the_other_sex_does_not_apply() -> None:
    """A male has no vulva or season, a female no sheath; each is marked with its reason."""
    male, female = plan(load(), "full", MALE), plan(load(), "full", FEMALE)
    for steps, item in (
        (male, "genitals.vulva"),
        (male, "season.last"),
        (female, "genitals.sheath"),
    ):
        (step,) = named(steps, item)
        assert (step.applicable, step.why_not) == (False, "sex")
        assert due(step, {})


def test_neutered_dogs_are_not_asked_for_what_is_gone() -> None:
    """A neutered male's testicles and a neutered female's season do not apply."""
    male = Subject(name="Rook", sex=Sex.MALE, neutered=Neutered.YES)
    female = Subject(name="Wren", sex=Sex.FEMALE, neutered=Neutered.YES)
    assert named(plan(load(), "full", male), "genitals.testicles")[0].why_not == "neutered"
    assert named(plan(load(), "full", female), "season.last")[0].why_not == "neutered"


def test_an_unknown_dog_is_asked_everything() -> None:
    """Where sex and neutering are unknown, both sexes' questions are asked."""
    asked = places(walk(Subject(name="Stray"), "full"))
    for item in ("genitals.vulva", "genitals.sheath", "genitals.testicles", "season.last"):
        assert item in asked


def test_pups_are_asked_everything_but_old_age() -> None:
    """A pup of ten weeks is asked all that a grown dog is, and its navel besides."""
    pup = Subject(name="Mite", sex=Sex.MALE, neutered=Neutered.NO, age_months=2)
    extra = set(places(walk(pup, "full"))) - set(places(walk(MALE, "full")))
    assert set(places(walk(MALE, "full"))) <= set(places(walk(pup, "full")))
    assert extra == {"belly.navel"}


def test_old_dogs_are_asked_more() -> None:
    """From seven years on rising and muscle, from eight the mind."""
    old = Subject(name="Sage", sex=Sex.MALE, neutered=Neutered.YES, age_months=100)
    asked = places(walk(old, "full"))
    assert {"mobility.rising", "outline.muscle", "mind.change"} <= set(asked)
    assert "mind.nights" not in asked


def test_missing_parts_are_not_asked_for() -> None:
    """A lost leg, eye and a docked tail do not apply; the other side is still asked."""
    lacking = frozenset({Part.LEFT_HIND_LEG, Part.RIGHT_EYE, Part.TAIL})
    steps = plan(load(), "full", Subject(name="Tripod", missing=lacking))
    feet = {step.side: step.applicable for step in named(steps, "feet.foot")}
    assert feet == {
        "left_front": True,
        "right_front": True,
        "left_hind": False,
        "right_hind": True,
    }
    eyes = {step.side: step.why_not for step in named(steps, "eyes.look")}
    assert eyes == {"left": "", "right": "missing_part"}
    assert named(steps, "rear.tail")[0].why_not == "missing_part"
    both = frozenset({Part.LEFT_EYE, Part.RIGHT_EYE})
    blind = plan(load(), "full", Subject(name="Mole", missing=both))
    assert named(blind, "eyes.pupils")[0].why_not == "missing_part"


def test_one_eye_has_no_pupils_to_compare() -> None:
    """With one eye missing there are not two pupils: the comparison does not apply."""
    one = Subject(name="Pirate", missing=frozenset({Part.LEFT_EYE}))
    assert named(plan(load(), "full", one), "eyes.pupils")[0].why_not == "missing_part"


def test_known_lumps_are_asked_for_by_name() -> None:
    """Each known lump has its questions, one lump after the other, before new ones."""
    lumps = (
        KnownLump(key="lump1", place="the left chest"),
        KnownLump(key="lump2", place="the tail"),
    )
    asked = walk(Subject(name="Bump", lumps=lumps), "full", {"lumps.known lump2": "gone"})
    assert [p for p in places(asked) if p.startswith("lumps.")] == [
        "lumps.known lump1",
        "lumps.known_length lump1",
        "lumps.known_width lump1",
        "lumps.known lump2",
        "lumps.new",
    ]
    (first,) = [s for s in asked if s.item == "lumps.known" and s.side == "lump1"]
    assert spoken(first.question.prompt, first) == "The lump on the left chest: how is it now?"


def test_new_lumps_are_described_one_after_the_other() -> None:
    """Two new lumps: the first is described wholly, then the second, and no third."""
    asked = [p for p in places(walk(MALE, "full", {"lumps.new": "two"})) if p.startswith("lumps.")]
    sides = [p.split()[1] for p in asked[1:]]
    assert sides == ["first"] * 11 + ["second"] * 11
    assert {"lumps.new_place first", "lumps.new_pain second"} <= set(asked)


def test_a_mammary_lump_leads_through_both_rows() -> None:
    """Every gland of both rows is asked, as many as were counted, and a lump is described."""
    said: dict[str, str | float] = {
        "mammary.line": "lump",
        "mammary.count left": "four",
        "mammary.count right": "six",
        "mammary.gland right_2": "lump",
    }
    asked = [p for p in places(walk(FEMALE, "full", said)) if p.startswith("mammary.")]
    glands = [p.split()[1] for p in asked if p.startswith("mammary.gland ")]
    assert glands == [f"left_{n}" for n in range(1, 5)] + [f"right_{n}" for n in range(1, 7)]
    described = [p for p in asked if p.startswith("mammary.gland_")]
    assert {p.split()[1] for p in described} == {"right_2"}
    assert len(described) == 6
    assert "mammary.nodes" in asked


def test_a_new_lump_at_the_teats_leads_there_too() -> None:
    """A new lump placed at the teats opens the rows of teats gland by gland."""
    said: dict[str, str | float] = {"lumps.new": "one", "lumps.new_place": "teats"}
    assert "mammary.gland left_1" in places(walk(FEMALE, "full", said))


def test_a_follow_up_is_about_the_same_side() -> None:
    """A red right eye is followed up on the right alone."""
    asked = places(walk(MALE, "full", {"eyes.look right": "red"}))
    eyes = [p for p in asked if p.startswith("eyes.")]
    assert eyes[:2] == ["eyes.look left", "eyes.look right"]
    assert {p.split()[1] for p in eyes[2:-1]} == {"right"}
    assert eyes[-1] == "eyes.pupils"


def test_what_was_not_observed_has_no_follow_up() -> None:
    """A skipped opening question is no unusual one."""
    steps = plan(load(), "full", MALE)
    (effort,) = named(steps, "watch.effort")
    place = ("watch.breathing", None)
    assert not due(effort, {})
    assert not due(effort, {place: Given(status="not_observed")})
    assert not due(effort, {place: Given(status="observed", value="easy")})
    assert due(effort, {place: Given(status="observed", value="hard")})


@pytest.mark.parametrize(
    "count, again", [(30.0, False), (31.0, True)], ids=["at the line", "above"]
)
def test_fast_breaths_are_counted_again(count: float, again: bool) -> None:
    """More than 30 a minute at rest is counted again."""
    asked = places(walk(MALE, "full", {"breaths.rate": count}))
    assert ("breaths.recount" in asked) is again


def test_panting_is_not_counted() -> None:
    """A panting dog has no breathing rate."""
    assert "breaths.rate" not in places(walk(MALE, "full", {"breaths.state": "panting"}))


def test_the_window_is_the_routine_s() -> None:
    """Breaths are counted for a minute, and for half a minute in the quick check."""
    windows = {
        r: named(plan(load(), r, MALE), "breaths.rate")[0].window_s for r in ("full", "quick")
    }
    assert windows == {"full": 60, "quick": 30}


def test_a_question_named_by_a_routine_needs_no_opening() -> None:
    """The kennel round asks for stools without the opening question, and follows up."""
    asked = places(walk(MALE, "kennel", {"noticed.stools": "watery"}))
    assert "noticed.change" not in asked
    assert {"noticed.stools", "noticed.stool_extra", "noticed.stool_times"} <= set(asked)


def test_sight_changes_what_is_asked() -> None:
    """Without sight: by touch where there is a way, else stored as not seen; a helper sees."""
    steps = plan(load(), "full", MALE, Sight.NONE)
    (waist,) = named(steps, "outline.waist")
    (gums,) = named(steps, "mouth.gum_colour")
    (ribs,) = named(steps, "outline.ribs")
    assert (waist.by_touch, waist.cannot_see) == (True, False)
    assert (gums.by_touch, gums.cannot_see) == (False, True)
    assert (ribs.by_touch, ribs.cannot_see) == (False, False)
    low = named(plan(load(), "full", MALE, Sight.LOW), "mouth.gum_colour")[0]
    assert (low.by_touch, low.cannot_see) == (False, False)
    helped = plan(load(), "full", MALE, Sight.NONE, helper=True)
    assert not any(step.by_touch or step.cannot_see for step in helped)


def test_labour_is_asked_of_a_pregnant_dog_at_once() -> None:
    """A pregnant dog's labour belongs to the signs that cannot wait."""
    pregnant = Subject(name="Wren", sex=Sex.FEMALE, neutered=Neutered.NO, pregnant=True)
    assert places(walk(pregnant, "quick"))[3] == "now.labour"
    assert named(plan(load(), "quick", FEMALE), "now.labour")[0].why_not == "pregnancy"


def test_a_side_is_spoken_as_words() -> None:
    """Sides are filled in as words, with a capital at the start."""
    (step,) = [
        s for s in plan(load(), "full", MALE) if s.item == "feet.foot" and s.side == "left_hind"
    ]
    assert spoken(step.question.prompt, step) == "Left hind foot: how are pads, toes and nails?"
