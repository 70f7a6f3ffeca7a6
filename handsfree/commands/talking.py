"""Running a short talk over sound or keys: what begin, measure and practise share.

Opens what the command line and the settings ask for; a talk and a check can follow each other on
the same open microphone.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from handsfree.commands.sound import end_on_signals, keys_driver, live_sound, microphone_of
from handsfree.protocol.subject import Sight

if TYPE_CHECKING:
    from handsfree.hearing.listener import Hearing
    from handsfree.hearing.profile import VoiceProfile
    from handsfree.interview.talk import Talk
    from handsfree.records import Store
    from handsfree.records.model import Person, Settings
    from handsfree.session.runner import Observer, Output
    from handsfree.session.talks import Runs

__all__ = ["Running", "open_running", "run_talk"]


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
    if args.typed:
        by_keys = keys_driver()
        end_on_signals(by_keys.stop)
        yield Running(driver=by_keys, output=by_keys, engine="keys", by_keys=True)
        return
    sound = live_sound(args, store, settings, person, shows=shows, profile=profile)
    with sound as driver:
        end_on_signals(driver.stop)
        yield Running(
            driver=driver,
            output=driver,
            engine=sound.engine,
            by_keys=False,
            microphone=microphone_of(args, settings) or "",
            hearing=driver.hearing,
        )
