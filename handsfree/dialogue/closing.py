"""The end: nothing is left, the person stopped, or the program must end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.actions import Conclude, Finish, Hush, SpeechKind
from handsfree.dialogue.events import Concluded, Stopped
from handsfree.dialogue.states import State
from handsfree.protocol.single import single_title

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Closing"]

_WINDOW_S = 6.0


class Closing:
    """Ends the exam."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._result: tuple[str, ...] = ()
        self._outcome = "paused"
        self._nobody_there = False

    @property
    def _in_round(self) -> bool:
        return self._desk.opened is not None and self._desk.opened.in_round

    @property
    def _what(self) -> str:
        """What ends here, as spoken."""
        opened = self._desk.opened
        alone = opened is not None and single_title(opened.routine)
        return "measurement" if alone else "check"

    @property
    def stopped_early(self) -> bool:
        """Whether the person stopped before the end."""
        return self._outcome != "complete"

    def conclude(self, outcome: str, *before: str) -> None:
        """Ask for the result."""
        desk = self._desk
        self._parts.drop_stage("the check ended")
        self._parts.settling.settle_echo()
        self._parts.settling.keep_all()
        self._outcome = outcome
        desk.flow.move("conclude")
        desk.turn = None
        desk.say(*self._parts.settling.take_echo(), *before, *self._parts.room.held_back())
        if outcome == "complete" and not self._in_round:
            desk.say(f"The {self._what} is complete.")
        desk.emit(Conclude(outcome=outcome))

    def close_unfinished(self) -> None:
        """Nobody came back to a paused check: it is judged on what it has, and closed."""
        self._nobody_there = True
        self._outcome = "partial"
        self._parts.settling.keep_all()
        self._desk.flow.move("conclude")
        self._desk.turn = None
        self._desk.note("closed", why="no answer for an hour")
        self._desk.emit(Conclude(outcome="partial"))

    def concluded(self, event: Concluded) -> None:
        """Judging has the result: tell it."""
        if self._desk.flow.state is not State.CONCLUDING:
            return
        self._result = event.sentences
        if self._nobody_there:
            self._finish()
        elif not self.stopped_early and self._desk.progress.find_next() is not None:
            self._parts.asking.next("I did not take that as an answer.")
        else:
            self.tell()

    def tell(self) -> None:
        """Speak the result, sentence by sentence."""
        desk = self._desk
        desk.flow.move("tell")
        desk.ask("result")
        desk.say(*self._result, kind=SpeechKind.RESULT)
        if self._in_round:
            self._finish()
            return
        desk.say("Say repeat, ask about the past, or say done.")
        self.listen()

    def listen(self, *, quiet: bool = False) -> None:
        """Open the microphone after the result."""
        self._desk.listen("past", commands=vocabulary.TELLING, window_s=_WINDOW_S, quiet=quiet)

    def stop(self) -> None:
        """The person stops: what is there is judged and told; a second stop ends that too."""
        desk = self._desk
        desk.emit(Hush())
        if desk.flow.state is State.TELLING:
            self.done()
        elif desk.flow.state is not State.CONCLUDING:
            self._parts.drop_stage("stopped")
            self._parts.settling.leave_open()
            # In a round the next question says what follows.
            self.conclude("paused", "" if self._in_round else "Stopped. All is saved.")

    def done(self) -> None:
        """The result was heard."""
        self._desk.say("All is saved. Goodbye.")
        self._finish()

    def _finish(self) -> None:
        self._desk.flow.move("finish")
        self._desk.emit(Finish(outcome=self._outcome))

    def stopped(self, event: Stopped) -> None:
        """The program must end: save and fall silent."""
        desk = self._desk
        if desk.flow.state not in (State.CONCLUDING, State.TELLING):
            self._outcome = "paused"
        self._parts.drop_stage("stopped")
        self._parts.settling.leave_open()
        self._parts.settling.keep_all()
        desk.note("stopped", why=event.why)
        desk.emit(Hush())
        self._finish()
