"""Breaths by words and in silence, weight by difference: what is stored, and what is asked."""

from __future__ import annotations

import pytest

from handsfree.dialogue.actions import Confirm, Speak, Status, Tone
from handsfree.dialogue.events import TooLoud
from handsfree.interview.breathing_asleep import AsleepBreaths
from handsfree.interview.breathing_said import SaidBreaths
from handsfree.interview.measures import MEASURES, around, machine_for, with_measure
from handsfree.interview.weighing import DifferenceWeight
from handsfree.protocol.loader import load
from handsfree.protocol.plan import plan
from handsfree.protocol.subject import Subject

from .keys import RATE, Hand


def said(every_s: float, count: int, *, by_voice: bool = True) -> Hand:
    """Return a talk in which a breath was told ``count`` times."""
    hand = Hand(SaidBreaths(load())).open()
    hand.say("resting")
    hand.say("start")
    for _ in range(count):
        hand.now += round((every_s % 1.0) * RATE)
        hand.wait(int(every_s))
        if hand.asked is None or hand.asked.stage != "words":
            break
        if by_voice:
            hand.say("breath", word="tick")
        else:
            hand.enter()
    return hand


@pytest.mark.parametrize("by_voice", [True, False])
def test_said_breaths_become_a_rate(by_voice: bool) -> None:
    """A word, or a key, every three seconds is twenty a minute, stored before it is read back."""
    hand = said(3.0, 25, by_voice=by_voice)
    rate = hand.records[-1]
    assert (rate.item, rate.value, rate.unit) == ("breaths.rate", 20.0, "/min")
    assert rate.by == ("voice" if by_voice else "keys")
    assert dict(rate.method)["way"] == "a word at each breath"
    assert hand.of(Confirm) == []
    hand.say("yes")
    assert len(hand.of(Confirm)) == 1
    assert hand.outcome == "complete"


def test_said_breaths_stop_early_when_they_are_plain() -> None:
    """An even series far from the line needs no whole minute; every onset is kept."""
    hand = said(3.0, 25)
    (measure,) = hand.measures
    assert measure.kind == "said"
    names = [name for name, _ in measure.samples]
    assert names[0] == "window_start"
    assert names[-1] == "window_end"
    lasted = dict(measure.samples)["window_end"] - dict(measure.samples)["window_start"]
    assert lasted < 40 * RATE


def test_a_fast_rate_is_taken_twice() -> None:
    """Past the caution line a second series is asked for, and stored as the second count."""
    hand = said(1.5, 50)
    assert hand.records[-1].value == 40.0
    hand.say("yes")
    assert any("count once more" in text for text in hand.said)
    hand.say("start")
    for _ in range(50):
        hand.now += RATE // 2
        hand.wait(1)
        if hand.asked is None or hand.asked.stage != "words":
            break
        hand.say("breath", word="tick")
    assert hand.records[-1].item == "breaths.recount"
    hand.say("yes")
    assert hand.outcome == "complete"


def test_a_denied_rate_is_taken_anew_and_corrects_the_first() -> None:
    """The second row names the one that it corrects."""
    hand = said(3.0, 25)
    first = hand.records[-1].ref
    hand.say("no")
    hand.say("start")
    for _ in range(12):
        hand.wait(3)
        if hand.asked is None or hand.asked.stage != "words":
            break
        hand.say("breath", word="tick")
    assert hand.records[-1].supersedes == first


def test_panting_is_a_fact_and_no_rate() -> None:
    """A panting dog is stored as such and nothing is counted."""
    hand = Hand(SaidBreaths(load())).open()
    hand.key("panting")
    assert [(r.item, r.value) for r in hand.records] == [("breaths.state", "panting")]
    assert hand.outcome == "complete"


def test_no_words_end_in_not_measured() -> None:
    """Three empty attempts leave it: nothing is made up."""
    hand = Hand(SaidBreaths(load())).open()
    hand.say("asleep")
    for _ in range(3):
        hand.say("start")
        hand.wait(25)
    last = hand.records[-1]
    assert (last.status, last.reason) == (Status.NOT_OBSERVED, "not_measured")
    assert hand.outcome == "complete"
    assert all(measure.spoiled for measure in hand.measures)


def test_words_on_a_lost_stream_are_void() -> None:
    """No rate crosses two streams."""
    hand = said(3.0, 3)
    hand.stream = "another"
    hand.wait(2)
    assert any("broke off" in text for text in hand.said)


def test_beside_a_sleeping_dog_nothing_sounds_from_start_to_stop() -> None:
    """Between the two keys there is no tone and no word, however long it lasts."""
    hand = Hand(AsleepBreaths(load())).open()
    hand.wait(30, silences=True)
    hand.enter()
    begun = len(hand.actions)
    hand.wait(60, silences=True)
    hand.feed(TooLoud(stream=hand.stream, sample=hand.now, loud=True))
    between = hand.actions[begun:]
    assert [a for a in between if isinstance(a, Speak | Tone)] == []
    hand.enter()
    hand.key("15")
    assert (hand.records[-1].item, hand.records[-1].value) == ("breaths.rate", 15.0)
    assert dict(hand.records[-1].method)["window_s"] == 60.0
    hand.key("yes")
    assert hand.records[0].value == "asleep"
    assert hand.outcome == "complete"


def test_no_sound_is_made_even_while_it_waits_for_the_start() -> None:
    """The person walks to the dog in their own time."""
    hand = Hand(AsleepBreaths(load())).open()
    before = len(hand.actions)
    hand.wait(300, silences=True)
    assert [a for a in hand.actions[before:] if isinstance(a, Speak | Tone)] == []


def test_a_whisper_in_doubt_starts_and_stops() -> None:
    """A whisper is rarely sure; it is taken, on its own samples."""
    hand = Hand(AsleepBreaths(load())).open()
    hand.say("start", doubt=True)
    start = hand.now
    hand.wait(45)
    hand.say("finish", doubt=True)
    assert hand.measures[-1].samples == (("window_start", start), ("window_end", start + 45 * RATE))


def test_a_count_under_half_a_minute_is_taken_again() -> None:
    """Fifteen seconds tell too little: void, and asked for anew, to an end."""
    hand = Hand(AsleepBreaths(load())).open()
    for _ in range(3):
        hand.enter()
        hand.wait(15)
        hand.enter()
    assert [m.spoiled for m in hand.measures] == ["too short"] * 3
    assert hand.records[-1].reason == "not_measured"
    assert hand.outcome == "complete"


def test_a_count_that_cannot_be_is_asked_again() -> None:
    """Four hundred breaths are no count of a minute; the window is kept."""
    hand = Hand(AsleepBreaths(load())).open()
    hand.enter()
    hand.wait(60)
    hand.enter()
    hand.key("400")
    assert any("cannot be right" in text for text in hand.said)
    hand.key("18")
    assert hand.records[-1].value == 18.0


def test_weight_by_difference_keeps_every_reading() -> None:
    """Three pairs, the median difference, its noise, and all six readings in the record."""
    hand = Hand(DifferenceWeight()).open()
    for reading in (72.4, 60.0, 72.5, 60.1, 72.6, 60.0):
        hand.say(reading)
        hand.say("yes")
    scale, weight = hand.records
    assert (scale.item, scale.value) == ("weight.scale", "carried")
    assert weight.value == 12.4
    method = dict(weight.method)
    assert method["way"] == "difference"
    assert method["together_first"] == 72.4
    assert method["alone_third"] == 60.0
    assert hand.outcome == "complete"


def test_pounds_are_taken_where_the_person_uses_them() -> None:
    """A number without a unit is in pounds for a person with imperial units."""
    hand = Hand(DifferenceWeight(), units="imperial").open()
    for reading in (160.0, 132.0) * 3:
        hand.say(reading)
        hand.say("yes")
    assert hand.records[-1].value == pytest.approx(28 * 0.45359237, abs=0.01)


def test_a_weight_ten_times_the_last_is_kept_only_if_confirmed() -> None:
    """It is asked back, and a no keeps it out."""
    hand = Hand(DifferenceWeight(), subject=Subject(name="Rex", weight_kg=1.2)).open()
    for reading in (72.0, 60.0) * 3:
        hand.say(reading)
        hand.say("yes")
    assert "ten times" in hand.said[-1]
    assert hand.records == []
    hand.say("no")
    assert [(r.item, r.reason) for r in hand.records] == [("weight.kg", "not_measured")]


def test_no_difference_gives_no_weight() -> None:
    """With the dog no heavier than without: said, and nothing is stored as a weight."""
    hand = Hand(DifferenceWeight()).open()
    for reading in (60.0, 60.0) * 3:
        hand.say(reading)
        hand.say("yes")
    assert hand.records[-1].status is Status.NOT_OBSERVED


@pytest.mark.parametrize("name", MEASURES)
def test_each_measurement_is_a_routine_of_its_own(name: str) -> None:
    """Its plan holds its own items alone, and the check's routines stay as they are."""
    protocol = load()
    kind = MEASURES[name]
    whole = with_measure(protocol, kind)
    steps = plan(whole, f"measure_{name}", Subject(name="Rex"))
    items = {step.item for step in steps}
    wanted = {f"{kind.region}.{question}" for question in kind.questions}
    assert items == (set() if name == "lump" else wanted), "a dog without lumps has none to measure"
    assert set(protocol.routines) == set(whole.routines) - {f"measure_{name}"}
    assert around(kind)


def test_a_heart_rate_always_comes_with_the_mood() -> None:
    """In a check the mood is asked at some rates; beside a lone number always."""
    whole = with_measure(load(), MEASURES["heart"])
    steps = {s.item: s for s in plan(whole, "measure_heart", Subject(name="Rex"))}
    assert steps["heart.mood"].when == ()


def test_each_way_has_its_machine() -> None:
    """A stored measurement can be run again by its routine."""
    protocol = load()
    assert isinstance(machine_for("measure_breaths_said", protocol), SaidBreaths)
    assert isinstance(machine_for("measure_breaths_asleep", protocol), AsleepBreaths)
    assert isinstance(machine_for("measure_weight_difference", protocol), DifferenceWeight)
