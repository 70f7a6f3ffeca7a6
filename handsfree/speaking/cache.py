"""Rendered prompts, kept and made ahead, so that a reply never waits for the engine.

All rendering happens in one thread of this module, since engines want one; what is asked for now
goes before what was ordered ahead. Nothing is played and nothing is written to disk here.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Iterable
from concurrent.futures import Future

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import EngineError
from handsfree.speaking.synthesiser import Synthesiser

__all__ = ["PromptCache"]

_Key = tuple[str, int, str | None]
"""Text, words a minute, voice."""

_MAX_AHEAD = 64
"""Orders that wait; older ones are dropped, since the exam has moved on."""


class PromptCache:
    """The most recently used prompts, by text, rate and voice.

    Args:
        synthesiser: Renders what is not here; asked from one thread only.
        capacity_s: Seconds of sound that are kept (600 s are 19 MB).
        ahead: Whether anything is rendered ahead. Without it the order of renderings is the order
            of asking, so that a rehearsal repeats itself to the sample.
    """

    def __init__(
        self, synthesiser: Synthesiser, *, capacity_s: float = 600.0, ahead: bool = True
    ) -> None:
        self._synthesiser = synthesiser
        self._capacity = round(capacity_s * SAMPLE_RATE)
        self._ahead = ahead
        self._kept: OrderedDict[_Key, Samples] = OrderedDict()
        self._size = 0
        self._changed = threading.Condition()
        self._urgent: deque[tuple[_Key, Future[Samples]]] = deque()
        self._orders: deque[_Key] = deque(maxlen=_MAX_AHEAD)
        self._thread: threading.Thread | None = None
        self._closed = False

    def get(self, text: str, *, rate_wpm: int, voice: str | None = None) -> Samples:
        """Return ``text`` spoken, int16, shape (n,), read-only: kept, or rendered now.

        Raises:
            EngineError: As the synthesiser, or the cache is closed.
        """
        key = (text, rate_wpm, voice)
        with self._changed:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
                return kept
            self._start()
            future: Future[Samples] = Future()
            self._urgent.append((key, future))
            self._changed.notify()
        return future.result()

    def render_ahead(
        self, texts: Iterable[str], *, rate_wpm: int, voice: str | None = None
    ) -> None:
        """Order ``texts``, likeliest first, to be rendered when there is time; returns at once.

        A text that cannot be rendered is passed over: whoever asks for it with `get` is told.
        """
        if not self._ahead:
            return
        with self._changed:
            if self._closed:
                return
            for text in texts:
                key = (text, rate_wpm, voice)
                if key not in self._kept and key not in self._orders:
                    self._orders.append(key)
            self._start()
            self._changed.notify()

    def close(self) -> None:
        """End the thread once what it is rendering is done; never raises."""
        with self._changed:
            self._closed = True
            self._orders.clear()
            self._changed.notify()
            thread = self._thread
        if thread is not None:
            thread.join()

    def _start(self) -> None:
        if self._closed:
            raise EngineError("The voice is closed; open a new one to speak on.")
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="voice", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        while True:
            with self._changed:
                while not (self._urgent or self._orders or self._closed):
                    self._changed.wait()
                future: Future[Samples] | None = None
                if self._urgent:
                    key, future = self._urgent.popleft()
                elif self._orders:
                    key = self._orders.popleft()
                else:
                    return
                sound = self._kept.get(key)
            try:
                if sound is None:
                    text, rate_wpm, voice = key
                    sound = self._synthesiser.render(text, rate_wpm=rate_wpm, voice=voice)
                    sound.setflags(write=False)
            except Exception as error:  # noqa: BLE001 - handed to whoever waits for it
                if future is not None:
                    future.set_exception(error)
                continue
            self._keep(key, sound)
            if future is not None:
                future.set_result(sound)

    def _keep(self, key: _Key, sound: Samples) -> None:
        with self._changed:
            if key in self._kept:
                return
            self._kept[key] = sound
            self._size += len(sound)
            while self._size > self._capacity and len(self._kept) > 1:
                _, dropped = self._kept.popitem(last=False)
                self._size -= len(dropped)
