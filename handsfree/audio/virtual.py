"""A room that is computed: a duplex on a virtual clock, faster than real time.

What the microphone hears is whatever a source gives for those samples, plus seeded room noise and,
if wanted, an echo of our own voice. The rehearsal, the WAV file as a microphone and the tests all
stand on it. Nobody listens in this room and no sound library is imported.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np

from handsfree.audio.device import BLOCK_SAMPLES, SAMPLE_RATE, Block, Samples
from handsfree.audio.mixer import Mixer
from handsfree.audio.resample import to_int16
from handsfree.errors import DeviceError

__all__ = ["RoomNoise", "Source", "VirtualDuplex", "silence"]

Source = Callable[[int, int], Samples]
"""Given start and count, what reaches the microphone at those samples, int16, shape (count,)."""

Listener = Callable[[int, Samples, Samples], None]
"""Given start, what we played and what the microphone heard: each block as it passes."""

_numbers = itertools.count(1)


def silence(start: int, count: int) -> Samples:
    """Return nothing at all: a source for a room without people."""
    del start
    return np.zeros(count, dtype=np.int16)


class RoomNoise:
    """Seeded noise that depends on the position alone, however it is cut.

    Args:
        seed: Same seed, same noise.
        rms: Its level in units of the least significant bit. Recognisers do worse on digital
            silence than on a quiet room; 30 to 60 is such a room.
    """

    def __init__(self, *, seed: int = 0, rms: float = 40.0) -> None:
        self._seed = seed
        self._rms = rms
        self._second = -1
        self._sound = np.zeros(0, dtype=np.float32)

    def at(self, start: int, count: int) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
        """Return the noise of these samples, shape (count,)."""
        pieces = []
        while count > 0:
            second, offset = divmod(start, SAMPLE_RATE)
            if second != self._second:
                random = np.random.default_rng((self._seed, second))
                self._sound = random.standard_normal(SAMPLE_RATE, dtype=np.float32) * self._rms
                self._second = second
            piece = self._sound[offset : offset + count]
            pieces.append(piece)
            start += len(piece)
            count -= len(piece)
        return np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.float32)


class VirtualDuplex:
    """A full-duplex stream whose next block is always there at once.

    Args:
        source: What the microphone hears of people; it may be replaced at any time.
        noise: The room's own noise; None for digital silence.
        echo_gain_db: How loud our own voice reaches the microphone; None for not at all.
        echo_delay: After how many samples it does.
        listener: Told of each block that passes, for a recording of both sides.
    """

    def __init__(
        self,
        source: Source = silence,
        *,
        noise: RoomNoise | None = None,
        echo_gain_db: float | None = None,
        echo_delay: int = 320,
        listener: Listener | None = None,
    ) -> None:
        if echo_delay < 0:
            msg = f"an echo cannot come {-echo_delay} samples early"
            raise ValueError(msg)
        self.stream_id = f"virtual-{next(_numbers)}"
        self.source = source
        self.listener = listener
        self._noise = noise
        self._echo_gain = None if echo_gain_db is None else 10.0 ** (echo_gain_db / 20.0)
        self._echo = np.zeros(echo_delay, dtype=np.int16)
        self._mixer = Mixer()
        self._lost = ""
        self._dropped = 0

    def read(self, timeout_s: float) -> Block | None:
        """Return the next block; it never waits.

        Raises:
            DeviceError: `lose` or `close` was called.
        """
        del timeout_s
        if self._lost:
            raise DeviceError(self._lost)
        overflow, self._dropped = self._dropped, 0
        if overflow:
            self._mixer.pull(overflow)
        start = self._mixer.position
        # The source is asked before the output moves on, so it may still answer to it.
        heard = self.source(start, BLOCK_SAMPLES)
        if len(heard) != BLOCK_SAMPLES:
            msg = f"the source gave {len(heard)} samples where {BLOCK_SAMPLES} were asked"
            raise ValueError(msg)
        played = self._mixer.pull(BLOCK_SAMPLES)
        microphone = self._hear(start, heard, played)
        if self.listener is not None:
            self.listener(start, played, microphone)
        return Block(start=start, samples=microphone, reference=played, overflow=overflow)

    def _hear(self, start: int, heard: Samples, played: Samples) -> Samples:
        if self._noise is None and self._echo_gain is None:
            return heard.astype(np.int16)
        mixed = heard.astype(np.float32)
        if self._noise is not None:
            mixed += self._noise.at(start, len(mixed))
        if self._echo_gain is not None:
            self._echo = np.concatenate([self._echo, played])
            mixed += self._echo[: len(mixed)] * np.float32(self._echo_gain)
            self._echo = self._echo[len(mixed) :]
        return to_int16(mixed)

    def play(self, samples: Samples, *, at: int | None = None) -> int:
        """Queue ``samples``, or mix them in at ``at``; return one past its last position."""
        return self._mixer.play(samples, at=at)

    def playing(self) -> bool:
        """Whether queued sound is still to be played."""
        return self._mixer.playing()

    def stop_playing(self) -> None:
        """Drop all queued sound, with a short fade."""
        self._mixer.stop()

    def duck(self, gain_db: float) -> None:
        """Set the gain of what is played (0 = as is)."""
        self._mixer.duck(gain_db)

    def position(self) -> int:
        """The clock now: the first sample of the next block."""
        return self._mixer.position

    def drop(self, samples: int) -> None:
        """Lose so many samples of the microphone before the next block, as an overflow does."""
        self._dropped += samples

    def lose(self, message: str = "The virtual device was taken away; open it again.") -> None:
        """Behave from now on like a device that was unplugged."""
        self._lost = message

    def close(self) -> None:
        """Stop; reading on is an error."""
        self._lost = self._lost or "The stream is closed; open a new one."
        self._mixer.stop()
