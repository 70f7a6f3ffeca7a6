"""A short look at the sound devices: what they are, how loud the room is, whether a tone is heard.

Used before a check to say whether one could be held. A check has a stream of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import DeviceError

__all__ = [
    "QUIET_S",
    "TONE_S",
    "SoundProbe",
    "level_dbfs",
    "look_at_sound",
    "measured",
    "test_tone",
]

QUIET_S = 0.8
"""Seconds listened to before the tone."""
TONE_S = 0.6
TONE_HZ = 700.0
TONE_DBFS = -26.0
FLOOR_DBFS = -120.0


@dataclass(frozen=True, kw_only=True)
class SoundProbe:
    """What was found.

    Attributes:
        microphone: Its name.
        loudspeaker: Its name.
        room_dbfs: Level while nothing was played, in dB below full scale; FLOOR_DBFS for zeros.
        tone_dbfs: Level while the tone was played.
        silent: Nothing but zeros came: no permission, or muted.
    """

    microphone: str
    loudspeaker: str
    room_dbfs: float
    tone_dbfs: float
    silent: bool

    @property
    def tone_heard(self) -> bool:
        """Whether the microphone heard the loudspeaker: clearly above the room."""
        return self.tone_dbfs > self.room_dbfs + 6.0


def level_dbfs(samples: Samples) -> float:
    """Return the root mean square level of int16 sound, in dB below full scale."""
    if not len(samples):
        return FLOOR_DBFS
    power = float(np.mean(np.square(samples.astype(np.float64) / 32768.0)))
    return max(FLOOR_DBFS, 10 * math.log10(power)) if power > 0 else FLOOR_DBFS


def test_tone() -> Samples:
    """Return a stretch of silence and a soft tone, as they are played, int16 mono."""
    count = round(TONE_S * SAMPLE_RATE)
    time_s = np.arange(count) / SAMPLE_RATE
    fade = np.minimum(1.0, np.minimum(time_s, TONE_S - time_s) / 0.02)
    peak = 32767 * 10 ** (TONE_DBFS / 20) * math.sqrt(2)
    tone = (np.sin(2 * np.pi * TONE_HZ * time_s) * fade * peak).astype(np.int16)
    return np.concatenate([np.zeros(round(QUIET_S * SAMPLE_RATE), dtype=np.int16), tone])


def measured(heard: Samples, *, microphone: str, loudspeaker: str) -> SoundProbe:
    """Return what a recording of ``test_tone`` says; the first tenth of it is settling."""
    start = len(heard) // 10
    middle = round(QUIET_S * SAMPLE_RATE)
    return SoundProbe(
        microphone=microphone,
        loudspeaker=loudspeaker,
        room_dbfs=level_dbfs(heard[start:middle]),
        tone_dbfs=level_dbfs(heard[middle:]),
        silent=not np.any(heard),
    )


def look_at_sound(microphone: str | None = None, loudspeaker: str | None = None) -> SoundProbe:
    """Play a soft tone and listen.

    Args:
        microphone: Name of the device, or None for the system's default.
        loudspeaker: Name of the device, or None for the system's default.

    Raises:
        DeviceError: There is no device, or it cannot be opened.
    """
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        msg = f"Sound is not installed on this machine ({error}): install PortAudio."
        raise DeviceError(msg) from error
    try:
        names = [
            str(sounddevice.query_devices(device, kind)["name"])
            for device, kind in ((microphone, "input"), (loudspeaker, "output"))
        ]
        heard = sounddevice.playrec(
            test_tone().reshape(-1, 1),
            samplerate=SAMPLE_RATE,
            channels=1,
            dtype="int16",
            device=(microphone, loudspeaker),
            blocking=True,
        )
    except (sounddevice.PortAudioError, ValueError) as error:
        msg = (
            f"No microphone or loudspeaker can be opened ({error}): plug one in, or name it with: "
            "handsfree settings set input_device NAME"
        )
        raise DeviceError(msg) from error
    return measured(heard[:, 0], microphone=names[0], loudspeaker=names[1])
