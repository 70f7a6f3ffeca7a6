"""Single measurements: which part of the check each takes, what is asked around it, how it is run.

Each is a routine of its own with one region, so that a measurement is stored, judged and compared
as in a check. Pure: nothing is asked or stored here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from handsfree.dialogue.machine import Exam
from handsfree.interview.breathing_asleep import AsleepBreaths
from handsfree.interview.breathing_said import SaidBreaths
from handsfree.interview.field import Field
from handsfree.interview.talk import Talk
from handsfree.interview.weighing import DifferenceWeight
from handsfree.protocol.model import Protocol, Region, Routine
from handsfree.protocol.single import PREFIX, TITLES

__all__ = ["MEASURES", "Kind", "around", "machine_for", "with_measure"]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One measurement.

    Attributes:
        name: As the command names it.
        region: Region of the check.
        questions: Its questions that are asked.
        always: Those asked whatever came before.
        around: What is asked beforehand, by field.
    """

    name: str
    region: str
    questions: tuple[str, ...]
    always: tuple[str, ...] = ()
    around: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What it measures, as spoken."""
        return TITLES[self.name]


MEASURES = {
    kind.name: kind
    for kind in (
        Kind(
            name="breaths",
            region="breaths",
            questions=("state", "rate", "recount"),
            around=("exercise", "food"),
        ),
        Kind(
            name="heart",
            region="heart",
            questions=("rate", "mood", "recount"),
            always=("mood",),
            around=("exercise",),
        ),
        Kind(
            name="refill",
            region="mouth",
            questions=("refill",),
            around=("mood", "light"),
        ),
        Kind(
            name="weight",
            region="weight",
            questions=("scale", "kg"),
            around=("food",),
        ),
        Kind(
            name="temperature",
            region="temperature",
            questions=("site", "degrees", "recheck"),
            always=("site",),
            around=("mood", "exercise"),
        ),
        Kind(
            name="lump",
            region="lumps",
            questions=("known", "known_length", "known_width"),
            around=("with",),
        ),
    )
}
"""Every measurement, by name."""

_LONG_AGO = {"minutes": "just now", "hour": "an hour ago", "hours": "hours ago"}
_AROUND = {
    "mood": Field(
        id="mood",
        prompt="How is the dog: calm, excited, or asleep?",
        again="Say calm, excited, or asleep.",
        help="It is kept beside the number. Say calm, excited, or asleep, or skip.",
        grammar="mood",
        values={"calm": "Calm", "excited": "Excited", "asleep": "Asleep"},
        choices={"calm": "calm", "excited": "excited", "asleep": "asleep"},
    ),
    "exercise": Field(
        id="exercise",
        prompt="When did it last run: just now, an hour, or hours ago?",
        again="Say just now, an hour, or hours.",
        help="Running raises the number for half an hour or more. Say just now, an hour, or hours.",
        grammar="how_long",
        values={key: f"It ran {text}" for key, text in _LONG_AGO.items()},
        choices={"minutes": "just now", "hour": "an hour", "hours": "hours"},
    ),
    "food": Field(
        id="food",
        prompt="When did it last eat: just now, an hour, or hours ago?",
        again="Say just now, an hour, or hours.",
        help="A full belly weighs, and quickens the breath. Say just now, an hour, or hours.",
        grammar="how_long",
        values={key: f"It ate {text}" for key, text in _LONG_AGO.items()},
        choices={"minutes": "just now", "hour": "an hour", "hours": "hours"},
    ),
    "light": Field(
        id="light",
        prompt="What light is there: daylight, a lamp, or dim?",
        again="Say daylight, lamp, or dim.",
        help="Colours are judged by daylight, or a white lamp. Say daylight, lamp, or dim.",
        grammar="light",
        values={"daylight": "Daylight", "lamp": "Lamplight", "dim": "Dim light"},
        choices={"daylight": "daylight", "lamp": "lamp", "dim": "dim"},
    ),
    "with": Field(
        id="with",
        prompt="Do you measure with a ruler?",
        again="A ruler: yes or no?",
        help="Without a ruler say what the lump is like: pea, grape, walnut, egg.",
        grammar="yes_no",
        values={"yes": "With a ruler", "no": "By what it is like"},
        choices={"yes": "yes", "no": "no"},
    ),
}


def around(kind: Kind) -> tuple[Field, ...]:
    """Return what is asked before the measurement."""
    return tuple(_AROUND[name] for name in kind.around)


def with_measure(protocol: Protocol, kind: Kind) -> Protocol:
    """Return the protocol with a routine for one measurement besides its own."""
    narrowed = _narrowed(protocol.regions[kind.region], kind)
    name = f"{PREFIX}{kind.name}"
    routine = Routine(id=name, title=kind.title, regions=(kind.region,), minutes=2.0)
    return replace(
        protocol,
        regions={**protocol.regions, kind.region: narrowed},
        routines={**protocol.routines, name: routine},
    )


def _narrowed(region: Region, kind: Kind) -> Region:
    """Return the region with the measurement's questions alone; its caution stays."""
    kept = [
        replace(question, when=()) if question.id in kind.always else question
        for question in region.question
        if question.id in kind.questions
    ]
    return replace(region, question=tuple(kept), intro=None)


def machine_for(routine: str, protocol: Protocol, *, by_keys: bool = False) -> Exam | Talk:
    """Return the machine that takes a routine: the exam machine, or a measurement's own."""
    name = routine.removeprefix(PREFIX)
    if name == "breaths_said":
        return SaidBreaths(protocol)
    if name == "breaths_asleep":
        return AsleepBreaths(protocol)
    if name == "weight_difference":
        return DifferenceWeight(by_keys=by_keys)
    kind = MEASURES.get(name) if name != routine else None
    return Exam(protocol if kind is None else with_measure(protocol, kind))
