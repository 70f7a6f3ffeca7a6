"""Cautions, each spoken once a check, where it is due.

Most hang on a region or a question and stand in the protocol's files; the few here hang on the dog
or on what happens. Their words are data too (``cautions.toml``): only the occasion is decided here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue.actions import SpeechKind
from handsfree.protocol.subject import Size, Subject

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Cautions"]

FIRST_TOUCH = "may_bite"
"""The caution of the first touch: those that hang on the dog come with it."""
REFUSED = "stop_signs"
"""What to watch for, said when the dog would not have it."""
LIGHT = "light"
_LIGHT = "Use daylight or a white light."


class Cautions:
    """Says each caution once."""

    def __init__(self, parts: Parts) -> None:
        self._desk = parts.desk
        self._said: set[str] = set()

    def spoken_before(self, keys: tuple[str, ...]) -> None:
        """Leave out what this person has been told already today."""
        self._said.update(keys)

    @property
    def said(self) -> frozenset[str]:
        """The cautions that were said, those of earlier dogs with them."""
        return frozenset(self._said)

    def for_question(self) -> tuple[str, ...]:
        """Return the keys of what the open question calls for and was not said yet."""
        desk = self._desk
        assert desk.turn is not None
        assert desk.opened is not None
        step = desk.turn.step
        keys: list[str] = []
        for key in (step.region.caution, step.question.caution):
            if key is not None and key not in self._said:
                keys.append(key)
                if key == FIRST_TOUCH:
                    keys += _for_dog(desk.opened.subject)
        if step.question.daylight and not desk.turn.by_touch:
            keys.append(LIGHT)
        return tuple(key for key in dict.fromkeys(keys) if key not in self._said)

    def for_refusal(self) -> None:
        """The dog would not have it: say once when to stop."""
        self.say(REFUSED)

    def say(self, *keys: str) -> None:
        """Say these cautions, each once, and store that they were said."""
        desk = self._desk
        for key in keys:
            if key in self._said:
                continue
            self._said.add(key)
            if key == LIGHT:
                desk.say(_LIGHT, kind=SpeechKind.NOTICE)
            elif key in desk.protocol.cautions:
                desk.note("cautioned", key=key)
                desk.say(desk.protocol.cautions[key].say, kind=SpeechKind.CAUTION)


def _for_dog(subject: Subject) -> tuple[str, ...]:
    """Return the cautions that hang on the dog."""
    keys = []
    if subject.has_bitten or subject.size in (Size.LARGE, Size.GIANT):
        keys.append("two_people")
    if subject.has_bitten or subject.muzzle_trained:
        keys.append("no_muzzle")
    return tuple(keys)
