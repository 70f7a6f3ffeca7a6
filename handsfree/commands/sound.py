"""Keys or sound as a command line says: its options, the voice, the microphone, what ends it.

Shared by every command that leads somebody by voice. What is said stands in those commands; engines
and devices are imported when they are opened.
"""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from handsfree.commands.shared import line

if TYPE_CHECKING:
    from handsfree.hearing.grammar import ListeningGrammar
    from handsfree.hearing.profile import VoiceProfile
    from handsfree.hearing.verdict import Listening
    from handsfree.records import Store
    from handsfree.records.model import Person, Settings
    from handsfree.session.live import LiveSound
    from handsfree.session.typed import TypedDriver
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

__all__ = [
    "add_sound_options",
    "end_on_signals",
    "keys_driver",
    "live_sound",
    "microphone_of",
    "started_synthesiser",
    "writing",
]


def add_sound_options(parser: argparse.ArgumentParser, *, typed: bool = True) -> None:
    """Add the options on microphone, loudspeaker and keys; not ``typed``: sound is needed."""
    if typed:
        parser.add_argument("--typed", action="store_true", help="by keys alone, without any sound")
    else:
        parser.set_defaults(typed=False)
    parser.add_argument("--mic", metavar="NAME", help="microphone, by name or number")
    parser.add_argument("--speaker", metavar="NAME", help="loudspeaker, by name or number")
    parser.add_argument("--no-keys", action="store_true", help="do not read the keyboard")


@contextmanager
def started_synthesiser(args: argparse.Namespace) -> Iterator[Pyttsx3Synthesiser]:
    """Give the voice's engine, which loads in a process of its own while all else is imported.

    By keys it is never started. It is closed in the end.
    """
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    synthesiser = Pyttsx3Synthesiser()
    if not args.typed:
        synthesiser.start()
    try:
        yield synthesiser
    finally:
        synthesiser.close()


def writing(shows: Callable[[], bool]) -> Callable[[str], None]:
    """Return what prints a line at once, where it ``shows`` now.

    A screen reader would talk over the voice: with little sight nothing is printed.
    """

    def write(text: str) -> None:
        if shows():
            line(text)
            sys.stdout.flush()

    return write


def keys_driver() -> TypedDriver:
    """Return the driver for typed lines, which prints all that is said."""
    from handsfree.session.keys import read_lines
    from handsfree.session.typed import TypedDriver

    return TypedDriver(lines=read_lines(sys.stdin), write=writing(lambda: True))


def microphone_of(args: argparse.Namespace, settings: Settings) -> str | None:
    """Return the microphone that the command line or the settings name; None for the default."""
    named: str | None = args.mic or settings.input_device
    return named


def live_sound(
    args: argparse.Namespace,
    store: Store,
    settings: Settings,
    person: Person | None,
    *,
    shows: Callable[[], bool],
    keep_audio: str | None = None,
    profile: VoiceProfile | None = None,
    synthesiser: Pyttsx3Synthesiser | None = None,
    composer: Callable[[Listening], ListeningGrammar] | None = None,
) -> LiveSound:
    """Return the sound that the command line and the settings ask for, not opened yet.

    Args:
        args: With the options of ``add_sound_options``.
        store: The records; the installed models stand beside them.
        settings: Devices, engine, voice and pace.
        person: Whose own voice and pace go before the settings'.
        shows: Whether a line may be printed now.
        keep_audio: WAV file to keep the dialogue in.
        profile: Levels of this person at this microphone.
        synthesiser: The voice's engine, where it was started already.
        composer: Makes what is listened for, where it is more than the grammar files hold.
    """
    from handsfree.commands.paths import models_folder
    from handsfree.hearing.grammar import compose
    from handsfree.session.live import LiveSound

    return LiveSound(
        settings=settings,
        person=person,
        microphone=microphone_of(args, settings),
        loudspeaker=args.speaker or settings.output_device,
        keep_audio=keep_audio,
        keys=None if args.no_keys or not sys.stdin.isatty() else sys.stdin,
        write=writing(shows),
        models=models_folder(store.path.parent),
        profile=profile,
        synthesiser=synthesiser,
        composer=composer or compose,
    )


def end_on_signals(stop: Callable[[str], None]) -> None:
    """Stop, with the signal's name, where the system tells this program to end."""

    def end(number: int, _frame: object) -> None:
        stop(signal.Signals(number).name)

    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
