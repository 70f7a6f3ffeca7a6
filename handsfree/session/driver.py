"""The live driver: one loop that joins microphone, hearing, machine, records and voice.

Blocks from the stream are the only clock. Live hardware, a WAV file and the rehearsal's virtual
room differ only in the duplex stream, the hearing and the keys that this is given. Keys come from a
thread of their own by a queue; speech is rendered by a worker with a watchdog; all else happens
here, in one thread, block by block.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Sequence

from handsfree.audio.device import SAMPLE_RATE, Block, Duplex, Samples
from handsfree.dialogue.actions import Listen, Speak, SpeechKind, Tick, Tone
from handsfree.dialogue.events import (
    DeviceLost,
    DeviceRegained,
    Event,
    Heard,
    Keyed,
    Opened,
    Retracted,
    Silence,
    SpokenOut,
    Stopped,
    Ticked,
    TooLoud,
)
from handsfree.errors import DeviceError, EngineError
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import (
    DeadMicrophone,
    Judged,
    Report,
    SpeechStarted,
    SpokeOn,
    TooLoudNow,
)
from handsfree.hearing.segment import level_dbfs
from handsfree.hearing.verdict import Listening, Outcome, Verdict
from handsfree.interview.fading import Fade, Faded
from handsfree.session.keys import Typed, keyed
from handsfree.session.runner import Driven
from handsfree.session.speech import TAIL_S, SpeechQueue

__all__ = ["Driver", "Figures"]

TICK_S = 0.25
DUCK_DB = -12.0
"""How much our own voice steps back when somebody begins to speak over it."""
REOPEN_EVERY_S = 2.0
_ZEROS = (
    "The microphone gives only silence. Check that it is switched on; on macOS allow this terminal "
    "to use it under Privacy and Security, Microphone."
)
_LONG = {SpeechKind.HELP, SpeechKind.RESULT, SpeechKind.ALARM}


class Figures:
    """What a run measured of itself.

    Attributes:
        reply_gaps_s: From the last sample of each answer to the first sample of the reply,
            computing time included.
        spoken_s: Seconds of our own speech.
        lost_samples: Samples lost to overflow.
    """

    def __init__(self) -> None:
        self.reply_gaps_s: list[float] = []
        self.spoken_s = 0.0
        self.lost_samples = 0


class Driver:
    """Runs one exam over sound.

    Args:
        duplex: The stream, opened.
        hearing: Turns blocks into reports.
        render: Text to samples, cached; raises EngineError when the synthesiser hung.
        pace: Called with +1 or -1 for faster and slower.
        keys: Typed lines, if keys can be used.
        reopen: Opens the sound device anew after it was lost; None where there is no second try.
        on_text: Told each sentence as it is begun (screen, dialogue text).
        render_ahead: Told texts likely to be spoken soon.
    """

    def __init__(
        self,
        *,
        duplex: Duplex,
        hearing: Hearing,
        render: Callable[[str], Samples],
        pace: Callable[[int], None] = lambda _step: None,
        keys: queue.SimpleQueue[str | None] | None = None,
        reopen: Callable[[], Duplex] | None = None,
        on_text: Callable[[str], None] = lambda _text: None,
        render_ahead: Callable[[Sequence[str]], None] = lambda _texts: None,
    ) -> None:
        self._duplex = duplex
        self._hearing = hearing
        self._render_with = render
        self._pace = pace
        self._keys = keys
        self._reopen = reopen
        self._on_text = on_text
        self._render_ahead = render_ahead
        self._speech = SpeechQueue(duplex, self._render, started=self._reply_started, spoke=on_text)
        self._pending: Listen | None = None
        self._heard_open: Listening | None = None
        self._open_since = 0
        self._in_speech = False
        self._last_tick = 0
        self._answer_end: int | None = None
        self._block_began = 0.0
        self._runner: Driven | None = None
        self._stop_why: str | None = None
        self._dead = False
        self.figures = Figures()
        self.on_level: Callable[[float], None] | None = None
        """Told the microphone's level, dB against full scale, four times a second."""

    @property
    def hearing(self) -> Hearing:
        """What hears, for its levels."""
        return self._hearing

    # Output, for the runner

    def speak(self, action: Speak) -> None:
        """Speak behind what is queued."""
        self._stop_hearing()
        self._speech.speak(action.sentences, gaps=action.kind in _LONG)

    def tone(self, action: Tone) -> None:
        """Play a tone behind what is queued."""
        self._stop_hearing()
        self._speech.tone(action.name.value)

    def tick(self, action: Tick) -> None:
        """Play soft ticks with the microphone open."""
        self._speech.ticks(action.count, action.every_s)

    def fade(self, action: Fade) -> None:
        """Play a tone that fades at a known moment."""
        self._stop_hearing()
        self._speech.fade(action.length_s)

    def hush(self) -> None:
        """Fall silent at once."""
        self._hush()

    def _hush(self) -> None:
        self._speech.hush()
        self._hearing.unmute(self._now)

    def listen(self, action: Listen) -> None:
        """Listen once all is spoken."""
        self._pending = action
        self._hearing.prepare(action.listening)
        if self._hearing.full_duplex and self._speech.busy and not action.listening.timed:
            # Whoever knows the question may answer before its end.
            self._heard_open = action.listening
            self._hearing.open(action.listening, at=self._now, barge_in=True)
        asked = self._runner.asked if self._runner else None
        if asked is not None and asked.upcoming:
            self._render_ahead(asked.upcoming)

    def pace(self, step: int) -> None:
        """Speak slower or faster."""
        self._pace(step)

    def close(self) -> None:
        """Release the sound device."""
        self._duplex.close()

    def is_silent(self) -> bool:
        """Whether nothing is being spoken, and the person may speak."""
        return not self._speech.busy or self._speech.microphone.commands_only

    # running

    def stop(self, why: str) -> None:
        """End the run at the next block; safe to call from a signal handler."""
        self._stop_why = why

    def run(self, runner: Driven, opened: Callable[[str, int], Opened]) -> str:
        """Run the exam to its end and return its outcome.

        Args:
            runner: The exam.
            opened: Makes the opening event for a stream and sample.

        Raises:
            DeviceError: The device was lost and there is no second try.
        """
        self._runner = runner
        self._feed(opened(self._duplex.stream_id, self._duplex.position()))
        while runner.finished is None or self._speech.busy:
            if self._stop_why is not None and runner.finished is None:
                self._feed(Stopped(stream=self._stream, sample=self._now, why=self._stop_why))
                self._speech.hush()
                break
            try:
                block = self._duplex.read(1.0)
            except DeviceError as error:
                self._lost(str(error))
                continue
            self._block_began = time.perf_counter()
            if block is not None:
                self._take_block(block)
        self.figures.spoken_s = self._speech.spoken_samples / SAMPLE_RATE
        assert runner.finished is not None
        return runner.finished

    def _take_block(self, block: Block) -> None:
        self.figures.lost_samples += block.overflow
        if block.overflow:
            broken = Verdict(
                outcome=Outcome.IGNORE, start=block.start, end=block.start, reason="lost"
            )
            self._feed(Heard(stream=self._stream, sample=self._now, verdict=broken))
        if self._dead and block.samples.any():
            self._dead = False
            self._feed(DeviceRegained(stream=self._stream, sample=self._now))
        if self._speech.pump(hold=self._in_speech):
            self._open_since = self._now
            self._feed(SpokenOut(stream=self._stream, sample=self._now))
        faded = self._speech.faded()
        if faded is not None:
            self._feed(Faded(stream=self._stream, sample=faded))
        self._sync_microphone()
        for report in self._hearing.feed(block):
            self._take_report(report)
        self._take_keys()
        if self._now - self._last_tick >= TICK_S * SAMPLE_RATE:
            self._last_tick = self._now
            if self.on_level is not None:
                self.on_level(level_dbfs(block.samples))
            self._feed(Ticked(stream=self._stream, sample=self._now))
        self._check_silence()

    def _feed(self, event: Event) -> None:
        assert self._runner is not None
        self._runner.feed(event)

    @property
    def _stream(self) -> str:
        return self._duplex.stream_id

    @property
    def _now(self) -> int:
        return self._duplex.position()

    # microphone

    def _sync_microphone(self) -> None:
        """Open hearing for what is asked, once our own voice and its ringing are over."""
        microphone = self._speech.microphone
        pending = self._pending
        if not microphone.believed or pending is None:
            return
        wanted = pending.listening
        if self._hearing.full_duplex and self._heard_open == wanted:
            return
        if microphone.commands_only:
            wanted = Listening(commands=wanted.commands, item=wanted.item, side=wanted.side)
        if wanted == self._heard_open:
            return
        self._heard_open = wanted
        self._in_speech = False
        tail = self._speech.until + round(TAIL_S * SAMPLE_RATE)
        self._open_since = max(self._now, tail if self._speech.until else 0)
        self._hearing.open(wanted, at=self._now)

    def _stop_hearing(self) -> None:
        if self._heard_open is not None:
            self._heard_open = None
            self._in_speech = False
            self._hearing.close()

    def _check_silence(self) -> None:
        if self._heard_open is None or self._in_speech or self._pending is None:
            return
        microphone = self._speech.microphone
        if microphone.commands_only or self._speech.busy:
            return
        if self._now - self._open_since >= self._pending.window_s * SAMPLE_RATE:
            self._open_since = self._now
            self._feed(Silence(stream=self._stream, sample=self._now))

    def _take_report(self, report: Report) -> None:
        match report:
            case SpeechStarted():
                self._in_speech = True
                if self._speaking_over():
                    self._duplex.duck(DUCK_DB)
            case Judged(verdict=verdict):
                self._in_speech = False
                self._duplex.duck(0.0)
                if self._speaking_over() and verdict.outcome is Outcome.ASK_BACK:
                    return  # over our own voice a doubtful sound is nothing; the question goes on
                self._open_since = self._now
                if verdict.outcome is not Outcome.IGNORE:
                    if self._speech.busy:
                        self._hush()
                    self._answer_end = verdict.end
                    self._heard_open = None
                self._feed(Heard(stream=self._stream, sample=self._now, verdict=verdict))
                if not self._speech.busy:
                    self._answer_end = None  # no reply was due
            case SpokeOn(start=start):
                self._feed(Retracted(stream=self._stream, sample=self._now, start=start))
            case TooLoudNow(loud=loud):
                self._feed(TooLoud(stream=self._stream, sample=self._now, loud=loud))
            case DeadMicrophone():
                self._dead = True
                self._on_text(_ZEROS)
                self._feed(DeviceLost(stream=self._stream, sample=self._now, why=_ZEROS))

    def _speaking_over(self) -> bool:
        """Whether the person speaks while our own voice sounds."""
        return self._speech.busy and not self._speech.microphone.believed

    def _take_keys(self) -> None:
        if self._keys is None or self._runner is None:
            return
        while True:
            try:
                line = self._keys.get_nowait()
            except queue.Empty:
                return
            if line is None:
                return
            typed: Typed = keyed(line, self._runner.asked)
            self._speech.hush()
            self._feed(Keyed(stream=self._stream, sample=self._now, key=typed.key, text=typed.text))

    # speech

    def _render(self, text: str) -> Samples:
        try:
            return self._render_with(text)
        except EngineError:
            # One second try: the worker is started anew by the voice itself.
            return self._render_with(text)

    def _reply_started(self, position: int) -> None:
        if not self._speech.microphone.believed:
            self._hearing.mute(self._speech.until)
        if self._answer_end is not None:
            computing_s = time.perf_counter() - self._block_began
            gap_s = (position - self._answer_end) / SAMPLE_RATE + computing_s
            self.figures.reply_gaps_s.append(gap_s)
            self._answer_end = None

    # a lost device

    def _lost(self, why: str) -> None:
        """Pause the exam, then try to get sound back; nothing stored is touched."""
        self._feed(DeviceLost(stream=self._stream, sample=self._now, why=why))
        self._on_text(why)
        if self._reopen is None:
            raise DeviceError(why)
        self._duplex.close()
        while self._stop_why is None:
            try:
                self._duplex = self._reopen()
                break
            except DeviceError:
                self._take_keys()
                time.sleep(REOPEN_EVERY_S)
        else:
            return
        self._speech.replace_device(self._duplex)
        self._heard_open = None
        self._last_tick = 0
        self._hearing.unmute(0)
        self._feed(DeviceRegained(stream=self._stream, sample=self._now))
