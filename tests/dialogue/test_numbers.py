"""Numbers: every one is read back; what cannot be is refused; units and everyday sizes."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State
from handsfree.protocol.subject import Subject

from .script import ENTER, Line, mumble, opened, play, say, silence, typed

SCALE = opened(routine="scale")
KNOWN = opened(routine="scale", subject=Subject(name="Bramble", weight_kg=12.0, age_months=60))
PUP = opened(routine="scale", subject=Subject(name="Bramble", weight_kg=4.0, age_months=4))

CASES: dict[str, list[Line]] = {
    "a number is stored, read back, and settled by yes alone": [
        (SCALE, []),
        (say(12.4, "kg"), ["record 1 weight.kg observed 12.4 unconfirmed by voice",
                           "read_back: Weight 12.4 kilos. Right?", "listen confirm ["],
         State.CONFIRMING),
        (silence(), ["!^confirm", "read_back: Weight 12.4 kilos: yes or no?"], State.CONFIRMING),
        (say("yes"), ["confirm weight.kg=12.4 confirmed"]),
    ],
    "a denied number is asked again, and the correction names it": [
        (SCALE, []),
        (say(20.0, "kg"), []),
        (say("no"), ["prompt: Say the weight, for instance"], State.ASKING),
        (say(12.0, "kg"), ["record 2 weight.kg observed 12.0 unconfirmed by voice corrects 1"]),
    ],
    "a dog of 900 kilos cannot be": [
        (SCALE, []),
        (say(900.0, "kg"), ["!^record", "prompt: 900 kilos cannot be right. | Say the weight"]),
        (say(900.0, "lb"), ["!^record", "prompt: 900 pounds cannot be right."]),
        (mumble(), ["prompt: Type the number and press Enter. | Or say skip."]),
        (mumble(), ["record 1 weight.kg not_observed not_understood"]),
    ],
    "nine hundred without a unit can only be grams": [
        (SCALE, []),
        (say(900.0), ["read_back: Weight 900 grams, 0.9 kilos. Right?"]),
    ],
    "no number at all": [
        (SCALE, []),
        (say("pink"), ["!^record", "prompt: I need a number."]),
    ],
    "a unit of another kind cannot be": [
        (SCALE, []),
        (say(12.0, "cm"), ["!^record", "prompt: 12 centimetres cannot be right."]),
    ],
    "pounds are read back as said and as stored": [
        (SCALE, []),
        (say(12.0, "lb"), ["record 1 weight.kg observed 5.443",
                           "read_back: Weight 12 pounds, 5.4 kilos. Right?"]),
    ],
    "a number without a unit is pounds for one who uses them": [
        (opened(routine="scale", units="imperial"), []),
        (say(12.0), ["record 1 weight.kg observed 5.443"]),
    ],
    "a number without a unit is kilos otherwise": [
        (SCALE, []),
        (say(12.0), ["record 1 weight.kg observed 12.0"]),
    ],
    "a temperature of 101.4 can only be Fahrenheit": [
        (SCALE, []),
        (say(12.0, "kg"), []),
        (say("yes"), []),
        (say(101.4), ["record 2 temperature.degrees observed 38.556",
                      "Temperature 101.4 degrees Fahrenheit, 38.6 degrees. Right?"]),
    ],
    "a temperature of 12 cannot be": [
        (SCALE, []),
        (say(12.0, "kg"), []),
        (say("yes"), []),
        (say(12.0), ["!^record", "prompt: 12 cannot be right. | Say the temperature."]),
        (say(12.0, "Cel"), ["!^record", "prompt: 12 degrees cannot be right."]),
    ],
    "an unusual number is said to be unusual": [
        (SCALE, []),
        (say(0.4, "kg"), ["read_back: That would be unusual. | Weight 0.4 kilos. Right?"]),
    ],
    "a weight far from the last is said to be so, with no number told": [
        (KNOWN, []),
        (say(21.0, "kg"), ["read_back: That is far from the last weight. | Weight 21 kilos."]),
    ],
    "a weight near the last is not": [
        (KNOWN, []),
        (say(13.0, "kg"), ["read_back: Weight 13 kilos. Right?", "!far from"]),
    ],
    "pups grow": [
        (PUP, []),
        (say(8.0, "kg"), ["read_back: Weight 8 kilos. Right?", "!far from"]),
    ],
    "an everyday size is kept with its name": [
        (SCALE, []),
        (say(8.0, "kg", "pea"), ["read_back: Weight like a pea, 8 kilos. Right?"]),
    ],
    "typed numbers are read back too": [
        (SCALE, []),
        (typed("12.4 kg"), ["record 1 weight.kg observed 12.4 unconfirmed by keys",
                            "read_back: Weight 12.4 kilos. Right?"], State.CONFIRMING),
        (ENTER, ["confirm weight.kg=12.4 confirmed"]),
    ],
    "a typed number can be replaced at the read-back": [
        (SCALE, []),
        (typed("12.4"), []),
        (typed("12,9"), ["record 2 weight.kg observed 12.9 unconfirmed by keys corrects 1"],
         State.CONFIRMING),
    ],
    "a typed line that is no number changes nothing": [
        (SCALE, []),
        (typed("twelve"), ["prompt: That key has no meaning here. | Type the number"]),
        (typed("1e99"), ["prompt: That key has no meaning here."]),
        (typed(""), ["prompt: That key has no meaning here."]),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", CASES.values(), ids=CASES.keys())
def test_number(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)
