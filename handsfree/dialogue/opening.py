"""The first words of an exam: whose check it is, where it goes on, and whether a helper is there.

What is asked in which order comes from the plan; nothing is asked of the dog here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.actions import SpeechKind
from handsfree.dialogue.events import Opened
from handsfree.dialogue.progress import Progress
from handsfree.errors import CallerError
from handsfree.protocol.plan import Step, plan
from handsfree.protocol.subject import Sight

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Opening"]


class Opening:
    """Opens the exam."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self.helper_unsettled = False
        """Whether a helper is there is still to be answered."""

    def opened(self, event: Opened) -> None:
        """Begin, or take the exam up again where it stopped.

        Raises:
            CallerError: There is no such routine.
        """
        desk = self._desk
        routines = desk.protocol.routines
        if event.routine not in routines:
            known = ", ".join(sorted(routines))
            msg = f"There is no routine {event.routine!r}. Choose one of: {known}."
            raise CallerError(msg)
        desk.opened = event
        self._plan(helper=event.helper)
        self._parts.cautions.spoken_before(event.cautioned)
        desk.explained(event.cautioned)
        words = self._again() if event.prior else self._first(event)
        if event.sight is not Sight.FULL and not event.helper:
            self.ask_helper(*words)
        else:
            self._parts.asking.next(*words)

    def _first(self, event: Opened) -> list[str]:
        if event.in_round:
            return [event.asked_now] if event.asked_now else []
        title = self._desk.protocol.routines[event.routine].title
        words = [f"{title[:1].upper()}{title[1:]} for {event.subject.name}."]
        if not event.brief:
            words.append("This does not replace a vet.")
            words.append("Answer after the tone. Say help, pause or stop at any time.")
        if event.asked_now:
            words.append(event.asked_now)
        return words

    def _again(self) -> list[str]:
        desk = self._desk
        assert desk.opened is not None
        words = [f"Welcome back to {desk.opened.subject.name}'s check."]
        if desk.opened.in_round:
            words = [f"{desk.opened.subject.name} again."]
        index = desk.progress.find_next()
        if index is not None:
            words.append(f"We go on with {desk.progress.steps[index].region.title}.")
        return words

    def _plan(self, *, helper: bool) -> None:
        desk = self._desk
        opened = desk.opened
        assert opened is not None
        desk.helped = helper or opened.sight is Sight.FULL
        steps = plan(desk.protocol, opened.routine, opened.subject, opened.sight, desk.helped)
        carried = set(opened.carried) - {step.item for step in steps}
        if carried:
            full = plan(desk.protocol, "full", opened.subject, opened.sight, desk.helped)
            steps = _after_first_signs(
                steps, [s for s in full if s.item in carried and not s.question.when]
            )
        desk.progress = Progress(steps=steps)
        desk.progress.restore(opened.prior)

    def ask_helper(self, *before: str) -> None:
        """Ask whether a sighted person is there, for what must be seen."""
        desk = self._desk
        self.helper_unsettled = True
        desk.flow.move("ask_helper")
        desk.turn = None
        desk.ask("helper")
        desk.say(*before, "Is a sighted person with you?", kind=SpeechKind.PROMPT)
        self.listen_helper()

    def listen_helper(self, *, quiet: bool = False) -> None:
        """Open the microphone for yes or no."""
        self._desk.listen("yes_no", commands=vocabulary.HELPER, quiet=quiet)

    def settle_helper(self, *, there: bool) -> None:
        """The person said whether somebody who sees is there."""
        self.helper_unsettled = False
        self._desk.note("helper", there="yes" if there else "no")
        self._plan(helper=there)
        self._parts.asking.next(
            "" if there else "I ask for what can be felt, and leave out the rest."
        )


def _after_first_signs(steps: tuple[Step, ...], more: list[Step]) -> tuple[Step, ...]:
    """Put what is asked anew right behind the signs that cannot wait."""
    first = steps[0].region.id if steps else ""
    count = next((i for i, s in enumerate(steps) if s.region.id != first), len(steps))
    return (*steps[:count], *more, *steps[count:])
