"""The live stream: microphone and loudspeaker through PortAudio, on one sample clock.

The driver's callback only copies: microphone blocks onto a queue, played samples out of the mixer.
All else happens in the thread that reads. sounddevice is imported when a stream is opened or the
devices are listed, never before. Choosing a device is `handsfree.audio.choosing`'s business.

Positions: the clock counts microphone samples. A sample that we hand over at position p is heard
by the microphone `latency` samples later, so placing a sound and the reference of a block both
take that off: what is placed at p is in the microphone at p.
"""

from __future__ import annotations

import queue
import time
import uuid
from collections import deque
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.choosing import Route, library, plan_route, within
from handsfree.audio.device import BLOCK_SAMPLES, SAMPLE_RATE, Block, Samples
from handsfree.audio.mixer import FADE_SAMPLES, Mixer
from handsfree.audio.resample import Resampler, to_int16
from handsfree.errors import DeviceError

__all__ = ["LiveDuplex"]

_LOST_AFTER_S = 1.0
"""No block for so long means that the device is gone: PortAudio reports that to nobody."""

_FIRST_BLOCK_S = 4.0
"""A wireless headset may take so long to wake."""

_QUEUE_BLOCKS = 1_500
"""30 s: a reader that lags further loses blocks, and is told so."""

_MAX_LATENCY_S = 2.0

_DELAYS = 25
"""Callbacks (half a second) over which the latency is taken."""

_LATENCY_STEP = SAMPLE_RATE // 200
"""5 ms: a smaller change of the driver's own figure is its noise."""


@dataclass(frozen=True, kw_only=True)
class _Raw:
    """One callback's worth: clock, device samples, what we played, samples lost before it."""

    start: int
    recorded: NDArray[np.int16]
    played: Samples
    lost: int


class LiveDuplex:
    """A full-duplex stream on real devices.

    Args:
        microphone: Index or part of the name; None for the system's default.
        loudspeaker: The same for the output.
        latency_s: Seconds from handing over a sample to its arrival in the microphone; None to
            take what the sound driver reports, which can be some tens of milliseconds off.

    Attributes:
        stream_id: Unique for each opened stream.
        latency: Samples from handing over to the microphone; may change while nothing sounds.
        lost_samples: Samples lost so far, in all.
        overflows: How often some were lost.

    Raises:
        CallerError: No such device, or more than one fits the name.
        DeviceError: There is none, it cannot be opened, or it gives nothing.
    """

    def __init__(
        self,
        microphone: int | str | None = None,
        loudspeaker: int | str | None = None,
        *,
        latency_s: float | None = None,
    ) -> None:
        self.stream_id = f"live-{uuid.uuid4()}"
        self.lost_samples = 0
        self.overflows = 0
        self._route = plan_route(microphone, loudspeaker)
        self._queue: queue.SimpleQueue[_Raw] = queue.SimpleQueue()
        self._mixer = Mixer()
        self._clock = 0  # one past the last sample recorded; the callback's own
        self._shift = 0  # clock less mixer position: grows by what the driver lost
        self._dropped = 0
        self._adc_end = 0.0
        self._delays: deque[float] = deque(maxlen=_DELAYS)
        self._fixed_latency = latency_s is not None
        self._arrived = time.monotonic()
        self._closed = False
        # The reader's own.
        self._position = 0
        self._held = np.zeros(0, dtype=np.int16)
        self._reference = np.zeros(0, dtype=np.int16)
        self._overflow = 0
        self._audible_until = 0
        self._zeros = 0
        rate = self._route.rate
        self._to_us = None if rate == SAMPLE_RATE else Resampler(rate, SAMPLE_RATE)
        self._to_device = None if rate == SAMPLE_RATE else Resampler(SAMPLE_RATE, rate)
        # The resampler holds back a few samples; so much is always ready.
        self._ready = np.zeros(rate // 200, dtype=np.int16)
        self._stream = self._open(self._route)
        self.latency = self._settle(latency_s)
        self._reference = np.zeros(self.latency, dtype=np.int16)

    @property
    def device(self) -> str:
        """Names of microphone and loudspeaker, for people."""
        return self._route.describe()

    @property
    def silent_s(self) -> float:
        """Seconds for which the microphone has given nothing but exact zeros.

        A real microphone never does so for a second: on macOS it means that the terminal has no
        permission, elsewhere a muted or virtual device.
        """
        return self._zeros / SAMPLE_RATE

    def read(self, timeout_s: float) -> Block | None:
        """Return the next block, or None if none came within ``timeout_s``.

        Raises:
            DeviceError: Nothing came for a second, or the stream is closed.
        """
        deadline = time.monotonic() + timeout_s
        while len(self._held) < BLOCK_SAMPLES:
            self._check_alive()
            try:
                wait = min(deadline - time.monotonic(), _LOST_AFTER_S / 4)
                raw = self._queue.get(timeout=wait) if wait > 0 else self._queue.get_nowait()
            except queue.Empty:
                if time.monotonic() >= deadline:
                    return None
                continue
            self._take(raw)
        samples, self._held = self._held[:BLOCK_SAMPLES], self._held[BLOCK_SAMPLES:]
        reference = self._reference[:BLOCK_SAMPLES]
        self._reference = self._reference[BLOCK_SAMPLES:]
        block = Block(
            start=self._position, samples=samples, reference=reference, overflow=self._overflow
        )
        self._position += BLOCK_SAMPLES
        self._overflow = 0
        if self._position % (_DELAYS * BLOCK_SAMPLES) == 0:
            self._follow_latency()
        self._zeros = 0 if samples.any() else self._zeros + BLOCK_SAMPLES
        return block

    def play(self, samples: Samples, *, at: int | None = None) -> int:
        """Queue ``samples``, or mix them in at ``at``; return one past their last position."""
        offset = self._shift + self.latency
        end = self._mixer.play(samples, at=None if at is None else at - offset) + offset
        self._audible_until = max(self._audible_until, end)
        return end

    def playing(self) -> bool:
        """Whether queued sound is still to be heard."""
        return self._mixer.playing() or self._position < self._audible_until

    def stop_playing(self) -> None:
        """Drop all queued sound, with a short fade."""
        self._mixer.stop()
        heard = self._mixer.position + FADE_SAMPLES + self._shift + self.latency
        self._audible_until = min(self._audible_until, heard)

    def duck(self, gain_db: float) -> None:
        """Set the gain of what is played (0 = as is)."""
        self._mixer.duck(gain_db)

    def position(self) -> int:
        """The clock now: the first sample of the next block to be read."""
        return self._position

    def close(self) -> None:
        """Stop and release the device; never raises, and never waits for a dead driver."""
        if self._closed:
            return
        self._closed = True
        within(2.0, lambda: self._stream.close(ignore_errors=True))

    def _open(self, route: Route) -> Any:
        sounddevice = library()

        def start() -> Any:
            stream = sounddevice.Stream(
                samplerate=route.rate,
                blocksize=route.block,
                device=(route.microphone, route.loudspeaker),
                channels=(route.channels_in, route.channels_out),
                dtype="int16",
                latency=route.latency_s,
                callback=self._callback,
            )
            stream.start()
            return stream

        stream, error = within(_FIRST_BLOCK_S, start)
        if error is not None or stream is None:
            reason = str(error) if error is not None else "the sound driver does not answer"
            raise DeviceError(
                f"{route.describe()} cannot be opened ({reason}); check that it is plugged in, "
                "not in use elsewhere, and that this program may use the microphone."
            )
        return stream

    def _settle(self, latency_s: float | None) -> int:
        """Wait for the first blocks; return the latency in samples."""
        give_up = time.monotonic() + _FIRST_BLOCK_S
        while len(self._delays) < 8:
            if time.monotonic() > give_up:
                self.close()
                raise DeviceError(
                    f"{self.device} opened but gives no sound blocks; unplug it and plug it in "
                    "again, or choose another device with `handsfree settings`."
                )
            time.sleep(0.005)
        if latency_s is None:
            latency_s = self._reported_latency_s()
        return round(latency_s * SAMPLE_RATE)

    def _reported_latency_s(self) -> float:
        # Written by the callback meanwhile: copy before looking.
        reported = float(np.median(list(self._delays)[-_DELAYS // 2 :]))
        if 0.0 < reported < _MAX_LATENCY_S:
            return reported
        return min(float(sum(self._stream.latency)), _MAX_LATENCY_S)

    def _follow_latency(self) -> None:
        """Take over a changed latency while nothing sounds: drivers report it wrongly at first."""
        if self._fixed_latency or self.playing() or self._reference.any():
            return
        latency = round(self._reported_latency_s() * SAMPLE_RATE)
        change = latency - self.latency
        if abs(change) >= _LATENCY_STEP:
            self.latency = latency
            self._reference = np.zeros(len(self._reference) + change, dtype=np.int16)

    def _callback(self, recorded: Any, output: Any, frames: int, timing: Any, status: Any) -> None:
        lost = self._estimate_lost(timing) if status.input_overflow else 0
        self._clock += lost
        self._shift += lost
        played = self._mixer.pull(BLOCK_SAMPLES)
        if self._to_device is None:
            output[:] = played[:, None]
        else:
            made = to_int16(self._to_device.push(played))
            self._ready = np.concatenate([self._ready, made])
            output[:] = self._ready[:frames, None]
            self._ready = self._ready[frames:]
        if self._queue.qsize() < _QUEUE_BLOCKS:
            raw = _Raw(
                start=self._clock,
                recorded=recorded.copy(),
                played=played,
                lost=lost + self._dropped,
            )
            self._dropped = 0
            self._queue.put(raw)
        else:
            self._dropped += lost + BLOCK_SAMPLES
        self._clock += BLOCK_SAMPLES
        self._delays.append(timing.outputBufferDacTime - timing.inputBufferAdcTime)
        self._adc_end = timing.inputBufferAdcTime + frames / self._route.rate
        self._arrived = time.monotonic()

    def _estimate_lost(self, timing: Any) -> int:
        """How many samples an overflow cost, by the driver's own clock; one if it does not say."""
        gap = timing.inputBufferAdcTime - self._adc_end
        return round(gap * SAMPLE_RATE) if 0.0 < gap < 60.0 and self._adc_end else 1

    def _check_alive(self) -> None:
        if self._closed:
            raise DeviceError("The sound stream is closed; open a new one.")
        if self._queue.empty() and time.monotonic() - self._arrived > _LOST_AFTER_S:
            raise DeviceError(
                f"{self.device} has given no sound for a second and counts as lost; plug it in "
                "again, then say or press resume."
            )

    def _take(self, raw: _Raw) -> None:
        mono = raw.recorded.mean(axis=1, dtype=np.float32)
        if raw.lost:
            # What is held belongs before the gap and makes no whole block: it is lost too.
            gap = raw.start - self._position
            self.overflows += 1
            self.lost_samples += gap
            self._overflow += gap
            skipped = np.zeros(max(0, gap + self.latency - len(self._reference)), dtype=np.int16)
            self._reference = np.concatenate([self._reference, skipped])[gap:]
            self._position = raw.start
            self._held = self._held[:0]
            if self._to_us is not None:
                self._to_us = Resampler(self._route.rate, SAMPLE_RATE)
        new = to_int16(mono if self._to_us is None else self._to_us.push(mono))
        self._held = np.concatenate([self._held, new])
        self._reference = np.concatenate([self._reference, raw.played])
