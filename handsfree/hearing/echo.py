"""Takes our own voice out of the microphone's sound, and says whether that works.

``WebRtcEcho`` runs the canceller of the package aec-audio-processing where that is installed. It is
believed only after it has been seen to work: ``EchoWatch`` looks at what is left while we speak,
and as long as that is too much, hearing stays deaf while we speak (half duplex).
"""

from __future__ import annotations

from collections import deque
from typing import Any, Protocol

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import EngineError

__all__ = ["EchoCanceller", "EchoWatch", "WebRtcEcho"]

_FRAME = SAMPLE_RATE // 100


class EchoCanceller(Protocol):
    """One stream's canceller."""

    delay: int
    """Samples by which what comes out lags behind what goes in; constant."""

    def process(self, samples: Samples, reference: Samples) -> Samples:
        """Return what is ready, without the echo of ``reference``: all whole frames so far."""
        ...


class WebRtcEcho:
    """The WebRTC canceller; keeps nothing but echo cancelling switched on.

    Raises:
        EngineError: The package is not installed here.
    """

    delay = 128
    """Measured: its blocks of 64 samples, two deep."""

    def __init__(self) -> None:
        try:
            from aec_audio_processing import AudioProcessor
        except (ImportError, OSError) as missing:
            msg = (
                f"the echo canceller is not installed here ({missing}): the microphone is not "
                f"believed while the voice speaks. To have it: pip install aec-audio-processing"
            )
            raise EngineError(msg) from None
        self._processor: Any = AudioProcessor(
            enable_aec=True, enable_ns=False, enable_agc=False, enable_vad=False
        )
        self._processor.set_stream_format(SAMPLE_RATE, 1)
        self._processor.set_reverse_stream_format(SAMPLE_RATE, 1)
        self._processor.set_stream_delay(0)
        self._samples = np.zeros(0, np.int16)
        self._reference = np.zeros(0, np.int16)

    def process(self, samples: Samples, reference: Samples) -> Samples:
        """Return what is ready of all that went in, in whole frames of 10 ms."""
        self._samples = np.concatenate([self._samples, samples])
        self._reference = np.concatenate([self._reference, reference])
        done = [np.zeros(0, np.int16)]
        while len(self._samples) >= _FRAME:
            near, self._samples = self._samples[:_FRAME], self._samples[_FRAME:]
            far, self._reference = self._reference[:_FRAME], self._reference[_FRAME:]
            self._processor.process_reverse_stream(far.tobytes())
            done.append(np.frombuffer(self._processor.process_stream(near.tobytes()), np.int16))
        return np.concatenate(done)


class EchoWatch:
    """Whether the echo is cancelled: what stands out of the room while our own voice sounds.

    Attributes:
        works: Half a prompt or more went by with next to nothing left. False at first.
    """

    ENOUGH_FRAMES = 80
    """Frames of our own voice that are looked at before a judgement: 0.8 s."""
    MOST_LEFT = 0.15
    """Share of them in which something may stand out: a person may be speaking in some."""
    KEPT_FRAMES = 250

    def __init__(self) -> None:
        self.works = False
        self._stood_out: deque[bool] = deque(maxlen=self.KEPT_FRAMES)

    def add(self, rise_db: float, *, person: bool) -> None:
        """Take in a frame during which our own voice sounded.

        Args:
            rise_db: How far the cleaned sound stands above the room.
            person: Someone is known to be speaking: the frame tells nothing.
        """
        if person:
            return
        self._stood_out.append(rise_db > 3.0)
        if len(self._stood_out) >= self.ENOUGH_FRAMES:
            left = sum(self._stood_out) / len(self._stood_out)
            self.works = left <= (self.MOST_LEFT * (2.0 if self.works else 1.0))

    def reset(self) -> None:
        """Begin anew: another stream, another place."""
        self.works = False
        self._stood_out.clear()
