"""Opening all that a live check needs, in the order that has the first word spoken soonest.

The synthesiser starts in its own process while the sound device opens; hearing loads meanwhile. All
is closed again however the check ends.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

import numpy as np

from handsfree.audio.device import BLOCK_SAMPLES, SAMPLE_RATE, Block, Duplex, Samples
from handsfree.hearing.grammar import ListeningGrammar, compose
from handsfree.hearing.profile import VoiceProfile
from handsfree.hearing.verdict import Listening
from handsfree.records.model import Person, Settings
from handsfree.session.driver import Driver
from handsfree.session.keys import read_lines
from handsfree.speaking.espeak import Pyttsx3Synthesiser

if TYPE_CHECKING:
    from handsfree.speaking.voice import Voice

__all__ = ["LiveSound", "Player"]


class LiveSound:
    """Microphone, loudspeaker, hearing and voice for one check, as a context that gives the driver.

    Args:
        settings: Devices, engine, voice and pace.
        person: Whose own voice and pace go before the settings'.
        microphone: Name or number; None for the default.
        loudspeaker: The same.
        keep_audio: WAV file to keep the dialogue in; None keeps no sound.
        keys: Where typed lines come from; None where the keyboard is not read.
        write: Shows one line to a person who sees.
        models: Folder of installed Vosk models.
        synthesiser: The voice's engine, best started already; closed with the rest.
        composer: Makes what is listened for, where it is more than the grammar files hold.
        profile: Levels of this person at this microphone, as learned in practice.
    """

    def __init__(
        self,
        *,
        settings: Settings,
        person: Person | None,
        microphone: str | None,
        loudspeaker: str | None,
        keep_audio: str | None,
        keys: TextIO | None,
        write: Callable[[str], None],
        models: Path,
        profile: VoiceProfile | None = None,
        synthesiser: Pyttsx3Synthesiser | None = None,
        composer: Callable[[Listening], ListeningGrammar] = compose,
    ) -> None:
        self._composer = composer
        self._synthesiser = synthesiser or Pyttsx3Synthesiser()
        self._profile = profile
        self._settings = settings
        self._person = person
        self._microphone = microphone
        self._loudspeaker = loudspeaker
        self._keep_audio = keep_audio
        self._keys = keys
        self._write = write
        self._models = models
        self._stack = ExitStack()
        self.engine = ""
        self._voice: Voice | None = None

    def suit(self, person: Person) -> None:
        """Speak from now on in the pace and voice of somebody who takes over."""
        if self._voice is not None:
            self._voice.suit(
                rate_wpm=person.rate_wpm or self._settings.rate_wpm,
                voice=person.voice or self._settings.voice,
            )

    def __enter__(self) -> Driver:
        """Open everything.

        Raises:
            DeviceError: There is no usable sound device.
            EngineError: No recogniser or no voice loads.
        """
        with self._stack:
            driver = self._open()
            self._stack = self._stack.pop_all()
        return driver

    def _open(self) -> Driver:
        from handsfree.session.assembly import open_hearing
        from handsfree.speaking.voice import Voice

        synthesiser = self._synthesiser
        self._stack.callback(synthesiser.close)
        synthesiser.start()
        with ThreadPoolExecutor(max_workers=1) as pool:
            hearing = pool.submit(
                open_hearing,
                self._settings.engine,
                models=self._models,
                profile=self._profile,
                composer=self._composer,
            )
            duplex = self._open_duplex()
            opened_hearing = hearing.result()
        self.engine = opened_hearing.engine
        person = self._person
        voice = Voice(
            synthesiser,
            rate_wpm=(person.rate_wpm if person else None) or self._settings.rate_wpm,
            voice=(person.voice if person else None) or self._settings.voice,
        )
        self._stack.callback(voice.close)
        self._voice = voice

        driver = Driver(
            duplex=duplex,
            hearing=opened_hearing,
            render=voice.get,
            pace=voice.pace,
            keys=None if self._keys is None else read_lines(self._keys),
            reopen=self._open_duplex,
            on_text=self._write,
            render_ahead=voice.render_ahead,
        )
        self._stack.callback(driver.close)
        return driver

    def _open_duplex(self) -> Duplex:
        from handsfree.audio.choosing import refresh_devices
        from handsfree.audio.live import LiveDuplex

        refresh_devices()
        duplex: Duplex = LiveDuplex(self._microphone, self._loudspeaker)
        if self._keep_audio is not None:
            duplex = _Keeping(duplex, Path(self._keep_audio), self._stack)
        return duplex

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stack.close()


class _Keeping:
    """A stream whose two sides are written to a WAV file as they pass."""

    def __init__(self, duplex: Duplex, path: Path, stack: ExitStack) -> None:
        from handsfree.audio.wav import DialogueWriter

        self._duplex = duplex
        self._writer = stack.enter_context(DialogueWriter(_unused(path)))
        self.stream_id = duplex.stream_id

    def read(self, timeout_s: float) -> Block | None:
        block = self._duplex.read(timeout_s)
        if block is not None:
            self._writer.write(block.reference, block.samples)
        return block

    def play(self, samples: Samples, *, at: int | None = None) -> int:
        return self._duplex.play(samples, at=at)

    def playing(self) -> bool:
        return self._duplex.playing()

    def stop_playing(self) -> None:
        self._duplex.stop_playing()

    def duck(self, gain_db: float) -> None:
        self._duplex.duck(gain_db)

    def position(self) -> int:
        return self._duplex.position()

    def close(self) -> None:
        self._duplex.close()


def _unused(path: Path) -> Path:
    """Return ``path``, numbered where a file of that name is there: nothing is overwritten."""
    count = 2
    free = path
    while free.exists():
        free = path.with_stem(f"{path.stem}-{count}")
        count += 1
    return free


class Player:
    """Plays both sides of a rehearsal on the loudspeaker, as fast as it takes them."""

    def __init__(self) -> None:
        from handsfree.audio.choosing import library

        self._stream = library().OutputStream(samplerate=SAMPLE_RATE, channels=1, dtype="int16")
        self._stream.start()
        self._held: list[Samples] = []

    def block(self, start: int, ours: Samples, theirs: Samples) -> None:
        """Play one block of both sides together; waits while the loudspeaker is full."""
        both = ours.astype(np.int32) + theirs.astype(np.int32)
        self._held.append(np.clip(both, -32768, 32767).astype(np.int16))
        if len(self._held) * BLOCK_SAMPLES >= SAMPLE_RATE // 10:
            self._stream.write(np.concatenate(self._held).reshape(-1, 1))
            self._held.clear()

    def close(self) -> None:
        """Play what is left, and release the device."""
        if self._held:
            self._stream.write(np.concatenate(self._held).reshape(-1, 1))
        self._stream.stop()
        self._stream.close()
