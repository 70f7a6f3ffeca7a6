"""A short talk that is no exam: asks, listens, takes keys and voice alike, always comes to an end.

Pure, as the exam machine is: one event in, actions out. Here stands what every such talk shares
(repeat, pause, stop, silence, what was not understood); what is asked stands in the modules beside
it. No audio, clock, file, database or engine is imported.
"""

from __future__ import annotations

from collections.abc import Iterable

from handsfree.dialogue.actions import (
    Action,
    Ask,
    Finish,
    Hush,
    Listen,
    SetPace,
    Speak,
    SpeechKind,
    Tone,
    ToneName,
)
from handsfree.dialogue.events import (
    Concluded,
    DeviceRegained,
    Event,
    Heard,
    Key,
    Keyed,
    Opened,
    Retracted,
    Silence,
    SpokenOut,
    Stopped,
    Ticked,
    TooLoud,
)
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Listening, Meaning, MeaningKind, Outcome, Verdict

__all__ = ["ALWAYS", "ANSWERED", "PATIENCE_S", "TRIES", "Talk"]

ALWAYS = frozenset({"help", "repeat", "back", "pause", "stop", "skip", "slower", "faster"})
"""Commands open at every question."""
ANSWERED = ALWAYS - {"skip"}
PATIENCE_S = 600.0
"""Ten minutes without a word end a talk."""
TRIES = 3
"""Times that a question is asked anew before it is left."""
_TONE_EVERY = 4
"""Silences of seven seconds from one soft tone to the next: about half a minute."""


class Talk:
    """What every talk shares. A subclass says what is asked, by overriding the methods below."""

    def __init__(self) -> None:
        self.state = State.READY
        self.opened: Opened | None = None
        self.event: Event | None = None
        self.misheard = 0
        self._out: list[Action] = []
        self._again: tuple[Action, ...] = ()
        self._spoken: tuple[str, ...] = ()
        self._silences = 0
        self._active_at: tuple[str, int] = ("", 0)
        self._said_loud = False
        self._paused_doubt: Meaning | None = None

    # what a talk fills in

    def begin(self) -> None:
        """Say the first words and ask."""
        raise TypeError(f"{type(self).__name__} does not say how it begins")

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take an answer; ``verdict`` is None for one given by keys."""

    def typed(self, text: str, *, number: bool) -> bool:
        """Take a typed line; ``number`` says that it picks a choice. Return whether it fits."""
        return False

    def yes(self) -> bool:
        """Take the one key that says yes. Return whether it means anything here."""
        return False

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """Take an answer that may have been heard wrongly; asked again unless overridden."""
        self.not_understood()

    def back(self) -> None:
        """Undo and ask again."""
        self.repeat()

    def skip(self) -> None:
        """Leave the question."""
        self.repeat()

    def help(self) -> str:
        """Return the help for what is open."""
        return "Say repeat to hear it again, or stop to end."

    def choices(self) -> str:
        """Return what can be said, in one sentence; empty if it is all said."""
        return ""

    def left(self) -> None:
        """Leave a question that was not understood to the last."""
        self.skip()

    def may_speak(self) -> bool:
        """Return whether a notice may sound now: not inside a measurement."""
        return True

    def ticked(self, event: Ticked) -> None:
        """The clock moved on."""

    def spoken_out(self, event: SpokenOut) -> None:
        """All has been spoken."""

    def concluded(self, event: Concluded) -> None:
        """Judging has the result."""

    def resumed(self) -> None:
        """The talk goes on after a pause."""
        self.repeat()

    def other(self, event: Event) -> None:
        """Any event of a talk's own."""

    def command(self, token: str) -> bool:
        """Obey a command of the talk's own; return whether there is such a one."""
        return False

    def ending(self, why: str) -> tuple[str, ...]:
        """Return what is said where the talk ends before its end."""
        return ("I stop here. Nothing was stored.",)

    # the machine

    def step(self, event: Event) -> tuple[Action, ...]:
        """Take one event and return what is to be done, in order; nothing once it is over."""
        if self.state is State.FINISHED:
            return ()
        self.event, self._out = event, []
        if isinstance(event, Opened):
            self.opened = event
            self.state = State.ASKING
            self._active(event)
            self.begin()
        elif self.opened is None:
            msg = f"the talk is not opened yet and cannot take {type(event).__name__}"
            raise RuntimeError(msg)
        else:
            self._take(event)
        out, self._out = tuple(self._out), []
        return out

    def _take(self, event: Event) -> None:
        match event:
            case Heard(verdict=verdict):
                self._heard(verdict)
            case Keyed():
                self._active(event)
                self._keyed(event)
            case Silence():
                self._silence()
            case Ticked():
                if not self._given_up(event):
                    self.ticked(event)
            case SpokenOut():
                self.spoken_out(event)
            case Concluded():
                self.concluded(event)
            case Retracted():
                if self.state is not State.PAUSED:
                    self.emit(Hush())
                    self.back()
            case DeviceRegained():
                self._active(event)
                self.say("Sound is back.")
                self.resumed()
            case TooLoud(loud=True):
                if not self._said_loud and self.may_speak():
                    self._said_loud = True
                    self.say("It is too loud to hear you safely. Use keys or a headset, or wait.")
                    self.listen_again()
            case Stopped():
                self.over("partial")
            case _:
                self.other(event)

    def _active(self, event: Event) -> None:
        self._active_at = (event.stream, event.sample)
        self._silences = 0

    def _given_up(self, event: Ticked) -> bool:
        stream, since = self._active_at
        if stream != event.stream:
            self._active(event)
            return False
        if self.seconds(since, event.sample) < PATIENCE_S:
            return False
        self.say("I heard nothing for ten minutes.", *self.ending("silence"))
        self.over("partial")
        return True

    def _heard(self, verdict: Verdict) -> None:
        if verdict.outcome is Outcome.IGNORE or self.event is None:
            return
        self._active(self.event)
        best = verdict.best
        sure = verdict.outcome is Outcome.ACCEPT
        if self.state is State.PAUSED:
            self._heard_paused(None if best is None else best.meaning, sure=sure)
        elif best is None:
            self.not_understood()
        elif best.meaning.kind is MeaningKind.COMMAND:
            token = str(best.meaning.value)
            if sure or token in {"pause", "repeat", "help"}:
                self._command(token)
            elif token == "stop":
                self._command("pause")  # in doubt it falls silent
            else:
                self.not_understood()
        elif sure:
            self.answered(best.meaning, verdict)
        else:
            self.doubted(best.meaning, verdict)

    def _heard_paused(self, meaning: Meaning | None, *, sure: bool) -> None:
        """Resume, or stop; the same doubtful word twice counts, and nothing else ends a pause."""
        same, self._paused_doubt = meaning is not None and meaning == self._paused_doubt, meaning
        if meaning is not None and (sure or same):
            self._paused_doubt = None
            self._command(str(meaning.value))
        else:
            self.emit(Tone(name=ToneName.NOT_HEARD))
            self._say_paused("Say resume, or stop.")

    def _keyed(self, event: Keyed) -> None:
        if event.key is Key.COMMAND:
            self._command(event.text)
            return
        if self.state is State.PAUSED:
            self._command("resume")
            return
        if event.key is Key.AGAIN:
            self.repeat()
            return
        fits = (
            self.yes()
            if event.key is Key.YES
            else self.typed(event.text, number=event.key is Key.NUMBER)
        )
        if not fits:
            self.say("That has no meaning here.", self.choices())
            self.listen_again()

    def _command(self, token: str) -> None:
        if self.state is State.PAUSED:
            if token == "resume":
                self.state = State.ASKING
                self.resumed()
            elif token == "stop":
                self._stop()
            return
        if self.command(token):
            return
        match token:
            case "help":
                self.say(self.help(), kind=SpeechKind.HELP)
                self.listen_again()
            case "repeat":
                self.repeat()
            case "back":
                self.back()
            case "skip" | "dont_know" | "cant_see" | "wont_let":
                self.skip()
            case "pause":
                self._pause()
            case "stop":
                self._stop()
            case "slower" | "faster":
                self.emit(SetPace(step=1 if token == "faster" else -1))
                self.repeat()
            case _:
                self.say("That cannot be said here.", self.choices())
                self.listen_again()

    def _pause(self) -> None:
        self.state = State.PAUSED
        self.emit(Hush())
        self.emit(Ask(item=None, stage="paused"))
        self._paused_doubt = None
        self._say_paused("Paused. Say resume, or stop.")

    def _say_paused(self, text: str) -> None:
        self.say(text)
        self._open((), frozenset({"resume", "stop"}), timed=False, quiet=True)

    def _stop(self) -> None:
        self.emit(Hush())
        self.say(*self.ending("stopped"))
        self.over("partial")

    def _silence(self) -> None:
        if self.state is State.PAUSED:
            return
        self._silences += 1
        if self._silences == 1:
            self.repeat()
        elif self._silences == 2:
            self.say("I wait for you.")
            self.listen_again()
        elif self._silences % _TONE_EVERY == 0:
            self.emit(Tone(name=ToneName.WAITING))

    # what a talk does

    def emit(self, action: Action) -> None:
        """Add one action."""
        self._out.append(action)

    def say(self, *sentences: str, kind: SpeechKind = SpeechKind.NOTICE) -> None:
        """Speak; empty sentences are left out."""
        spoken = tuple(s for s in sentences if s.strip())
        if spoken:
            self.emit(Speak(sentences=spoken, kind=kind))

    def put(
        self,
        stage: str,
        *sentences: str,
        grammars: Iterable[str] = (),
        commands: frozenset[str] = ALWAYS,
        choices: tuple[tuple[str, str], ...] = (),
        before: tuple[str, ...] = (),
        timed: bool = False,
        quiet: bool = False,
        read_back: str | float | None = None,
        item: str | None = None,
        region: str = "",
    ) -> None:
        """Ask: say what is asked, and listen for it.

        Args:
            stage: What kind of answer is waited for, for keys and screens.
            sentences: The question; repeated on demand.
            grammars: Answer grammars.
            commands: Commands that are open.
            choices: Value and spoken choice, in the order of the numbered keys.
            before: Said first and not repeated.
            timed: Word onsets are measured.
            quiet: No tone before listening.
            read_back: What is read back, at ``confirm``.
            item: The item that it is about, if it is one of a check.
            region: What it belongs to, as a title.
        """
        ask = Ask(item=item, stage=stage, choices=choices, read_back=read_back, region=region)
        self._spoken = tuple(s for s in sentences if s.strip())
        self.emit(ask)
        self.say(*before, kind=SpeechKind.ECHO)
        self.say(*self._spoken, kind=SpeechKind.PROMPT)
        start = len(self._out)
        self._open(tuple(grammars), commands, timed=timed, quiet=quiet, item=item)
        self._again = (ask, *self._out[start:])

    def _open(
        self,
        grammars: tuple[str, ...],
        commands: frozenset[str],
        *,
        timed: bool,
        quiet: bool,
        item: str | None = None,
    ) -> None:
        if not quiet:
            self.emit(Tone(name=ToneName.LISTENING))
        listening = Listening(grammars=grammars, commands=commands, timed=timed, item=item)
        self.emit(Listen(listening=listening))

    def listen_again(self) -> None:
        """Listen for what was asked before, without asking anew."""
        for action in self._again:
            self.emit(action)

    def repeat(self) -> None:
        """Ask once more in the same words."""
        self.say(*self._spoken, kind=SpeechKind.PROMPT)
        self.listen_again()

    def not_understood(self, why: str = "") -> None:
        """Ask anew, then with the choices, then leave the question."""
        self.misheard += 1
        self.emit(Tone(name=ToneName.NOT_HEARD))
        if self.misheard > TRIES:
            self.misheard = 0
            self.left()
            return
        self.say(why, self.choices() if self.misheard > 1 else "")
        self.repeat()

    def over(self, outcome: str) -> None:
        """End the talk: ``complete`` or ``partial``."""
        self.state = State.FINISHED
        self.emit(Finish(outcome=outcome))

    def seconds(self, start: int, end: int) -> float:
        """Return the seconds between two samples of the clock."""
        assert self.opened is not None
        return (end - start) / self.opened.rate
