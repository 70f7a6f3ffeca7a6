"""The exam machine: takes one event, returns the actions it leads to.

Pure: no audio, clock, file, database or engine is imported here, so an exam replays from its log.

How one question goes. ``_next`` finds the step that is due, says the echo of the last answer, the
region's words and the prompt, and listens. Hearing's verdict comes back: a normal answer is
recorded and echoed inside the next prompt; an unusual one, and every number, is recorded as
unconfirmed, read back, and settled by yes (or by silence where that does no harm). What was not
understood climbs a ladder of four rungs (other words, the choices, keys, leave it); a doubted
alarming answer that is never settled stays as possible. An ignored sound never gets here as
anything but a verdict that changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import (
    Action,
    Conclude,
    Finish,
    Hush,
    SetPace,
    SpeechKind,
    Status,
    ToneName,
)
from handsfree.dialogue.answers import AnswerTaker
from handsfree.dialogue.counting import CountStage
from handsfree.dialogue.desk import Desk, Turn
from handsfree.dialogue.events import (
    Alarmed,
    Concluded,
    DeviceLost,
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
    Told,
    TooLoud,
)
from handsfree.dialogue.patience import LEAVE_S, Wait
from handsfree.dialogue.progress import Progress
from handsfree.dialogue.refilling import RefillStage
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, MeaningKind, Outcome, Verdict
from handsfree.protocol.model import Kind, Protocol
from handsfree.protocol.plan import plan, spoken
from handsfree.protocol.subject import Sight

__all__ = ["Exam"]


class Exam:
    """One exam of one dog. ``step`` is the whole interface."""

    def __init__(self, protocol: Protocol) -> None:
        self._desk = Desk(protocol)
        self._taker = AnswerTaker(self._desk, self._next, self._forget_alarms)
        self._refill = RefillStage(self._desk, self._taker, self._next)
        self._count = CountStage(self._desk, self._taker)
        self._region = ""
        self._cautioned: set[str] = set()
        self._alarms: list[Alarmed] = []
        self._raised: set[str] = set()
        self._alarm: Alarmed | None = None
        self._paused_in: State | None = None
        self._paused_since: tuple[str, int] | None = None
        self._result: tuple[str, ...] = ()
        self._outcome = "complete"
        self._said_loud = False
        self._asked_light = False
        self._handlers: dict[type[Event], Callable[..., None]] = {
            Opened: self._opened,
            Heard: self._heard,
            Silence: self._silence,
            SpokenOut: self._spoken_out,
            Ticked: self._ticked,
            Keyed: self._keyed,
            TooLoud: self._too_loud,
            Retracted: self._retracted,
            Alarmed: self._alarmed,
            Concluded: self._concluded,
            Told: self._told,
            DeviceLost: self._device_lost,
            DeviceRegained: self._device_regained,
            Stopped: self._stopped,
        }
        self._commands: dict[str, Callable[[], None]] = {
            "help": self._help,
            "repeat": self._repeat,
            "back": self._back,
            "pause": lambda: self._pause("asked"),
            "resume": self._resume,
            "stop": self._stop,
            "options": self._options,
            "slower": lambda: self._pace(-1),
            "faster": lambda: self._pace(+1),
            "where": self._where,
            "goto": self._goto,
            "remaining": self._remaining,
            "scrap": self._scrap,
            "go_on": self._go_on,
            "told": self._told_someone,
            "done": self._done,
            **{word: self._refuser(reason) for word, reason in vocabulary.REFUSALS.items()},
        }

    @property
    def state(self) -> State:
        """What the machine waits for."""
        return self._desk.flow.state

    def step(self, event: Event) -> tuple[Action, ...]:
        """Take one event and return what is to be done, in order.

        Raises:
            RuntimeError: The event cannot come here (an answer before the exam is opened).
        """
        if self.state is State.FINISHED:
            return ()
        if self.state is State.READY and not isinstance(event, Opened):
            msg = f"the exam is not opened yet and cannot take {type(event).__name__}"
            raise RuntimeError(msg)
        self._desk.begin(event)
        self._handlers[type(event)](event)
        return self._desk.take()

    # opening

    def _opened(self, event: Opened) -> None:
        if self.state is not State.READY:
            msg = "the exam is opened already"
            raise RuntimeError(msg)
        desk = self._desk
        desk.opened = event
        self._plan(helper=event.helper)
        steps = desk.progress.steps
        routine = desk.protocol.routines[event.routine]
        if event.prior:
            index = desk.progress.find_next()
            where = steps[index].region.title if index is not None else "the end"
            self._next("Welcome back.", f"We go on with {where}.")
            return
        title = routine.title[:1].upper() + routine.title[1:]
        opening = [f"{title} for {event.subject.name}."]
        if not event.brief:
            opening.append("This does not replace a vet.")
            opening.append("Say help, pause or stop at any time.")
        if event.asked_now:
            opening.append(event.asked_now)
        if event.sight is not Sight.FULL and not event.helper:
            self._ask_helper(*opening)
        else:
            self._next(*opening)

    def _plan(self, *, helper: bool) -> None:
        desk = self._desk
        opened = desk.opened
        assert opened is not None
        desk.helped = helper or opened.sight is Sight.FULL
        steps = plan(desk.protocol, opened.routine, opened.subject, opened.sight, desk.helped)
        carried = set(opened.carried) - {step.item for step in steps}
        if carried:
            full = plan(desk.protocol, "full", opened.subject, opened.sight, desk.helped)
            steps = (*(s for s in full if s.item in carried and not s.question.when), *steps)
        desk.progress = Progress(steps=steps)
        desk.progress.restore(opened.prior)

    def _ask_helper(self, *before: str) -> None:
        desk = self._desk
        desk.flow.move("ask_helper")
        desk.turn = None
        desk.ask("helper")
        desk.say(*before, "Is a sighted person with you?", kind=SpeechKind.PROMPT)
        desk.listen("yes_no", commands=frozenset({"repeat", "pause", "stop"}))

    # going on

    def _next(self, *before: str) -> None:
        """Find what is due and ask it; settle what was echoed; conclude when nothing is left."""
        desk, progress = self._desk, self._desk.progress
        if self._alarms:
            self._raise_alarm(self._alarms.pop(0))
            return
        while (index := progress.find_next()) is not None:
            progress.index = index
            step = progress.step
            if not step.applicable:
                if step.why_not == "not_in_routine":
                    progress.pass_over(step)
                    continue
                desk.record_missing(step, Status.NOT_APPLICABLE, step.why_not, by="machine")
            elif self._out_of_sight():
                desk.record_missing(step, Status.NOT_OBSERVED, "cannot_see", by="machine")
            else:
                self._open_turn(*before)
                return
        self._conclude("complete", *before)

    def _out_of_sight(self) -> bool:
        step = self._desk.progress.step
        # The refill is judged by eye to a fraction of a second: low sight alone cannot.
        return step.cannot_see or (step.question.kind is Kind.REFILL and not self._desk.helped)

    def _open_turn(self, *before: str) -> None:
        desk = self._desk
        step = desk.progress.step
        doubted = self._taker.doubted_at((step.item, step.side))
        desk.turn = Turn(step=step, doubted=doubted)
        desk.turn.by_touch = step.by_touch
        desk.patience.reset()
        if before:
            desk.say(*before, kind=SpeechKind.NOTICE)
        self._enter_region()
        self._ask()

    def _enter_region(self) -> None:
        desk = self._desk
        assert desk.turn is not None
        assert desk.opened is not None
        step = desk.turn.step
        if step.region.id != self._region:
            self._region = step.region.id
            if step.region.intro and not desk.opened.brief:
                desk.say(spoken(step.region.intro, step), kind=SpeechKind.NOTICE)
        for key in (step.region.caution, step.question.caution):
            if key and key not in self._cautioned:
                self._cautioned.add(key)
                desk.say(desk.protocol.cautions[key].say, kind=SpeechKind.CAUTION)
        if step.question.daylight and not self._asked_light and not desk.turn.by_touch:
            self._asked_light = True
            desk.say("Use daylight or a white light.", kind=SpeechKind.NOTICE)

    def _ask(self) -> None:
        """Ask the open question for the first time."""
        desk = self._desk
        assert desk.turn is not None
        kind = desk.turn.step.question.kind
        if kind is Kind.REFILL:
            self._refill.begin()
        elif kind is Kind.COUNT:
            self._count.begin()
        else:
            self._put(phrases.prompt(desk.turn.step, by_touch=desk.turn.by_touch))

    def _put(self, text: str) -> None:
        """Ask the open question in the given words and listen."""
        desk = self._desk
        assert desk.turn is not None
        desk.flow.move("ask")
        desk.ask("question")
        desk.say(*self._taker.take_echo(), text, kind=SpeechKind.PROMPT)
        self._taker.listen()

    def _reask(self, *before: str) -> None:
        """Come back to what was open: the read-back, the stage, or the question."""
        desk = self._desk
        if desk.turn is None:
            self._next(*before)
            return
        if self._alarms and desk.turn.pending is None:
            self._raise_alarm(self._alarms.pop(0))
            return
        desk.say(*before)
        desk.patience.reset()
        if desk.turn.pending is not None:
            self._taker.read_back_again()
        else:
            self._ask()

    # what is heard

    def _heard(self, event: Heard) -> None:
        verdict = event.verdict
        if verdict.outcome is Outcome.IGNORE:
            return
        self._desk.patience.reset()
        if verdict.outcome is Outcome.ASK_BACK:
            self._doubtful(verdict)
            return
        best = verdict.candidates[0]
        if best.meaning.kind is MeaningKind.COMMAND:
            self._taker.heard_command(verdict)
            self._command(str(best.meaning.value))
            return
        self._answered(best.meaning, best.words, verdict)

    def _answered(self, meaning: Meaning, words: str, verdict: Verdict | None) -> None:
        state, desk = self.state, self._desk
        if state is State.HELPER:
            helped = meaning.value == "yes"
            desk.note("helper", there=str(meaning.value))
            self._plan(helper=helped)
            self._next("I ask for what can be felt, and leave out the rest." if not helped else "")
        elif state is State.GOTO:
            self._go_to(str(meaning.value))
        elif state is State.CONFIRMING:
            self._taker.confirm_heard(meaning, words, verdict)
        elif state in (State.PRESSING, State.HOLDING, State.TIMING, State.RESTING):
            assert verdict is not None
            self._refill.heard(meaning, verdict)
        elif state is State.COUNT_READY:
            assert verdict is not None
            self._count.started(verdict.start)
        elif state is State.ASKING:
            self._taker.take_meaning(meaning, words, verdict)

    def _doubtful(self, verdict: Verdict) -> None:
        best = verdict.best
        if best is not None and best.meaning.kind is MeaningKind.COMMAND:
            obeyed = vocabulary.OBEYED_WHEN_DOUBTFUL.get(str(best.meaning.value))
            if obeyed is not None:
                self._command(obeyed)
                return
            best = None
        if self.state is State.ASKING:
            self._taker.take_doubtful(best, verdict)
        elif self.state is State.CONFIRMING:
            self._taker.confirm_doubtful(best)
        elif self.state in (State.TIMING, State.PRESSING):
            self._refill.doubtful(verdict)
        elif self.state is State.HELPER:
            self._ask_helper("Yes or no?")
        elif self.state is State.GOTO:
            self._goto()
        elif self.state in (State.OPTIONS, State.COUNT_READY):
            self._repeat()

    def _keyed(self, event: Keyed) -> None:
        desk = self._desk
        desk.patience.reset()
        if event.key is Key.COMMAND:
            self._command(event.text)
        elif event.key is Key.AGAIN:
            if self.state is State.CONFIRMING:
                self._taker.confirm_heard(_answer("no"), "", None)
            else:
                self._command("repeat")
        elif event.key is Key.YES:
            self._yes_key(event)
        elif self.state is State.CONFIRMING:
            yes = event.text.strip().lower() in ("1", "yes", "y")
            no = event.text.strip().lower() in ("2", "no", "n")
            if yes or no:
                self._taker.confirm_heard(_answer("yes" if yes else "no"), "", None)
            else:
                self._taker.take_typed(event)
        elif self.state is State.HELPER:
            self._answered(_answer("yes" if event.text in ("1", "yes") else "no"), "", None)
        elif self.state is State.GOTO:
            self._go_to(event.text)
        elif self.state is State.ASKING:
            self._taker.take_typed(event)
        elif self.state is State.COUNT_READY:
            self._count.started(event.sample)

    def _yes_key(self, event: Keyed) -> None:
        if self.state is State.CONFIRMING:
            self._taker.confirm_heard(_answer("yes"), "", None)
        elif self.state in (State.PRESSING, State.TIMING):
            self._refill.key(event)
        elif self.state is State.COUNT_READY:
            self._count.started(event.sample)
        elif self.state is State.PAUSED:
            self._command("resume")
        elif self.state is State.TELLING:
            self._command("done")
        elif self.state is State.HELPER:
            self._answered(_answer("yes"), "", None)
        elif self.state is State.ASKING and not self._taker.yes_key(event):
            self._taker.by_key()

    # silence and time

    def _silence(self, event: Silence) -> None:
        if self.state is State.CONFIRMING and self._taker.silence_confirms():
            return
        if self.state is State.TELLING:
            self._done()
            return
        if self.state in (State.PAUSED, State.COUNTING, State.HOLDING, State.CONCLUDING):
            return
        if self.state is State.TIMING:
            self._refill.silent()
            return
        wait = self._desk.patience.silence(event)
        if wait is Wait.REPEAT:
            if self.state is State.CONFIRMING:
                self._taker.read_back_again()
            else:
                self._repeat()
        elif wait is Wait.SAY_WAITING:
            self._desk.say("I am waiting. Answer when you are ready.")
            self._listen_again()
        else:
            self._listen_again(quiet=True)

    def _ticked(self, event: Ticked) -> None:
        desk = self._desk
        assert desk.opened is not None
        rate = desk.opened.rate
        if self.state is State.PAUSED:
            since = self._paused_since
            if since and since[0] == event.stream and (event.sample - since[1]) / rate >= LEAVE_S:
                desk.flow.move("finish")
                desk.emit(Finish(outcome="paused"))
            return
        if self.state is State.COUNTING:
            self._count.ticked(event)
            return
        if self.state is State.RESTING:
            self._refill.ticked(event)
            return
        wait = desk.patience.tick(event, rate)
        if wait is Wait.TONE:
            desk.tone(ToneName.WAITING)
        elif wait is Wait.PAUSE:
            desk.patience.reset()
            if self.state in (State.ALARM, State.TELLING):
                desk.note("left", why="no answer for ten minutes")
                self._finish()
            else:
                self._pause("no answer for ten minutes")

    def _spoken_out(self, event: SpokenOut) -> None:
        if self.state is State.HOLDING:
            self._refill.held(event)
        elif self.state is State.COUNTING:
            self._count.spoken_out(event)

    # commands

    def _command(self, word: str) -> None:
        if word not in self._open_commands():
            return
        self._commands[word]()

    def _open_commands(self) -> frozenset[str]:
        state = self.state
        if state is State.PAUSED:
            return vocabulary.PAUSED
        if state is State.OPTIONS:
            return vocabulary.MENU
        if state is State.GOTO:
            return vocabulary.GOTO
        if state is State.ALARM:
            return vocabulary.ALARM
        if state is State.TELLING:
            return vocabulary.TELLING
        if state is State.CONFIRMING:
            return vocabulary.CONFIRM
        if state in (State.PRESSING, State.HOLDING, State.TIMING, State.RESTING):
            return vocabulary.TIMED | {"repeat"}
        if state is State.HELPER:
            return frozenset({"repeat", "pause", "stop"})
        if state in (State.CONCLUDING, State.READY):
            return frozenset({"stop"})
        return vocabulary.QUESTION | vocabulary.MENU - {"resume"}

    def _help(self) -> None:
        desk, turn = self._desk, self._desk.turn
        if turn is None:
            self._repeat()
            return
        if self.state is State.CONFIRMING:
            desk.say("Say yes if I have it right, or no to answer again.", kind=SpeechKind.HELP)
            self._taker.read_back_again()
            return
        desk.say(phrases.help_for(turn.step, by_touch=turn.by_touch), kind=SpeechKind.HELP)
        if self.state is State.ASKING:
            self._taker.listen()
        else:
            self._ask()

    def _repeat(self) -> None:
        state, desk = self.state, self._desk
        if state is State.ALARM:
            self._say_alarm()
        elif state is State.TELLING:
            self._tell()
        elif state is State.HELPER:
            self._ask_helper()
        elif state is State.OPTIONS:
            self._options()
        elif state is State.GOTO:
            self._goto()
        elif state is State.CONFIRMING:
            self._taker.read_back_again()
        elif state is State.ASKING and desk.turn is not None and self._count.is_number_open():
            self._count.ask_number()
        elif desk.turn is not None:
            self._ask()

    def _listen_again(self, *, quiet: bool = False) -> None:
        """Open the microphone again without a word."""
        state, desk = self.state, self._desk
        if state is State.ASKING:
            self._taker.listen(quiet=quiet)
        elif state is State.CONFIRMING:
            self._taker.listen_confirm(quiet=quiet)
        elif state is State.PRESSING:
            self._refill.listen_press(quiet=quiet)
        elif state is State.COUNT_READY:
            self._count.listen_ready(quiet=quiet)
        elif state is State.GOTO:
            desk.listen("region", commands=vocabulary.GOTO, quiet=quiet)
        elif state is State.HELPER:
            desk.listen("yes_no", commands=frozenset({"repeat", "pause", "stop"}), quiet=quiet)
        else:
            desk.listen(commands=self._open_commands(), quiet=quiet)

    def _back(self) -> None:
        desk = self._desk
        if self.state is State.GOTO:
            self._reask("Back.")
            return
        if desk.turn is not None and desk.turn.pending is not None:
            self._taker.confirm_heard(_answer("no"), "", None)
            return
        place = desk.progress.previous()
        if place is None:
            self._reask("This is the first question.")
            return
        self._taker.undo(place, "undone")
        desk.progress.reopen(place)
        self._next("Back.")

    def _refuser(self, reason: str) -> Callable[[], None]:
        return lambda: self._refuse(reason)

    def _refuse(self, reason: str) -> None:
        turn = self._desk.turn
        if turn is None:
            return
        touchable = turn.step.question.touch_prompt is not None
        if reason == "cannot_see" and touchable and not turn.by_touch:
            turn.by_touch = True
            self._put(phrases.prompt(turn.step, by_touch=True))
            return
        self._taker.refuse(reason)

    def _pause(self, why: str) -> None:
        desk = self._desk
        self._paused_in = self.state
        assert desk.event is not None
        self._paused_since = (desk.event.stream, desk.event.sample)
        desk.flow.move("pause")
        self._refill.abandon("paused")
        self._count.abandon()
        desk.note("paused", why=why)
        desk.emit(Hush())
        turn = desk.turn
        desk.ask("paused")
        desk.say("Paused. All is saved. Say resume, or stop.")
        desk.turn = turn
        desk.listen(commands=vocabulary.PAUSED, quiet=True)

    def _resume(self) -> None:
        desk = self._desk
        if self.state is State.OPTIONS:
            self._reask()
            return
        was = self._paused_in
        desk.note("resumed")
        self._paused_since = None
        if was is State.TELLING:
            desk.flow.move("tell")
            self._tell()
        elif was is State.ALARM and self._alarm is not None:
            desk.flow.move("alarm")
            self._say_alarm()
        elif was is State.HELPER:
            self._ask_helper("Going on.")
        else:
            where = desk.turn.step.region.title if desk.turn else ""
            self._reask(f"Going on with {where}." if where else "Going on.")

    def _stop(self) -> None:
        desk = self._desk
        desk.emit(Hush())
        if self.state is State.TELLING:
            self._done()
            return
        if self.state is State.CONCLUDING:
            return
        self._taker.leave_open()
        self._conclude("paused", "Stopped. All is saved.")

    def _options(self) -> None:
        desk = self._desk
        if self.state is not State.OPTIONS:
            self._refill.abandon("left for the options")
            self._count.abandon()
            desk.flow.move("options")
        desk.ask("options")
        desk.say(
            "Slower, faster, where am I, go to, what is open, or resume.", kind=SpeechKind.PROMPT
        )
        desk.listen(commands=vocabulary.MENU)

    def _pace(self, step: int) -> None:
        self._desk.emit(SetPace(step=step))
        self._reask("Faster." if step > 0 else "Slower.")

    def _where(self) -> None:
        desk = self._desk
        assert desk.turn is not None
        left = len(desk.progress.regions_left())
        parts = "part" if left == 1 else "parts"
        self._reask(f"You are at {desk.turn.step.region.title}.", f"{left} {parts} to go.")

    def _remaining(self) -> None:
        titles = self._desk.progress.regions_left()
        self._reask(f"Still open: {phrases.list_of(titles, 'and')}.")

    def _goto(self) -> None:
        desk = self._desk
        desk.flow.move("goto")
        desk.ask("goto")
        desk.say("Which part? For instance: the ears.", kind=SpeechKind.PROMPT)
        desk.listen("region", commands=vocabulary.GOTO)

    def _go_to(self, region: str) -> None:
        desk = self._desk
        if not desk.progress.go_to_region(region):
            desk.say("That is not part of this check.")
            self._reask()
            return
        self._taker.leave_open()
        self._region = ""
        title = desk.protocol.regions[region].title
        self._next(f"Going to {title}.")

    def _scrap(self) -> None:
        self._refill.scrap()

    # alarms

    def _alarmed(self, event: Alarmed) -> None:
        if event.level != "now" or event.rule in self._raised:
            return
        self._raised.add(event.rule)
        pending = self._desk.turn.pending if self._desk.turn else None
        if self.state in (State.CONCLUDING, State.TELLING):
            return
        if self.state in (State.PAUSED, State.ALARM) or pending is not None:
            # First yes or no to what was heard: an alarm for a misheard word helps nobody.
            self._alarms.append(event)
            return
        self._raise_alarm(event)

    def _forget_alarms(self) -> None:
        """An answer is corrected: what it would have raised may be raised anew, if it still is."""
        self._raised -= {alarm.rule for alarm in self._alarms}
        self._alarms.clear()

    def _raise_alarm(self, event: Alarmed) -> None:
        desk = self._desk
        desk.emit(Hush())
        self._refill.abandon("interrupted")
        self._count.abandon()
        desk.flow.move("alarm")
        self._alarm = event
        desk.patience.reset()
        desk.note("alarm", rule=event.rule, level=event.level)
        self._say_alarm()

    def _say_alarm(self) -> None:
        desk, alarm = self._desk, self._alarm
        assert alarm is not None
        assert desk.opened is not None
        number = desk.opened.vet_number
        call = f"Call the vet now: {number}." if number else "Call a vet or emergency clinic now."
        desk.ask("alarm")
        desk.say(alarm.say, call, alarm.avoid, kind=SpeechKind.ALARM)
        desk.say("I wait. To carry on with the check, say go on.")
        desk.listen(commands=vocabulary.ALARM, quiet=True)

    def _go_on(self) -> None:
        self._desk.note("went_on", rule=self._alarm.rule if self._alarm else "")
        if self._alarms:
            self._raise_alarm(self._alarms.pop(0))
            return
        turn = self._desk.turn
        if turn is not None and self._desk.progress.is_open(turn.step):
            self._reask("Going on.")
        else:
            self._next("Going on.")

    def _told_someone(self) -> None:
        desk = self._desk
        desk.note("told", whom="vet", rule=self._alarm.rule if self._alarm else "")
        desk.say("Noted. Do as they say.")
        desk.listen(commands=vocabulary.ALARM, quiet=True)

    # the end

    def _conclude(self, outcome: str, *before: str) -> None:
        desk = self._desk
        self._taker.settle_echo()
        self._outcome = outcome
        desk.flow.move("conclude")
        desk.turn = None
        echo = self._taker.take_echo()
        desk.say(*echo, *before)
        if outcome == "complete":
            desk.say("The check is complete.")
        desk.emit(Conclude(outcome=outcome))

    def _concluded(self, event: Concluded) -> None:
        if self.state is not State.CONCLUDING:
            return
        self._result = event.sentences
        self._desk.flow.move("tell")
        self._tell()

    def _tell(self) -> None:
        desk = self._desk
        desk.ask("result")
        desk.say(*self._result, kind=SpeechKind.RESULT)
        desk.say("Say repeat to hear it again, or done.")
        desk.listen(commands=vocabulary.TELLING, window_s=6.0)

    def _done(self) -> None:
        self._finish()

    def _finish(self) -> None:
        self._desk.flow.move("finish")
        self._desk.emit(Finish(outcome=self._outcome))

    # the room

    def _too_loud(self, event: TooLoud) -> None:
        desk = self._desk
        desk.note("too_loud" if event.loud else "quiet_again")
        if not event.loud or self._said_loud or self.state is State.PAUSED:
            return
        self._said_loud = True
        desk.say("It is too loud to hear you safely. Use keys or a headset, or wait.")
        self._listen_again(quiet=True)

    def _retracted(self, event: Retracted) -> None:
        place = self._taker.retractable(event.start)
        if place is None:
            return
        desk = self._desk
        desk.emit(Hush())
        desk.note("retracted", item=place[0], side=place[1] or "")
        self._taker.undo(place, "retracted")
        desk.progress.reopen(place)
        desk.turn = None
        self._next("I did not take that as an answer.")

    def _told(self, event: Told) -> None:
        self._desk.say(event.text)
        if self.state is State.TELLING:
            self._desk.listen(commands=vocabulary.TELLING, window_s=6.0)
        elif self.state is not State.PAUSED:
            self._listen_again()

    def _device_lost(self, event: DeviceLost) -> None:
        desk = self._desk
        desk.note("device_lost", why=event.why)
        if self.state is State.PAUSED:
            return
        self._paused_in = self.state
        self._refill.abandon("sound was lost")
        self._count.abandon()
        if desk.flow.may("pause"):
            desk.flow.move("pause")
        self._paused_since = (event.stream, event.sample)

    def _device_regained(self, event: DeviceRegained) -> None:
        desk = self._desk
        desk.note("device_regained")
        if self.state is not State.PAUSED:
            return
        desk.say("Sound is back.")
        self._resume()

    def _stopped(self, event: Stopped) -> None:
        desk = self._desk
        self._taker.leave_open()
        desk.note("stopped", why=event.why)
        desk.emit(Hush())
        desk.flow.move("finish")
        desk.emit(Finish(outcome="paused"))


def _answer(value: str) -> Meaning:
    return Meaning(kind=MeaningKind.ANSWER, value=value)
