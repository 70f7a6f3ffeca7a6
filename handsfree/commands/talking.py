"""Running a short talk over sound or keys: what begin, measure and practise share.

Opens what the command line and the settings ask for; a talk and a check can follow each other on
the same open microphone.
"""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from handsfree.commands.shared import line
from handsfree.protocol.subject import Sight

if TYPE_CHECKING:
    from handsfree.hearing.listener import Hearing
    from handsfree.hearing.profile import VoiceProfile
    from handsfree.interview.talk import Talk
    from handsfree.records import Store
    from handsfree.records.model import Person, Settings
    from handsfree.session.runner import Observer, Output
    from handsfree.session.talks import Runs

__all__ = ["Running", "add_sound_options", "open_running", "run_talk"]


@dataclass(kw_only=True)
class Running:
    """What is open.

    Attributes:
        driver: Runs talks and checks.
        output: The same driver, as who speaks and listens.
        engine: What hears, for the record.
        by_keys: There is no sound.
        microphone: Name of the microphone; empty for the default.
        hearing: What hears, for its levels; None by keys.
        observers: Told each event with its actions, in talks and checks alike.
    """

    driver: Runs
    output: Output
    engine: str
    by_keys: bool
    microphone: str = ""
    hearing: Hearing | None = None
    observers: Sequence[Observer] = ()


def run_talk(
    running: Running,
    talk: Talk,
    *,
    sight: Sight = Sight.FULL,
    person: str = "",
    units: str = "metric",
) -> str:
    """Run a talk that stores nothing by itself, and return its outcome."""
    from handsfree.session.talks import run_unstored

    return run_unstored(
        running.driver,
        running.output,
        talk,
        observers=running.observers,
        sight=sight,
        person=person,
        units=units,
    )


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
def open_running(
    args: argparse.Namespace,
    store: Store,
    settings: Settings,
    person: Person | None,
    *,
    shows: Callable[[], bool],
    profile: VoiceProfile | None = None,
) -> Iterator[Running]:
    """Open keys or sound as the command line says.

    Args:
        args: With the options of ``add_sound_options``.
        store: The records.
        settings: Devices, engine, voice and pace.
        person: Whose own voice and pace go before the settings'.
        shows: Whether a line may be printed now: not to a person whose screen reader would speak.
        profile: Levels of this person at this microphone.

    Raises:
        DeviceError: There is no usable sound device.
        EngineError: No recogniser or no voice loads.
    """

    def write(text: str) -> None:
        if args.typed or shows():
            line(text)
            sys.stdout.flush()

    if args.typed:
        from handsfree.session.keys import read_lines
        from handsfree.session.typed import TypedDriver

        by_keys = TypedDriver(lines=read_lines(sys.stdin), write=write)
        _on_signals(by_keys.stop)
        yield Running(driver=by_keys, output=by_keys, engine="keys", by_keys=True)
        return
    from handsfree.commands.paths import models_folder
    from handsfree.session.live import LiveSound

    microphone = args.mic or settings.input_device
    sound = LiveSound(
        settings=settings,
        person=person,
        microphone=microphone,
        loudspeaker=args.speaker or settings.output_device,
        keep_audio=None,
        keys=None if args.no_keys or not sys.stdin.isatty() else sys.stdin,
        write=write,
        models=models_folder(store.path.parent),
        profile=profile,
    )
    with sound as driver:
        _on_signals(driver.stop)
        yield Running(
            driver=driver,
            output=driver,
            engine=sound.engine,
            by_keys=False,
            microphone=microphone or "",
            hearing=driver.hearing,
        )


def _on_signals(stop: Callable[[str], None]) -> None:
    def end(number: int, _frame: object) -> None:
        stop(signal.Signals(number).name)

    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
