"""What is asked between two dogs, in words: one function for each question. Pure text."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.kennel.model import Medicine
from handsfree.kennel.names import DOGS, PEOPLE, Names
from handsfree.kennel.order import Stop
from handsfree.kennel.question import Asked, Topic

__all__ = [
    "acknowledged", "dose", "is_it", "looked", "place", "stopping", "told", "when_told",
    "which_dog", "which_person", "yes_or_no",
]  # fmt: skip

PARK, LEFT, WHICH, WHO, NOBODY, SPELL, CHIP = (
    "park", "left", "which", "who", "nobody", "spell", "chip",
)  # fmt: skip

_YES_NO = (("yes", "yes"), ("no", "no"))
_PLACE = (
    ("yes", "yes"), ("no", "wrong place"), (PARK, "park this one"), (LEFT, "dogs left"),
    (WHICH, "another dog"), (WHO, "someone else"), ("stop", "stop"),
)  # fmt: skip
_TOLD = (
    ("vet", "the vet"), ("owner", "the owner"), ("manager", "the manager"),
    ("other", "someone else"), (NOBODY, "nobody yet"),
)  # fmt: skip
_PLACE_HELP = (
    "Say yes to begin. Say no if another dog is here, or none. Say park this one, how many left, "
    "another dog, go back, or stop. Whoever takes over says: this is, and the name."
)
_TYPED = {"park it": PARK, "left": LEFT, "how many left": LEFT, "wrong": "no", "q": "stop"}
SIGN_IN = "sign in"


def _named(names: Names, *wanted: str) -> tuple[str, ...]:
    return tuple(name for name in wanted if name in names.grammars)


def place(stop: Stop, names: Names, *, brief: bool, text: str = "") -> Asked:
    """Ask whether this is the dog, in its place; ``text`` asks it in other words."""
    bites = " Careful: it has bitten before." if stop.has_bitten else ""
    full = f"Pen {stop.pen}: {stop.name}. Is that this dog, in its place?"
    short = f"{stop.pen}, {stop.name}?"

    def typed(line: str) -> str | None:
        plain = line.lower()
        if plain.startswith((SIGN_IN, "this is ")):
            return line
        return _TYPED.get(plain)

    return Asked(
        topic=Topic.PLACE,
        text=(text or (short if brief else full)) + bites,
        about=stop.dog_id,
        choices=_PLACE,
        help=_PLACE_HELP,
        grammars=("round", *_named(names, PEOPLE)),
        enter="yes",
        otherwise=PARK,
        left="I did not understand that, and park it.",
        typed=typed,
        can_go_back=True,
    )


def which_dog(text: str, names: Names, *, topic: str = Topic.WHICH, about: str = "") -> Asked:
    """Ask which dog is meant."""
    return Asked(
        topic=topic,
        text=text,
        about=about,
        choices=((NOBODY, "nobody"), (CHIP, "by chip"), (SPELL, "spell it")),
        help="Say the dog's name, or its pen, for instance: row a pen two. Or say by chip, spell "
        "it, or nobody.",
        grammars=("which_dog", *_named(names, DOGS)),
        enter=NOBODY,
        otherwise=NOBODY,
        left="I leave that.",
        typed=lambda line: f"text:{line}",
        keeps_capitals=True,
    )


def which_person(names: Names) -> Asked:
    """Ask who leads from now on."""
    return Asked(
        topic=Topic.PERSON,
        text="Who leads now? Say: this is, and the name.",
        choices=((NOBODY, "nobody"), (SPELL, "spell it")),
        help="Say: this is, and your name. Or say spell it, or never mind.",
        grammars=("which_person", *_named(names, PEOPLE)),
        enter=NOBODY,
        otherwise=NOBODY,
        left="I leave that.",
        typed=lambda line: f"text:{line}",
        keeps_capitals=True,
    )


def is_it(text: str, key: str) -> Asked:
    """Ask whether this dog or person, by its key, is the one that was meant."""
    return Asked(
        topic=Topic.CONFIRM, text=text, about=key, choices=_YES_NO, grammars=("confirm",),
        enter="yes",
    )  # fmt: skip


def yes_or_no(topic: str, text: str, *, about: str = "", left: str = "I take that as no.") -> Asked:
    """Ask for a yes or a no; not understood to the last is a no."""
    return Asked(
        topic=topic, text=text, about=about, choices=_YES_NO, enter="yes", left=left,
        grammars=("yes_no",),
    )  # fmt: skip


def dose(medicine: Medicine, outcome: str, *, early: str = "") -> Asked:
    """Read a dose back, or challenge one that comes too early."""
    text = early or f"{medicine.name}, {medicine.amount}, {outcome}: is that right?"
    return yes_or_no(Topic.DOSE, text, about=medicine.id, left="Then I store nothing of it.")


def looked(stops: Sequence[Stop]) -> Asked:
    """Ask whether each of these dogs was looked at."""
    names = ", ".join(stop.name for stop in stops)
    return yes_or_no(
        Topic.LOOKED,
        f"{names}: all well in a row, faster than five looks take. Did you look at each of them?",
        left="I take that as no.",
    )


def stopping(left: int) -> Asked:
    """Ask whether the round is to stop."""
    count = f"{left} dog{'' if left == 1 else 's'}"
    return yes_or_no(
        Topic.STOPPING,
        f"Stop the round, with {count} not seen?",
        about=str(left),
        left="I go on.",
    )


def told(dog: str, say: str) -> Asked:
    """Ask who was told of a finding."""
    return Asked(
        topic=Topic.TOLD,
        text=f"{dog}: {say} Who was told? The vet, the owner, the manager, someone else, or nobody "
        "yet?",
        about=dog,
        choices=_TOLD,
        help="Say the vet, the owner, the manager, someone else, or nobody yet. By keys, type the "
        "name; Enter is nobody yet.",
        grammars=("who_told",),
        enter=NOBODY,
        otherwise=NOBODY,
        left="I note nobody, and ask again.",
        read_back={token: f"{word.capitalize()}. Right?" for token, word in _TOLD},
        always_back=True,
        typed=lambda line: f"text:{line}",
        keeps_capitals=True,
    )


def when_told() -> Asked:
    """Ask when that was."""
    return Asked(
        topic=Topic.WHEN,
        text="When was that? Say just now, or how many minutes ago.",
        choices=(("now", "now"),),
        help="Say just now, or a number of minutes. By keys, type the time or the minutes; Enter "
        "is now.",
        grammars=("when_told", "integer"),
        enter="now",
        otherwise="now",
        left="I note the time as it is now.",
        numbers=True,
        typed=lambda line: line if any(c.isdigit() for c in line) else None,
    )


def acknowledged(dog: str, say: str, name: str) -> Asked:
    """Ask whether whoever was told has acknowledged it."""
    who = f"{name[:1].upper()}{name[1:]}"
    return yes_or_no(
        Topic.ACKNOWLEDGED, f"{dog}: {say} {who} was told. Is it acknowledged?", about=dog
    )
