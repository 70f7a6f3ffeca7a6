"""What is being said now, as it grows: plain state of the listener."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from handsfree.hearing.evidence import Talk

__all__ = ["Loud", "Utterance"]


@dataclass(frozen=True)
class Loud:
    """One frame of 10 ms that stands out of the room."""

    start: int
    level_db: float
    clipped: float = 0.0
    over_us: bool = False


@dataclass
class Utterance:
    """An utterance from its onset on. Positions are samples on the stream's clock.

    Attributes:
        began: Where the speech begins, as far as is known.
        onset: Where it began to sound.
        last: One past the last frame of speech.
        deaf: Our own voice muted the microphone up to here.
        early: It was there before we listened.
        ran_on: It took back the answer before it.
        frames: Those that stand out of the room.
        fed_from: From where on the recogniser was fed; negative where nobody listens.
        given_up: It was too long, or is no longer wanted: only its end is awaited.
        asked_at: When the wait after it was last thought about.
        wait: Quiet that ends it, in samples.
        looked_at: When phones were last looked for.
        phones_end: Where the last phone ended; None where there was none yet.
        clear: From where to where it is speech beyond doubt, as found while it lasted.
        talk: It as speech beyond doubt, as found when it was judged.
    """

    began: int
    onset: int
    last: int
    deaf: int = 0
    early: bool = False
    ran_on: bool = False
    frames: list[Loud] = field(default_factory=list)
    fed_from: int = -1
    given_up: bool = False
    asked_at: int = 0
    wait: int = 0
    looked_at: int = 0
    phones_end: int | None = None
    clear: tuple[int, int] | None = None
    talk: Talk | None = None

    @property
    def speech(self) -> tuple[int, ...]:
        """Positions of the frames with speech."""
        return tuple(frame.start for frame in self.frames)

    def level_db(self) -> float:
        """Level of the frames with speech, dB against full scale."""
        power = sum(10.0 ** (frame.level_db / 10.0) for frame in self.frames)
        return 10.0 * float(np.log10(power / max(len(self.frames), 1) + 1e-12))

    def share(self, of: Callable[[Loud], float]) -> float:
        """Return the mean of something over the frames with speech."""
        return sum(map(of, self.frames)) / max(len(self.frames), 1)

    def narrow(self, began: int, last: int) -> None:
        """Leave out what was found to be noise before and after the speech."""
        self.began, self.last = began, max(last, began)
        self.frames = [frame for frame in self.frames if began <= frame.start < last]
