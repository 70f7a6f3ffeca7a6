"""The result in sentences: what comes first, what is never dropped, what gives way."""

from __future__ import annotations

from handsfree.judging.body import body_of
from handsfree.judging.engine import judge
from handsfree.judging.model import Finding, Judgement, Level, PastExam
from handsfree.judging.result import LIMIT_S, Telling, main_rows, printed, seconds_of, spoken
from handsfree.protocol.subject import KnownLump, Subject

from .shared import DAY, dog, exam, findings, table

WELL = "now.gums=pink; watch.breathing=easy; watch.attitude=bright; belly.feel=soft"


def judged(text: str, *past: PastExam, unfinished: bool = False) -> Judgement:
    """Judge an adult dog."""
    return judge(findings(text), dog(), past, on=DAY, table=table(), unfinished=unfinished)


def telling(vet_number: str | None = None) -> Telling:
    """Wording for a dog called Tilly."""
    return Telling(catalogue=table().catalogue, dog="Tilly", vet_number=vet_number)


def test_a_clean_check_says_what_it_is_worth() -> None:
    """Nothing found in what was looked at, and the closing caution."""
    said = spoken(judged(WELL), telling())
    assert said == (
        "Nothing was found in what was looked at in Tilly.",
        "A clean check doesn't rule out illness. If you are worried, call a vet.",
    )


def test_what_to_do_comes_first_with_the_number() -> None:
    """Level, reason and number in the first two sentences."""
    said = spoken(judged("now.gums=pale; mouth.teeth=tartar"), telling("five five five"))
    assert said[:2] == ("Call a vet now: pale or white gums.", "The number is five five five.")
    assert spoken(judged("now.gums=pale"), telling())[1] == (
        "No vet's number is set: look it up now."
    )


def test_doubted_alarms_come_before_all_else() -> None:
    """Even before a sure finding of the highest level."""
    said = spoken(judged("eyes.look@left=bulging; now.gums=pale?"), telling())
    assert said[0] == "Not sure, but possible: pale or white gums."
    assert said[1] == "Look once more; if it is so, call a vet now."
    assert said[2].startswith("Call a vet now: a bulging eye, left")


def test_no_urgent_finding_is_dropped_for_length() -> None:
    """Twelve urgent ones are counted and each is named; the smaller ones give way."""
    urgent = (
        "watch.attitude=dull; noticed.vomiting=more; noticed.cough=often; eyes.look@left=red;"
        " heart.pulse=missing; mouth.lips=swollen; neck.feel=sore; noticed.urine=less;"
        " coat.sores=wound; watch.foot_use=none; mouth.gum_moisture=dry; mouth.breath=sweet"
    )
    small = "mouth.teeth=tartar; nose.look=runny; ears.look@left=waxy; noticed.scratching=lots"
    judgement = judged(f"{urgent}; {small}; lumps.new=one; coat.look=bald")
    said = spoken(judgement, telling())
    whole = " ".join(said)
    rows = [f for f in judgement.fired if f.level in (Level.NOW, Level.SAME_DAY)]
    assert len(rows) >= 12
    for row in rows:
        assert row.rule.name in whole, row.rule.id
    assert "more for now: " in whole
    assert sum(map(seconds_of, said)) <= LIMIT_S


def test_what_has_no_room_is_counted() -> None:
    """Smaller points that are left out are said to be in the printed result."""
    many = (
        "noticed.vomiting=more; noticed.stools=watery; watch.gait=limping; ears.look@left=smelly;"
        " lumps.new=two; coat.sores=rash; neck.feel=one_node; feet.foot@left_front=cut;"
        " mouth.teeth=broken; noticed.drinking=more; nose.look=crusty; noticed.stamina=tires;"
        " mobility.stairs=trouble; mammary.line=discharge; rear.look=scooting; mind.nights=wakes"
    )
    past = exam(DAY.replace(year=2025), "eyes.look@left=weepy; mouth.lips=sore; neck.moves=stiffly")
    said = spoken(judged(f"{many}; eyes.look@left=normal; mouth.lips=normal", past), telling())
    assert any("in the printed result" in sentence for sentence in said)


def test_a_lesser_row_of_the_same_topic_is_not_said_twice() -> None:
    """Repeated vomiting says it; 'a change at home' adds nothing."""
    judgement = judged("noticed.change=vomiting; lumps.new=one; lumps.new_feel@first=hard")
    names = [f.rule.id for f in main_rows(judgement.fired)]
    assert names == ["lump_new_worrying"]


def test_changes_then_gaps_then_the_closing_caution() -> None:
    """In this order, after what is to be done."""
    past = exam(DAY.replace(year=2025), "mouth.teeth=tartar; nose.look=normal")
    answers = [
        *findings(WELL + "; mouth.teeth=clean; nose.look=crusty"),
        Finding(item="rear.look", status="not_observed", reason="cannot_see"),
        Finding(item="neck.feel", status="not_observed", reason="dog_refused"),
    ]
    judgement = judge(answers, dog(), [past], on=DAY, table=table())
    said = spoken(judgement, telling())
    starts = ["For the next visit", "New since", "No longer there", "Could not be seen", "Left out"]
    places = [next(i for i, s in enumerate(said) if s.startswith(start)) for start in starts]
    assert places == sorted(places)
    assert said[-1].startswith("A clean check")


def test_what_could_not_be_seen_is_always_said_to_who_cannot_see() -> None:
    """Named, with whom to ask, however much else there is to say."""
    gaps = [
        Finding(item=item, status="not_observed", reason="cannot_see")
        for item in ("coat.look", "rear.look", "mouth.gum_colour")
    ]
    judgement = judge([*findings("now.gums=pale"), *gaps], dog(), on=DAY, table=table())
    words = Telling(catalogue=table().catalogue, cannot_see=True)
    said = spoken(judgement, words)
    (sentence,) = (s for s in said if s.startswith("Could not be seen, so ask your vet to look"))
    for gap in gaps:
        assert table().catalogue.items[gap.item].title in sentence


def test_not_enough_names_what_is_missing() -> None:
    """So that it can be looked at."""
    said = spoken(judged("watch.attitude=bright; now.gums=pink"), telling())
    assert said[0] == "Not enough was seen to say that all is well."
    assert said[1] == "Not looked at: the breathing and the belly."


def test_an_unfinished_check_says_so() -> None:
    """Spoken and printed."""
    judgement = judged("mouth.teeth=tartar", unfinished=True)
    assert any("not finished" in s for s in spoken(judgement, telling()))
    assert any("not finished" in s for s in printed(judgement, telling()))


def test_a_lump_is_told_by_its_place() -> None:
    """Not by its key."""
    subject = Subject(
        name="Tilly", age_months=40, lumps=(KnownLump(key="lump1", place="the left chest"),)
    )
    judgement = judge(findings("lumps.known@lump1=changed"), subject, on=DAY, table=table())
    words = Telling(catalogue=table().catalogue, places={"lump1": "the left chest"})
    assert "a known lump that has changed, the left chest" in " ".join(spoken(judgement, words))


def test_the_printed_result_leaves_nothing_out() -> None:
    """Each row with advice, evidence, source and whether it awaits a vet; the table's version."""
    judgement = judged("watch.attitude=dull; mouth.teeth=tartar; noticed.stools=soft")
    text = "\n".join(printed(judgement, telling()))
    for row in judgement.fired:
        assert row.rule.say in text
        assert row.rule.cite in text
        assert f"Row {row.rule.id};" in text
    assert "our own judgement, awaiting a vet" in text
    assert "Look again tomorrow." in text
    assert f"Judged by table {table().version}." in text


def test_ideal_weight_is_printed_with_its_formula() -> None:
    """Only for six to nine, and for the vet to confirm."""
    heavy = "outline.ribs=firm_press; outline.waist=absent; outline.tuck=absent; weight.kg=40"
    text = "\n".join(printed(judged(heavy), telling()))
    assert "Ideal weight 28.6 to 33.3 kg, weight divided by 1 plus 0.10" in text
    lean = "outline.ribs=easy; outline.waist=clear; outline.tuck=clear; weight.kg=20"
    assert "Ideal weight" not in "\n".join(printed(judged(lean), telling()))


def test_growth_is_printed_with_its_pace() -> None:
    """For the vet's eye: the worked example doubles in 38 days."""
    past = exam(DAY.replace(month=2, day=12), "lumps.known_length@lump1=10")
    text = "\n".join(printed(judged("lumps.known_length@lump1=14", past), telling()))
    assert "doubles in about 21 days" in text


def test_the_stored_body_is_plain_json() -> None:
    """It goes through JSON unchanged and names rows, evidence and the table's version."""
    import json

    past = exam(DAY.replace(year=2025), "mouth.teeth=clean; weight.kg=22")
    body = body_of(judged("mouth.teeth=tartar; weight.kg=20; now.gums=pale?", past))
    assert json.loads(json.dumps(body)) == body
    assert body["rules"] == table().version
    assert body["fired"][0]["rule"] == "gums_pale"
    assert body["fired"][0]["possible"] is True
    assert {c["kind"] for c in body["changes"]} == {"first_seen", "changed"}


def test_a_single_measurement_says_that_it_is_one() -> None:
    """What was measured and what it is worth; nothing of gums or breathing, and no clean check."""
    judgement = judge(findings("weight.kg=12.4"), dog(), on=DAY, table=table(), only="the weight")
    assert spoken(judgement, telling()) == (
        "Only this was measured: the weight.",
        "By itself that sets off no warning. One number alone says little of the dog.",
    )
    lines = printed(judgement, telling())
    assert "Only this was measured: the weight." in lines
    assert not any("Not looked at" in text for text in lines)


def test_a_measurement_broken_off_is_not_called_a_check() -> None:
    """Without a number nothing is said of the dog."""
    judgement = judge(
        findings("weight.scale=platform"), dog(), on=DAY, table=table(), only="the weight",
        unfinished=True,
    )  # fmt: skip
    assert spoken(judgement, telling()) == (
        "Only this was asked: the weight.",
        "No number came of it, so nothing can be said.",
        "The measurement was not finished; this is from what was answered.",
    )


def test_a_fever_measured_alone_is_told_before_all_else() -> None:
    """What to do comes first; that nothing else was measured comes behind it."""
    fever = findings("temperature.site=rectal; temperature.degrees=41.2")
    judgement = judge(fever, dog(), on=DAY, table=table(), only="the temperature")
    said = spoken(judgement, telling())
    assert said[0].startswith("Call a vet now")
    assert "Only this was measured: the temperature." in said
    assert not any("sets off no warning" in text for text in said)
