"""The parts of one exam, so that each can reach the others. No decision lives here."""

from __future__ import annotations

from handsfree.dialogue.alarms import Alarms
from handsfree.dialogue.answers import AnswerTaker
from handsfree.dialogue.asking import Asking
from handsfree.dialogue.cautions import Cautions
from handsfree.dialogue.closing import Closing
from handsfree.dialogue.counting import CountStage
from handsfree.dialogue.desk import Desk
from handsfree.dialogue.intake import Intake
from handsfree.dialogue.keying import Keying
from handsfree.dialogue.ladder import Ladder
from handsfree.dialogue.menus import Menus
from handsfree.dialogue.opening import Opening
from handsfree.dialogue.pausing import Pausing
from handsfree.dialogue.read_back import ReadBack
from handsfree.dialogue.refilling import RefillStage
from handsfree.dialogue.room import Room
from handsfree.dialogue.settling import Settling
from handsfree.dialogue.steering import Steering
from handsfree.dialogue.waiting import Waiting
from handsfree.protocol.model import Protocol

__all__ = ["Parts"]


class Parts:
    """Everything that an exam is made of.

    Attributes:
        desk: Facts of the exam and the outbox.
        opening: The first words, the plan, and whether a helper is there.
        asking: Which question is next, and putting it.
        cautions: What is said once where it is due.
        taker: Taking answers.
        read_back: Settling an answer by yes or no.
        settling: The echo, undoing, and what must not be lost.
        ladder: What happens when an answer is not understood, or refused.
        refill: The spoken stopwatch.
        count: Counts in a window.
        intake: Verdicts, by what is open.
        keying: Keys, by what is open.
        waiting: Silence and the clock.
        steering: Commands.
        menus: Options, go-to, where, what remains.
        pausing: Pause, resume, a lost device.
        alarms: What cannot wait.
        room: Too loud, spoke on, answers about the past.
        closing: The end.
    """

    def __init__(self, protocol: Protocol) -> None:
        self.desk = Desk(protocol)
        self.opening = Opening(self)
        self.asking = Asking(self)
        self.cautions = Cautions(self)
        self.taker = AnswerTaker(self)
        self.read_back = ReadBack(self)
        self.settling = Settling(self)
        self.ladder = Ladder(self)
        self.refill = RefillStage(self)
        self.count = CountStage(self)
        self.intake = Intake(self)
        self.keying = Keying(self)
        self.waiting = Waiting(self)
        self.steering = Steering(self)
        self.menus = Menus(self)
        self.pausing = Pausing(self)
        self.alarms = Alarms(self)
        self.room = Room(self)
        self.closing = Closing(self)

    def drop_stage(self, why: str) -> None:
        """Leave stopwatch or window, if one runs: what it had begun is void and stored as such."""
        self.refill.abandon(why)
        self.count.abandon(why)
