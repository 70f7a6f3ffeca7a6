"""Which question comes next, how it is put, and how it is put again.

What is due is told by ``progress``; what is taken as an answer is decided elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import SpeechKind, Status
from handsfree.dialogue.states import State
from handsfree.dialogue.turn import Turn
from handsfree.protocol.model import Kind
from handsfree.protocol.plan import Step, spoken

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Asking"]


class Asking:
    """Asks."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._region = ""

    # what is next

    def next(self, *before: str) -> None:
        """Find what is due and ask it; conclude when nothing is left.

        An alarm that waited comes first, and no question follows it.
        """
        desk, progress = self._desk, self._desk.progress
        if self._parts.alarms.raise_waiting():
            return
        self._parts.drop_stage("left")
        while (index := progress.find_next()) is not None:
            progress.index = index
            step = progress.step
            unasked = not step.applicable or desk.out_of_sight(step)
            if unasked and self._parts.settling.keep_standing(step):
                continue  # asked anew where nobody can see it now: what was seen before stays
            if not step.applicable:
                desk.record_missing(step, Status.NOT_APPLICABLE, step.why_not, by="machine")
            elif unasked:
                desk.record_missing(step, Status.NOT_OBSERVED, "cannot_see", by="machine")
                if step.question.kind is Kind.REFILL and step.question.touch_help:
                    before = (*before, spoken(step.question.touch_help, step))
            else:
                self._open_turn(step, before)
                return
        self._parts.closing.conclude("complete", *before)

    def _open_turn(self, step: Step, before: tuple[str, ...]) -> None:
        desk = self._desk
        desk.turn = self._new_turn(step)
        desk.patience.reset()
        notices = (*before, *self._parts.room.held_back())
        intro = ""
        if step.region.id != self._region:
            self._region = step.region.id
            intro = "" if desk.brief else spoken(step.region.intro or "", step)
        cautions = self._parts.cautions.for_question()
        if any(notices) or intro or cautions:
            # What was heard is said back at once, not behind all this.
            desk.say(*self._parts.settling.take_echo(), kind=SpeechKind.ECHO)
        desk.say(*notices, intro, kind=SpeechKind.NOTICE)
        self._parts.cautions.say(*cautions)
        self.ask()

    def _new_turn(self, step: Step) -> Turn:
        """Return a turn that knows what was answered here before and must not be lost."""
        turn = Turn(step=step, by_touch=step.by_touch)
        turn.misheard = self._parts.room.retractions(turn.place)
        progress = self._desk.progress
        before = progress.answers.get(turn.place)
        turn.doubt = progress.standing_alarm(turn.place)
        turn.keeps = turn.doubt is None and before is not None and before.is_settled
        return turn

    # putting it

    def ask(self) -> None:
        """Ask the open question, or begin its stage."""
        desk = self._desk
        assert desk.turn is not None
        self._parts.drop_stage("asked again")
        desk.turn.window_s = None
        kind = desk.turn.step.question.kind
        if kind is Kind.REFILL:
            self._parts.refill.begin()
        elif kind is Kind.COUNT:
            self._parts.count.begin()
        else:
            self.put(phrases.prompt(desk.turn.step, desk.turn.by_touch, brief=desk.brief))

    def put(self, *texts: str, kind: SpeechKind = SpeechKind.PROMPT) -> None:
        """Ask for the answer in the given words and listen."""
        desk = self._desk
        assert desk.turn is not None
        desk.flow.move("ask")
        desk.ask("count" if desk.turn.window_s else "question")
        desk.say(*self._parts.settling.take_echo(), *texts, kind=kind)
        self._parts.taker.listen()

    def reask(self, *before: str) -> None:
        """Come back to what was open: the read-back, the stage, or the question."""
        desk = self._desk
        reading_back = desk.turn is not None and desk.turn.pending is not None
        if not reading_back and self._parts.alarms.raise_waiting():
            return
        if self._parts.opening.helper_unsettled:
            self._parts.opening.ask_helper(*before)
        elif desk.turn is None or (
            desk.turn.pending is None and not desk.progress.is_open(desk.turn.step)
        ):
            self.next(*before)
        else:
            desk.say(*before)
            desk.patience.reset()
            self._again()

    def _again(self) -> None:
        desk = self._desk
        assert desk.turn is not None
        if desk.turn.pending is not None:
            self._parts.read_back.again()
        elif desk.turn.window_s is not None:
            self._parts.count.ask_number()
        else:
            self.ask()

    def repeat(self) -> None:
        """Say again what was asked last."""
        parts, desk, state = self._parts, self._desk, self._desk.flow.state
        if state is State.ALARM:
            parts.alarms.say()
        elif state is State.TELLING:
            parts.closing.tell()
        elif state is State.HELPER:
            parts.opening.ask_helper()
        elif state is State.OPTIONS:
            parts.menus.options()
        elif state is State.GOTO:
            parts.menus.goto()
        elif desk.turn is not None:
            self._again()

    def listen_again(self, *, quiet: bool = False) -> None:
        """Open the microphone again without a word."""
        parts, state = self._parts, self._desk.flow.state
        if state is State.ASKING:
            parts.taker.listen(quiet=quiet)
        elif state is State.CONFIRMING:
            parts.read_back.listen(quiet=quiet)
        elif state is State.PRESSING:
            parts.refill.listen_press(quiet=quiet)
        elif state is State.COUNT_READY:
            parts.count.listen_ready(quiet=quiet)
        elif state is State.GOTO:
            parts.menus.listen_region(quiet=quiet)
        elif state is State.HELPER:
            parts.opening.listen_helper(quiet=quiet)
        elif state is State.TELLING:
            parts.closing.listen(quiet=quiet)
        else:
            self._desk.listen(commands=vocabulary.open_in(state), quiet=quiet)

    # helping

    def help(self) -> None:
        """Say how the open question is answered, and once what else can be said."""
        desk, state, parts = self._desk, self._desk.flow.state, self._parts
        turn = desk.turn
        if state in _HELP:
            desk.say(*_HELP[state], kind=SpeechKind.HELP)
            self.repeat()
        elif turn is None:
            self.repeat()
        elif state is State.ASKING and turn.window_s is not None:
            desk.say(
                f"Say how many you counted in {turn.window_s} seconds.",
                "To count again, say go back.",
                kind=SpeechKind.HELP,
            )
            parts.count.ask_number()
        else:
            parts.drop_stage("help was asked for")
            first = desk.once("other_words")
            desk.say(
                phrases.help_for(turn.step, turn.by_touch),
                "You can also say repeat, go back, skip, can't see, won't let me, or options."
                if first
                else "",
                kind=SpeechKind.HELP,
            )
            if state is State.ASKING:
                desk.ask("question")
                parts.taker.listen()
            else:
                self.ask()

    def enter_anew(self) -> None:
        """Say the region's words again when it is entered next."""
        self._region = ""


_HELP: dict[State, tuple[str, ...]] = {
    State.HELPER: (
        "Some things must be seen.",
        "With a sighted person there I ask for them; without, I ask for what can be felt.",
    ),
    State.OPTIONS: (
        "Slower and faster change how I speak.",
        "Where am I tells the part; what remains lists the others; go to takes you to one.",
        "Resume takes you back to the question.",
    ),
    State.GOTO: ("Say the part that you want, or go back.",),
    State.CONFIRMING: ("Say yes if I have it right, no to answer again, or the right answer.",),
}
"""Where help is not about the question itself."""
