"""Speaking a few sentences on the loudspeaker, for commands that have an ``--aloud``.

Sound is opened for this alone and closed again; a check has its own stream.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from handsfree.errors import DeviceError

if TYPE_CHECKING:
    from handsfree.records import Settings

__all__ = ["speak"]

GAP_S = 0.25
"""Silence after each sentence."""


def speak(sentences: Sequence[str], settings: Settings) -> None:
    """Speak the sentences with the voice, pace and loudspeaker of the settings; wait till spoken.

    Raises:
        EngineError: There is no voice, or it hangs.
        DeviceError: There is no loudspeaker, or it takes no sound.
    """
    import numpy as np

    from handsfree.audio.device import SAMPLE_RATE
    from handsfree.speaking.espeak import Pyttsx3Synthesiser
    from handsfree.speaking.voice import Voice

    try:
        import sounddevice
    except (ImportError, OSError) as error:
        msg = f"Sound is not installed on this machine ({error}): leave --aloud out and read."
        raise DeviceError(msg) from error
    synthesiser = Pyttsx3Synthesiser()
    voice = Voice(synthesiser, rate_wpm=settings.rate_wpm, voice=settings.voice)
    pieces = [piece for text in sentences for piece in voice.sentences(text)]
    gap = np.zeros(round(GAP_S * SAMPLE_RATE), dtype=np.int16)
    try:
        voice.render_ahead(pieces)
        with sounddevice.OutputStream(
            samplerate=SAMPLE_RATE, channels=1, dtype="int16", device=settings.output_device
        ) as stream:
            for piece in pieces:
                stream.write(np.concatenate([voice.get(piece), gap]).reshape(-1, 1))
    except (sounddevice.PortAudioError, ValueError) as error:
        msg = (
            f"There is no loudspeaker that takes sound ({error}): plug one in, or leave --aloud "
            "out and read."
        )
        raise DeviceError(msg) from error
    finally:
        voice.close()
        synthesiser.close()
