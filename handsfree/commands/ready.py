"""``handsfree ready``: is everything here that a check needs, and if not, what to do about it."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands.paths import models_folder
from handsfree.commands.settings import NO_VET
from handsfree.commands.shared import Subparsers, add_command, data_dir, line
from handsfree.errors import HandsfreeError

if TYPE_CHECKING:
    from handsfree.audio.probe import SoundProbe
    from handsfree.records import Settings

__all__ = ["Finding", "State", "find_all", "register", "sound_findings"]

FREE_BYTES = 200 * 2**20
"""Less room than this on the disk is told."""
LOUD_DBFS = -30.0
QUIET_DBFS = -80.0
"""A room louder, or a microphone quieter, than these is told; our own judgement."""


class State(StrEnum):
    """How one thing stands."""

    OK = "ok"
    NOTE = "note"
    """A check can be held, but something is missing or worse than it could be."""
    MISSING = "missing"
    """No spoken check can be held without it."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing that was looked at: what it is, how it stands, and what to do about it."""

    what: str
    state: State
    text: str
    exit_code: int = 0

    def __str__(self) -> str:
        return f"{self.what}: {self.state.value}. {self.text}"


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "ready",
        about="look whether everything is here that a check needs, and say what to do",
        example="handsfree ready\nhandsfree ready --aloud",
        run=_run,
    )
    parser.add_argument("--aloud", action="store_true", help="speak it as well")


def _run(args: argparse.Namespace) -> int:
    findings = []
    for finding in find_all(data_dir(args)):
        findings.append(finding)
        line(str(finding))
        sys.stdout.flush()
    missing = [finding for finding in findings if finding.state is State.MISSING]
    last = _last_words(missing)
    line(last)
    if args.aloud:
        from handsfree.commands.aloud import speak
        from handsfree.records import Settings

        settings = _settings(data_dir(args)) or Settings()
        told = [f"{f.what}: {f.text}" for f in findings if f.state is not State.OK]
        speak([*told, last], settings)
    return missing[0].exit_code if missing else 0


def _last_words(missing: list[Finding]) -> str:
    if not missing:
        return "Ready: a spoken check can be held."
    names = ", ".join(finding.what for finding in missing)
    words = f"Not ready for a spoken check: {names}."
    if not {"records", "check"} & {finding.what for finding in missing}:
        words += " By keys it can be held now: handsfree check DOG --typed"
    return words


def find_all(
    data: Path,
    *,
    look: Callable[[Settings], SoundProbe] | None = None,
    sound: bool = True,
    engines: bool = True,
) -> Iterator[Finding]:
    """Look at one thing after another.

    Args:
        data: The data folder.
        look: What looks at the sound devices; the real ones if not given.
        sound: Look at the sound devices; not while they are in use.
        engines: Load what hears and speaks.
    """
    from handsfree.records import Settings

    yield from _guarded("records", lambda: _records(data))
    settings = _settings(data) or Settings()
    yield from _guarded("check", _check_data)
    if engines:
        yield from _guarded("hearing", lambda: _hearing(settings, data))
        yield from _guarded("second ear", _second_ear)
        yield from _guarded("phones", _phones)
        yield from _guarded("voice", lambda: _voice(settings))
    if sound:
        yield from _guarded("sound", lambda: sound_findings((look or _look)(settings)))
    yield from _guarded("practice", lambda: _practice(data))
    yield from _vet(settings)


def _guarded(what: str, look: Callable[[], list[Finding]]) -> Iterator[Finding]:
    try:
        yield from look()
    except HandsfreeError as error:
        yield Finding(what=what, state=State.MISSING, text=str(error), exit_code=error.exit_code)


def _ok(what: str, text: str) -> Finding:
    return Finding(what=what, state=State.OK, text=text)


def _note(what: str, text: str) -> Finding:
    return Finding(what=what, state=State.NOTE, text=text)


def _settings(data: Path) -> Settings | None:
    from handsfree.records import Store

    try:
        with Store.open(data) as store:
            return store.settings.get()
    except HandsfreeError:
        return None  # told already, as what is wrong with the records


def _records(data: Path) -> list[Finding]:
    from handsfree.records import Store

    with Store.open(data) as store:
        dogs, people = len(store.dogs.all()), len(store.people.all())
        found = [_ok("records", f"{dogs} dogs and {people} people in {store.path}.")]
        if not dogs:
            found.append(_note("dog", "None yet. Add one with: handsfree dog add NAME"))
    free = shutil.disk_usage(data).free
    if free < FREE_BYTES:
        found.append(_note("disk", f"Only {free / 2**20:.0f} MB are free: make room."))
    return found


def _check_data() -> list[Finding]:
    from handsfree.protocol.loader import load

    protocol = load()
    count = sum(len(region.question) for region in protocol.regions.values())
    return [_ok("check", f"{count} questions, routines {', '.join(protocol.routines)}.")]


def _hearing(settings: Settings, data: Path) -> list[Finding]:
    from handsfree.hearing.engines import choose
    from handsfree.hearing.models import current

    model = current(models_folder(data))
    engine = choose(None if settings.engine == "auto" else settings.engine, vosk_model=model)
    return [_ok("hearing", f"{engine.name} {engine.version}.")]


def _second_ear() -> list[Finding]:
    from handsfree.hearing.engines import second_ear

    ear, why = second_ear()
    return [_note("second ear", why) if ear is None else _ok("second ear", "It is there.")]


def _phones() -> list[Finding]:
    from handsfree.hearing.engines import phone_reader, second_ear

    ear, _ = second_ear()
    if ear is None:
        return [_note("phones", "The phone network needs the second ear: hearing asks back more.")]
    reader, why = phone_reader(ear)
    return [_note("phones", why) if reader is None else _ok("phones", "The network is there.")]


def _voice(settings: Settings) -> list[Finding]:
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    synthesiser = Pyttsx3Synthesiser()
    try:
        samples = synthesiser.render("Ready.", rate_wpm=settings.rate_wpm, voice=settings.voice)
        return [_ok("voice", f"{synthesiser.version}; a word took {len(samples) / 16_000:.1f} s.")]
    finally:
        synthesiser.close()


def _look(settings: Settings) -> SoundProbe:
    from handsfree.audio.probe import look_at_sound

    return look_at_sound(settings.input_device, settings.output_device)


def sound_findings(probe: SoundProbe) -> list[Finding]:
    """Return what a look at the sound devices means."""
    from handsfree.errors import DeviceError

    if probe.silent:
        text = (
            f"{probe.microphone} gives nothing but zeros: unmute it, and allow this terminal to "
            "use the microphone in the system's privacy settings."
        )
        return [
            Finding(
                what="microphone", state=State.MISSING, text=text, exit_code=DeviceError.exit_code
            )
        ]
    room = f"{probe.microphone}, room at {probe.room_dbfs:.0f} dB below full scale"
    if probe.room_dbfs > LOUD_DBFS:
        found = [_note("microphone", f"{room}: too loud. Turn it down, or use a headset.")]
    elif probe.room_dbfs < QUIET_DBFS:
        found = [_note("microphone", f"{room}: very quiet. Is it the right one, and turned up?")]
    else:
        found = [_ok("microphone", f"{room}.")]
    if probe.tone_heard:
        found.append(_ok("loudspeaker", f"{probe.loudspeaker}; the microphone heard its tone."))
    else:
        text = (
            f"{probe.loudspeaker} played a tone that the microphone did not hear: with a headset "
            "that is as it should be, else turn it up."
        )
        found.append(_note("loudspeaker", text))
    return found


def _practice(data: Path) -> list[Finding]:
    from handsfree.records import Store

    found = []
    with Store.open(data) as store:
        for profile in store.profiles.voices():
            who = profile.person or "somebody"
            where = profile.microphone or "the default microphone"
            text = (
                f"{who} at {where}: voice {profile.margin_db:.0f} dB above the room, "
                f"{len(profile.well_heard)} words heard well."
            )
            if profile.badly_heard:
                text += f" Not well: {', '.join(profile.badly_heard)}."
            found.append(_ok("practice", text))
        for person in store.people.all():
            lag = store.profiles.lag(person.id)
            if lag is not None:
                text = (
                    f"{person.name} says now {lag.median_s:.2f} s after the change, "
                    f"give or take {lag.spread_s:.2f} s ({lag.trials} trials)."
                )
                found.append(_ok("stopwatch", text))
    if not found:
        found.append(_note("practice", "None yet. Try: handsfree practise"))
    return found


def _vet(settings: Settings) -> list[Finding]:
    if settings.vet_number is None:
        return [_note("vet number", NO_VET)]
    return [_ok("vet number", f"{settings.vet_number}.")]
