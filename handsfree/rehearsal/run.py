"""Runs a scenario: real speech in, real recognition, real storage, on a virtual clock.

The assistant's side gets a stream, a dog and a person as a live check would; the truth stays with
the examiner.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.virtual import RoomNoise, VirtualDuplex
from handsfree.protocol.loader import load
from handsfree.protocol.subject import Neutered, Part, Sex, Shape, Sight, Size
from handsfree.records import Store
from handsfree.records.model import BirthPrecision, Dog, Person
from handsfree.rehearsal.examiner import Examiner
from handsfree.rehearsal.figures import items_of, score
from handsfree.rehearsal.scenario import Scenario
from handsfree.rehearsal.stage import AskedBack, Began, pass_on, speech
from handsfree.session.assembly import open_check, open_hearing
from handsfree.session.driver import Driver
from handsfree.speaking.espeak import Pyttsx3Synthesiser
from handsfree.speaking.voice import Voice

__all__ = ["rehearse"]

LONGEST_S = 3600
"""A rehearsed check that takes longer is stopped: people who never get through give up."""


def rehearse(
    scenario: Scenario,
    *,
    data: Path | None = None,
    wav: Path | None = None,
    engine: str | None = None,
    tell: Callable[[str, str], None] = lambda _who, _text: None,
    play: Callable[[int, Samples, Samples], None] | None = None,
    noise_rms: float = 45.0,
) -> dict[str, Any]:
    """Run one scenario to its end and return what came of it.

    Args:
        scenario: Which.
        data: Folder for the records; a temporary one if not given.
        wav: Where to write the dialogue, assistant left, person right.
        engine: Recogniser; None for the default.
        tell: Told who says what, as it is said.
        play: Told each block of both sides as it passes, to be heard.
        noise_rms: Level of the room's noise.

    Raises:
        HandsfreeError: Something that a check needs is missing.
    """
    began = Began()
    with ExitStack() as stack:
        folder = data or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        store = stack.enter_context(Store.open(folder))
        protocol = load()
        dog, person = _cast(store, scenario)
        settings = store.settings.get()
        synthesiser = Pyttsx3Synthesiser()
        stack.callback(synthesiser.close)
        synthesiser.start()
        hearing = open_hearing(engine or settings.engine)
        voice = Voice(synthesiser, rate_wpm=person.rate_wpm or settings.rate_wpm, ahead=False)
        stack.callback(voice.close)
        duplex = VirtualDuplex(noise=RoomNoise(seed=scenario.seed, rms=noise_rms))
        driver = Driver(
            duplex=duplex,
            hearing=hearing,
            render=voice.get,
            pace=voice.pace,
            on_text=lambda text: tell("assistant", text),
        )
        speak = speech(synthesiser, tell)
        examiner = Examiner(scenario, protocol, speak=speak, silent=driver.is_silent)

        def source(start: int, count: int) -> Samples:
            if start > LONGEST_S * SAMPLE_RATE:
                driver.stop("the rehearsal came to no end")
            return examiner.source(start, count)

        duplex.source = source
        pass_on(duplex, stack, wav, play)
        asked_back = AskedBack()
        check = open_check(
            store,
            dog,
            person=person,
            settings=settings,
            routine=scenario.routine,
            output=driver,
            engine=hearing.engine,
            on=date.today(),
            observers=(asked_back, examiner.hears),
            helper=False,
            has_keys=False,
            protocol=protocol,
        )
        outcome = driver.run(check.runner, check.opened)
        items = items_of(
            store.exams.answers(check.exam_id),
            scenario.truth,
            protocol,
            dict(protocol.routines[scenario.routine].window_s),
        )
        return {
            "scenario": scenario.id,
            "engine": hearing.engine,
            "exam": {
                "id": check.exam_id,
                "dog": dog.name,
                "routine": scenario.routine,
                "outcome": outcome,
            },
            "items": items,
            "figures": {
                **score(items),
                "asked_back": asked_back.count,
                "corrected_echoes": examiner.corrections,
                **began.figures(driver, duplex),
            },
        }


def _cast(store: Store, scenario: Scenario) -> tuple[Dog, Person]:
    """Put the scenario's invented dog and person into the records."""
    fields = dict(scenario.dog)
    age_months = int(fields.pop("age_months"))
    today = datetime.now(UTC).date()
    born = date(today.year - age_months // 12, today.month, 1)
    dog = store.dogs.add(
        str(fields.pop("name")),
        birth=born,
        birth_precision=BirthPrecision.MONTH,
        sex=Sex(fields.pop("sex", "unknown")),
        neutered=Neutered(fields.pop("neutered", "unknown")),
        shape=Shape(fields.pop("shape", "usual")),
        size=Size(fields.pop("size")) if "size" in fields else None,
        missing=frozenset(Part(part) for part in fields.pop("missing", ())),
        **fields,
    )
    who = dict(scenario.person)
    person = store.people.add(str(who.pop("name")), sight=Sight(who.pop("sight", "full")), **who)
    if scenario.vet_number:
        store.settings.set("vet_number", scenario.vet_number)
    if "weight_kg" in scenario.known:
        store.weights.enter(dog.id, float(scenario.known["weight_kg"]))
    for lump in scenario.known.get("lumps", ()):
        store.lumps.add(dog.id, str(lump))
    return dog, person
