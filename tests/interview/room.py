"""A computed room with a synthesised person in it: real speech, real recognition, no clock."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.virtual import RoomNoise, VirtualDuplex
from handsfree.commands.talking import Running
from handsfree.dialogue.actions import Action, Ask, Listen, Tick, Tone, ToneName
from handsfree.dialogue.events import Event
from handsfree.interview.fading import Faded
from handsfree.session.assembly import open_hearing
from handsfree.session.driver import Driver
from handsfree.session.runner import Observer
from handsfree.speaking.espeak import Pyttsx3Synthesiser
from handsfree.speaking.voice import Voice

Reply = Callable[[Ask], str | None]
VOICE = "en-us"


class Room:
    """Speaks for the person: answers what is asked, and says pink when a tone has faded.

    Args:
        reply: What the person says to what is asked; None for nothing.
        lag_s: How late they say pink.
        paced: What they say over and over once a window has begun, and every how many seconds.
        refills_s: From release to now, one for each time that the ticks of a hold sound.
    """

    def __init__(
        self,
        reply: Reply,
        *,
        lag_s: float = 0.35,
        paced: tuple[str, float] | None = None,
        refills_s: tuple[float, ...] = (),
    ) -> None:
        self._reply = reply
        self._lag_s = lag_s
        self._paced = paced
        self._refills_s = deque(refills_s)
        self._synthesiser = Pyttsx3Synthesiser()
        self._rendered: dict[str, Samples] = {}
        self._sound: deque[tuple[int, Samples]] = deque()
        self._waiting: str | None = None
        self._quiet_since: int | None = None
        self.duplex = VirtualDuplex(noise=RoomNoise(seed=3, rms=45.0))
        self.duplex.source = self._source
        hearing = open_hearing("pocketsphinx")
        self.voice = Voice(self._synthesiser, rate_wpm=300, ahead=False)
        self.told: list[str] = []
        self.driver = Driver(
            duplex=self.duplex, hearing=hearing, render=self.voice.get, on_text=self.told.append
        )
        self.running = Running(
            driver=self.driver,
            output=self.driver,
            engine=hearing.engine,
            by_keys=False,
            microphone="computed",
            hearing=hearing,
            observers=(self.hears,),
        )
        self._asked: Ask | None = None

    def watched_by(self, *observers: Observer) -> Running:
        """Return what is open, with these told first of each event."""
        return replace(self.running, observers=observers)

    def close(self) -> None:
        """End the synthesiser."""
        self.voice.close()
        self._synthesiser.close()

    def hears(self, event: Event, actions: tuple[Action, ...]) -> None:
        """Take the meaning of what is asked, as a person would."""
        if isinstance(event, Faded):
            pink = self._speech("pink")
            self._sound.append((event.sample + round(self._lag_s * SAMPLE_RATE), pink))
        for action in actions:
            if isinstance(action, Ask):
                self._asked = action
            elif isinstance(action, Listen) and self._asked is not None:
                self._waiting = self._reply(self._asked)
                self._quiet_since = None
            elif isinstance(action, Tick) and self._refills_s:
                hold_s = action.count * action.every_s + 0.4
                release = event.sample + round(hold_s * SAMPLE_RATE)
                now = release + round(self._refills_s.popleft() * SAMPLE_RATE)
                self._sound.append((release, self._speech("release")))
                self._sound.append((now, self._speech("now")))
            elif isinstance(action, Tone) and self._paced is not None:
                if action.name is ToneName.WINDOW_START:
                    word, every_s = self._paced
                    start = event.sample + SAMPLE_RATE
                    self._sound.extend(
                        (start + round(n * every_s * SAMPLE_RATE), self._speech(word))
                        for n in range(round(70 / every_s))
                    )
                elif action.name is ToneName.WINDOW_END:
                    self._sound.clear()

    def _speech(self, text: str) -> Samples:
        if text not in self._rendered:
            self._rendered[text] = self._synthesiser.render(text, rate_wpm=165, voice=VOICE)
        return self._rendered[text]

    def _source(self, start: int, count: int) -> Samples:
        if not self.driver.is_silent():
            self._quiet_since = None
        elif self._quiet_since is None:
            self._quiet_since = start
        elif self._waiting is not None and start - self._quiet_since > 0.5 * SAMPLE_RATE:
            self._sound.append((start, self._speech(self._waiting)))
            self._waiting = None
        out = np.zeros(count, dtype=np.int32)
        while self._sound:
            at, sound = self._sound[0]
            offset = start - at
            if offset + count <= 0:
                break
            low, high = max(offset, 0), min(offset + count, len(sound))
            if low < high:
                out[low - offset : high - offset] += sound[low:high]
            if offset + count < len(sound):
                break
            self._sound.popleft()
        return np.clip(out, -32768, 32767).astype(np.int16)


@contextmanager
def room(
    reply: Reply,
    *,
    lag_s: float = 0.35,
    paced: tuple[str, float] | None = None,
    refills_s: tuple[float, ...] = (),
) -> Iterator[Room]:
    """Open a room and close it again."""
    opened = Room(reply, lag_s=lag_s, paced=paced, refills_s=refills_s)
    try:
        yield opened
    finally:
        opened.close()
