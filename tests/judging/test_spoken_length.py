"""Everything that is spoken is read aloud by the synthesiser and kept short.

Limits at 160 words a minute: a question 5 s, help 15 s, an alarm 5 s, the result 45 s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from handsfree.audio.device import SAMPLE_RATE
from handsfree.judging.engine import judge
from handsfree.judging.model import Finding
from handsfree.judging.result import LIMIT_S, Telling, seconds_of, spoken
from handsfree.protocol.loader import load
from handsfree.protocol.model import Question
from handsfree.speaking.espeak import Pyttsx3Synthesiser

from .shared import DAY, dog, exam, findings, table

Seconds = Callable[[str], float]

GAP_S = 0.3
"""Listening gap after each sentence of a long text."""


@pytest.fixture(scope="module")
def seconds() -> Iterator[Seconds]:
    """Return what tells how long a text takes when spoken."""
    engine = Pyttsx3Synthesiser()
    known: dict[str, float] = {}

    def of(text: str) -> float:
        if text not in known:
            known[text] = len(engine.render(text, rate_wpm=160)) / SAMPLE_RATE
        return known[text]

    yield of
    engine.close()


def _filled(text: str, question: Question) -> str:
    """The text with its longest side, or a long place for a known lump."""
    sides = question.sides or ("right hind",)
    side = max(sides, key=len).replace("_", " ")
    for mark in ("{side}", "{lump}", "{place}", "{gland}"):
        text = text.replace(mark, side)
    return text


def _questions() -> list[tuple[str, Question]]:
    return [
        (f"{region.id}.{question.id}", question)
        for region in load().regions.values()
        for question in region.question
    ]


def test_questions_take_five_seconds(seconds: Seconds) -> None:
    """Each prompt, and each way for those who cannot see."""
    long = {}
    for item, question in _questions():
        for text in (question.prompt, question.touch_prompt):
            if text and (length := seconds(_filled(text, question))) > 5.0:
                long[item] = round(length, 1)
    assert not long


def test_help_takes_fifteen_seconds(seconds: Seconds) -> None:
    """Finding the place by touch included."""
    long = {}
    for item, question in _questions():
        for text in (question.help, question.touch_help):
            if text and (length := seconds(_filled(text, question))) > 15.0:
                long[item] = round(length, 1)
    assert not long


def test_alarms_take_five_seconds(seconds: Seconds) -> None:
    """The sentence of each row that can interrupt, and what not to do."""
    long = {}
    for rule in table().rules:
        if rule.level == "now":
            for text in (rule.say, rule.avoid):
                if text and (length := seconds(text)) > 5.0:
                    long[rule.id] = round(length, 1)
        elif seconds_of(rule.say) > 4.5 and (length := seconds(rule.say)) > 5.0:
            long[rule.id] = round(length, 1)
    assert not long


RESULTS = {
    "nothing found": "now.gums=pink; watch.breathing=easy; watch.attitude=bright; belly.feel=soft",
    "not enough": "mouth.teeth=clean",
    "one alarm": "now.gums=pale",
    "many urgent": (
        "now.gums=pale; watch.breathing=hard; watch.attitude=weak; belly.feel=tight;"
        " noticed.vomiting=bloody; noticed.urine=none; eyes.look@left=bulging;"
        " eyes.look@right=injured; temperature.degrees=41; mouth.tongue=string"
    ),
    "many of all": (
        "watch.attitude=dull?; noticed.vomiting=more; noticed.stools=watery; noticed.cough=often;"
        " eyes.look@left=red; ears.look@right=smelly; feet.foot@left_hind=cut; mouth.teeth=broken;"
        " lumps.new=two; lumps.new_feel@first=hard; coat.look=sores; coat.sores=rash;"
        " nose.look=runny; heart.pulse=irregular; neck.feel=one_node; rear.look=scooting;"
        " noticed.scratching=lots; outline.ribs=firm_press; outline.waist=absent;"
        " outline.tuck=absent; mobility.rising=stiff; weight.kg=20"
    ),
    "watching": (
        "noticed.stools=soft; nose.look=runny; ears.look@left=waxy; feet.foot@left_front=red;"
        " coat.look=mats; noticed.scratching=little; mouth.gum_moisture=sticky"
    ),
}
SKIPPED = [
    Finding(item=item, status="not_observed", reason="cannot_see")
    for item in ("coat.look", "genitals.vulva", "rear.look", "season.last", "neck.feel")
]


@pytest.mark.parametrize("name", RESULTS)
def test_results_take_forty_five_seconds(name: str, seconds: Seconds) -> None:
    """With a past full of changes and much left out, spoken sentence by sentence."""
    past = exam(DAY.replace(year=2025), "mouth.teeth=tartar; nose.look=crusty; ears.hurts@left=yes")
    answers = [*findings(RESULTS[name]), *SKIPPED]
    judgement = judge(answers, dog("age_months=40"), [past], on=DAY, table=table())
    telling = Telling(
        catalogue=table().catalogue, dog="Tilly", vet_number="0 1 2 3, 5 5 5, 0 1 4 2"
    )
    sentences = spoken(judgement, telling)
    length = sum(seconds(sentence) + GAP_S for sentence in sentences)
    assert length <= LIMIT_S, sentences


def test_the_estimate_is_close_and_never_far_too_short(seconds: Seconds) -> None:
    """Planning rests on it, with the gap after each sentence counted in."""
    for rule in table().rules[::5]:
        assert seconds_of(rule.say) > seconds(rule.say) - 0.6, rule.id
        assert seconds_of(rule.say) < seconds(rule.say) + 1.6, rule.id
