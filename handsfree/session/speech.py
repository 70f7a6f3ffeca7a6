"""What is to be heard from us, one piece at a time: sentences, tones, ticks, listening gaps.

A long text is spoken sentence by sentence with a short gap in which commands are heard, so that
stop and repeat always work. Nothing here listens; it says when the microphone may be believed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Duplex, Samples
from handsfree.speaking.tones import fading, tick, tone

__all__ = ["GAP_S", "TAIL_S", "Microphone", "SpeechQueue"]

GAP_S = 0.6
"""Listening gap between the sentences of a long text."""
TAIL_S = 0.2
"""How long a room rings after our own voice; the microphone is not believed until then."""


@dataclass(frozen=True, kw_only=True)
class _Sentence:
    text: str
    gap_after: bool = False


@dataclass(frozen=True, kw_only=True)
class _Tone:
    name: str


@dataclass(frozen=True, kw_only=True)
class _Ticks:
    count: int
    every_s: float


@dataclass(frozen=True, kw_only=True)
class _Fade:
    length_s: float


@dataclass(frozen=True, kw_only=True)
class Microphone:
    """What may be heard now: nothing, commands alone (a gap), or what was asked for."""

    believed: bool
    commands_only: bool = False


class SpeechQueue:
    """Plays pieces in order on a duplex stream.

    Args:
        duplex: Where to play.
        render: Text to samples.
        started: Told the position of the first sample of each sentence or tone.
        long_gap: Whether to leave gaps in long texts.
    """

    def __init__(
        self,
        duplex: Duplex,
        render: Callable[[str], Samples],
        *,
        started: Callable[[int], None],
        spoke: Callable[[str], None] = lambda _text: None,
    ) -> None:
        self._duplex = duplex
        self._render = render
        self._started = started
        self._spoke = spoke
        self._pieces: deque[_Sentence | _Tone | _Ticks | _Fade] = deque()
        self._until = 0
        self._gap_until = 0
        self._open = False
        self._was_busy = False
        self._faded: int | None = None
        self.spoken_samples = 0
        """Samples of speech played so far."""

    def replace_device(self, duplex: Duplex) -> None:
        """Go on, on a new stream: what was playing is lost with the old one."""
        self._duplex = duplex
        self._until = self._gap_until = duplex.position()
        self._open = False

    def speak(self, sentences: tuple[str, ...], *, gaps: bool) -> None:
        """Queue sentences; with ``gaps``, leave a listening gap after each but the last."""
        last = len(sentences) - 1
        for index, text in enumerate(sentences):
            self._pieces.append(_Sentence(text=text, gap_after=gaps and index < last))
        self._was_busy = True

    def tone(self, name: str) -> None:
        """Queue a tone."""
        self._pieces.append(_Tone(name=name))
        self._was_busy = True

    def ticks(self, count: int, every_s: float) -> None:
        """Queue soft ticks; the microphone is believed while they sound."""
        self._pieces.append(_Ticks(count=count, every_s=every_s))
        self._was_busy = True

    def fade(self, length_s: float) -> None:
        """Queue a tone that has faded after ``length_s``; the microphone is believed from then."""
        self._pieces.append(_Fade(length_s=length_s))
        self._was_busy = True

    def faded(self) -> int | None:
        """Return the position at which a tone had faded, once it is past; told once each."""
        if self._faded is None or self._duplex.position() < self._faded:
            return None
        at, self._faded = self._faded, None
        return at

    def hush(self) -> None:
        """Fall silent at once and drop what was queued."""
        self._pieces.clear()
        self._faded = None
        self._duplex.stop_playing()
        self._until = self._gap_until = self._duplex.position()
        self._open = False

    def pump(self, *, hold: bool) -> bool:
        """Start the next piece if it is time; ``hold`` keeps a gap open (somebody is speaking).

        Returns:
            True once each time when the last piece has been played out.
        """
        now = self._duplex.position()
        if now < self._until or (now < self._gap_until) or (self._gap_until > 0 and hold):
            return False
        self._gap_until = 0
        self._open = False
        if self._pieces:
            self._play(self._pieces.popleft())
            return False
        if self._was_busy:
            self._was_busy = False
            return True
        return False

    @property
    def busy(self) -> bool:
        """Whether something is being played or waits to be."""
        return bool(self._pieces) or self._duplex.position() < self._until

    @property
    def until(self) -> int:
        """Position at which the piece being played ends."""
        return self._until

    @property
    def microphone(self) -> Microphone:
        """Whether the microphone may be believed now."""
        now = self._duplex.position()
        if self._open:
            return Microphone(believed=True)
        if now < self._until:
            return Microphone(believed=False)
        if now < self._gap_until or (self._pieces and self._gap_until):
            return Microphone(believed=True, commands_only=True)
        return Microphone(believed=not self._pieces)

    def _play(self, piece: _Sentence | _Tone | _Ticks | _Fade) -> None:
        if isinstance(piece, _Ticks):
            self._play_ticks(piece)
            return
        if isinstance(piece, _Fade):
            self._play_fade(piece)
            return
        if isinstance(piece, _Sentence):
            samples = self._render(piece.text)
            self.spoken_samples += len(samples)
            self._spoke(piece.text)
        else:
            samples = tone(piece.name)
        end = self._duplex.play(samples)
        self._until = end
        self._started(end - len(samples))
        if isinstance(piece, _Sentence) and piece.gap_after:
            self._gap_until = end + round((TAIL_S + GAP_S) * SAMPLE_RATE)

    def _play_ticks(self, piece: _Ticks) -> None:
        sound = tick()
        every = round(piece.every_s * SAMPLE_RATE)
        train = np.zeros(every * piece.count + len(sound), dtype=np.int16)
        for k in range(1, piece.count + 1):
            train[k * every : k * every + len(sound)] = sound
        end = self._duplex.play(train)
        self._started(end - len(train))
        self._until = end
        self._open = True

    def _play_fade(self, piece: _Fade) -> None:
        sound = fading(piece.length_s)
        end = self._duplex.play(sound)
        self._faded = end
        # Its last part is too soft to ring in the room: the microphone opens as it ends.
        self._until = max(end - round(TAIL_S * SAMPLE_RATE), end - len(sound))
        self._started(end - len(sound))
