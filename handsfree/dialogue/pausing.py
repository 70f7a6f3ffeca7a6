"""Pause and resume, asked for or because the sound is gone. Everything is saved already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.actions import Hush
from handsfree.dialogue.events import DeviceLost, DeviceRegained, Ticked
from handsfree.dialogue.patience import LEAVE_S
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Pausing"]


class Pausing:
    """Pauses and resumes."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._was: State | None = None
        self._since: tuple[str, int] | None = None
        self._for_sound = False
        """The pause is there because the sound was lost, and ends with it."""

    def pause(self, why: str) -> None:
        """Fall silent and wait."""
        desk = self._desk
        desk.emit(Hush())
        self._enter(why)
        self._for_sound = False
        desk.say("Paused. All is saved. Say resume, or stop.")
        desk.listen(commands=vocabulary.PAUSED, quiet=True)

    def _enter(self, why: str) -> None:
        desk = self._desk
        assert desk.event is not None
        self._was = desk.flow.state
        self._since = (desk.event.stream, desk.event.sample)
        self._parts.drop_stage("paused")
        desk.flow.move("pause")
        desk.note("paused", why=why)
        desk.ask("paused")

    def resume(self, before: str = "") -> None:
        """Come back to what was open; from the options simply to the question."""
        parts, desk = self._parts, self._desk
        if desk.flow.state is State.OPTIONS:
            parts.asking.reask()
            return
        desk.note("resumed")
        self._since = None
        if self._was is State.TELLING:
            desk.say(before)
            parts.closing.tell()
        elif self._was is State.ALARM:
            desk.say(before)
            parts.alarms.come_back()
        else:
            where = desk.turn.step.region.title if desk.turn else ""
            parts.asking.reask(before, f"Going on with {where}." if where else "Going on.")

    def ticked(self, event: Ticked) -> None:
        """After an hour the check is closed."""
        desk = self._desk
        assert desk.opened is not None
        if self._since is None or self._since[0] != event.stream:
            self._since = (event.stream, event.sample)
        elif (event.sample - self._since[1]) / desk.opened.rate >= LEAVE_S:
            self._parts.settling.leave_open()
            self._parts.closing.close_unfinished()

    # sound

    def device_lost(self, event: DeviceLost) -> None:
        """Pause; nothing that was stored is touched. It is said in case it can be heard."""
        desk = self._desk
        desk.note("device_lost", why=event.why)
        if desk.flow.state is State.PAUSED or not desk.flow.may("pause"):
            return
        desk.emit(Hush())
        self._enter("sound was lost")
        self._for_sound = True
        desk.say("The sound has gone. All is saved, and I wait.")
        desk.listen(commands=vocabulary.PAUSED, quiet=True)

    def device_regained(self, event: DeviceRegained) -> None:
        """Go on, unless the person had paused."""
        desk = self._desk
        desk.note("device_regained")
        if desk.flow.state is not State.PAUSED:
            return
        desk.emit(Hush())
        if self._for_sound:
            self._for_sound = False
            self.resume("Sound is back. Nothing is lost.")
        else:
            desk.say("Sound is back. Still paused: say resume, or stop.")
            desk.listen(commands=vocabulary.PAUSED, quiet=True)
