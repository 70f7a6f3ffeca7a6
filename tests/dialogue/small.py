"""A small check of our own, so that the machine's rules are tested apart from the shipped files."""

from __future__ import annotations

from handsfree.protocol.model import (
    Applies,
    Caution,
    Condition,
    Kind,
    Limits,
    Protocol,
    Question,
    Region,
    Routine,
    SightNeed,
    Source,
)
from handsfree.protocol.subject import Part


def _limits(low: float, high: float, usual_low: float, usual_high: float) -> Limits:
    return Limits(
        hard_low=low, hard_high=high, usual_low=usual_low, usual_high=usual_high, source="ours"
    )


SIGNS = Question(
    id="signs",
    prompt="Any hard breathing or collapse?",
    again="Is it fighting for breath, or down?",
    help="Look from where you are. Say none, breathing, or collapse.",
    grammar="now_signs",
    normal=("none",),
    alarming=("breathing", "collapse"),
    values={"none": "No urgent sign", "breathing": "Hard breathing", "collapse": "Collapse"},
    choices={"none": "none", "breathing": "hard breathing", "collapse": "collapse"},
    source="ours",
)
GUMS = Question(
    id="gums",
    prompt="Lift the lip: what colour are the gums?",
    again="Which colour is the gum above the big tooth?",
    help="Lift the upper lip at the side.",
    grammar="gum_colour",
    normal=("pink",),
    alarming=("pale", "white"),
    values={"pink": "Gums pink", "pale": "Gums pale", "white": "Gums white", "dark": "Gums dark"},
    choices={"pink": "pink", "pale": "pale", "white": "white", "dark": "dark by nature"},
    sight=SightNeed.SEE,
    caution="may_bite",
    daylight=True,
    source="ours",
)
ATTITUDE = Question(
    id="attitude",
    prompt="How does the dog seem today?",
    again="Is it bright, restless, or dull?",
    help="Compare with its usual self.",
    grammar="attitude",
    normal=("bright",),
    alarming=("dull",),
    values={"bright": "Bright", "restless": "Restless", "dull": "Dull"},
    choices={"bright": "bright", "restless": "restless", "dull": "dull"},
    source="ours",
)
SINCE = Question(
    id="since",
    prompt="Since when is it like that?",
    again="Since today, or for days?",
    help="Think of when you first noticed it.",
    grammar="since",
    normal=("always",),
    harmless=True,
    values={"today": "Since today", "days": "For days", "always": "Always so"},
    choices={"today": "today", "days": "some days", "always": "always"},
    when=(Condition(item="watch.attitude", not_values=("bright",)),),
    source="ours",
)
GAIT = Question(
    id="gait",
    prompt="Let it walk: how does it walk?",
    again="Normal, stiff, or limping?",
    help="Call it across the room.",
    grammar="gait",
    normal=("normal",),
    values={"normal": "Walks normally", "stiff": "Walks stiffly", "limping": "Limping"},
    choices={"normal": "normal", "stiff": "stiff", "limping": "limping"},
    sight=SightNeed.SEE,
    touch_prompt="Let it walk beside you: are the steps even?",
    touch_help="Lay a hand on its shoulder.",
    source="ours",
)
BREATHS = Question(
    id="rate",
    kind=Kind.COUNT,
    prompt="Count the breaths.",
    again="Count each rise of the chest.",
    help="Watch the flank. One rise and fall is one breath.",
    grammar="integer",
    values={"number": "Breaths"},
    unit="/min",
    windows_s=(60, 30),
    limits=_limits(2, 200, 8, 40),
    source="ours",
)
WEIGHT = Question(
    id="kg",
    kind=Kind.NUMBER,
    prompt="What does the dog weigh?",
    again="Say the weight, for instance twelve point four kilos.",
    help="Put it on the scale.",
    grammar="weight",
    values={"number": "Weight"},
    unit="kg",
    units_heard=("kg", "lb", "g", "oz"),
    limits=_limits(0.05, 130, 0.8, 90),
    source="ours",
)
REFILL = Question(
    id="refill",
    kind=Kind.REFILL,
    prompt="Now press the gum, and say press.",
    again="Press a finger on the gum, and say press.",
    help="Press for four ticks. Say release as you let go, and pink when the colour is back.",
    grammar="press",
    values={"number": "Refill"},
    unit="s",
    limits=_limits(0.1, 15, 0.5, 2.5),
    sight=SightNeed.SEE,
    touch_help="The refill needs eyes. Cold paws or a weak pulse show poor circulation too.",
    source="ours",
)
TEETH = Question(
    id="teeth",
    prompt="How are the teeth?",
    again="Clean, or tartar?",
    help="Look along the outer sides.",
    grammar="teeth",
    normal=("clean",),
    values={"clean": "Teeth clean", "tartar": "Some tartar"},
    choices={"clean": "clean", "tartar": "tartar"},
    sight=SightNeed.SEE,
    source="ours",
)
EARS = Question(
    id="look",
    prompt="How is the {side} ear?",
    again="Is the {side} ear clean or red?",
    help="Fold the flap back.",
    grammar="ear",
    normal=("clean",),
    values={"clean": "{side} ear clean", "red": "{side} ear red"},
    choices={"clean": "clean", "red": "red"},
    sides=("left", "right"),
    part={"left": Part.LEFT_EAR, "right": Part.RIGHT_EAR},
    source="ours",
)
SHEATH = Question(
    id="sheath",
    prompt="Any discharge at the sheath?",
    again="Does anything drip from the sheath?",
    help="A little cream is normal. Say yes or no.",
    grammar="yes_no",
    normal=("no",),
    values={"yes": "Discharge", "no": "No discharge"},
    choices={"yes": "yes", "no": "no"},
    applies=Applies(sex="male"),
    source="ours",
)
HEAT = Question(
    id="degrees",
    kind=Kind.NUMBER,
    prompt="What does the thermometer say?",
    again="Say the temperature.",
    help="Wait for the beep.",
    grammar="temperature",
    values={"number": "Temperature"},
    unit="Cel",
    units_heard=("Cel", "degF"),
    limits=_limits(28, 44, 37, 40),
    source="ours",
)

_REGIONS = (
    Region(id="now", title="signs that cannot wait", question=(SIGNS, GUMS)),
    Region(
        id="watch",
        title="watching from a distance",
        intro="Step back and watch.",
        question=(ATTITUDE, SINCE, GAIT),
    ),
    Region(id="breaths", title="breaths at rest", question=(BREATHS,)),
    Region(id="weight", title="the weight", question=(WEIGHT,)),
    Region(id="mouth", title="the mouth", caution="lip_only", question=(REFILL, TEETH)),
    Region(id="ears", title="the ears", question=(EARS,)),
    Region(id="genitals", title="the genitals", question=(SHEATH,)),
    Region(id="temperature", title="the temperature", question=(HEAT,)),
)


def _routine(routine_id: str, *regions: str, **window_s: int) -> Routine:
    return Routine(
        id=routine_id,
        title=f"the {routine_id} check",
        regions=regions,
        window_s={"breaths.rate": window_s["window"]} if window_s else {},
        minutes=1,
    )


SMALL = Protocol(
    version="small",
    regions={region.id: region for region in _REGIONS},
    routines={
        routine.id: routine
        for routine in (
            _routine("full", *(region.id for region in _REGIONS)),
            _routine("short", "now", "watch"),
            _routine("signs", "now"),
            _routine("breath", "breaths", "ears"),
            _routine("half", "breaths", "ears", window=30),
            _routine("scale", "weight", "temperature"),
            _routine("mouth", "mouth", "ears"),
            _routine("ears", "ears", "genitals", "temperature"),
        )
    },
    cautions={
        key: Caution(key=key, say=say, source="ours")
        for key, say in (
            ("may_bite", "Any dog in pain may bite."),
            ("lip_only", "Only lift the lip."),
            ("stop_signs", "Stop if the dog growls or freezes."),
            ("two_people", "Have a second person there."),
            ("no_muzzle", "Never muzzle a dog that pants hard."),
        )
    },
    sources={"ours": Source(key="ours", cite="Ours", basis="judgement", read="ours")},
)
