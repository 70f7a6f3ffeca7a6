"""A WAV file in place of the microphone, faster than real time; what we play is not heard.

Made for trying a recording, and for machines without a sound card. Reading the file is
`handsfree.audio.wav`'s business.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Block, Samples
from handsfree.audio.virtual import Listener, RoomNoise, VirtualDuplex
from handsfree.audio.wav import read_wav

__all__ = ["FileDuplex"]


class FileDuplex(VirtualDuplex):
    """A stream whose microphone plays a file from its beginning.

    Args:
        path: A WAV file of any usual form.
        tail_s: Seconds of a quiet room after its end, so that a last answer is heard as ended.
        listener: As for `VirtualDuplex`: told of both sides of each block.

    Raises:
        CallerError: There is no such file.
        DataError: It is no WAV file, or a broken or empty one.
    """

    def __init__(
        self, path: str | Path, *, tail_s: float = 3.0, listener: Listener | None = None
    ) -> None:
        self._sound = read_wav(path)
        self._end = len(self._sound) + round(tail_s * SAMPLE_RATE)
        self._name = str(path)
        super().__init__(self._from_file, noise=RoomNoise(rms=30.0), listener=listener)

    @property
    def ended(self) -> bool:
        """Whether file and tail have been read to their end."""
        return self.position() >= self._end

    def read(self, timeout_s: float) -> Block | None:
        """Return the next block; it never waits.

        Raises:
            DeviceError: The recording has ended, or the stream is closed.
        """
        if self.ended:
            seconds = len(self._sound) / SAMPLE_RATE
            self.lose(
                f"The recording {self._name} has ended after {seconds:.1f} s and the check has "
                "not; resume it with a microphone, by keys or with another recording."
            )
        return super().read(timeout_s)

    def _from_file(self, start: int, count: int) -> Samples:
        piece = self._sound[start : start + count]
        return np.pad(piece, (0, count - len(piece)))
