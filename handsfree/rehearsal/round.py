"""Runs a whole round: many dogs, several voices, barking; real speech in, real recognition.

As for one dog, the assistant's side gets a stream and a roster as a live round would; the truth
stays with the simulated people.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.virtual import RoomNoise, VirtualDuplex
from handsfree.kennel.contagion import signs_in
from handsfree.kennel.model import FlagKind, RowKind
from handsfree.kennel.names import Names
from handsfree.kennel.order import Stop
from handsfree.kennel.running import RoundRun, stops_of
from handsfree.protocol.loader import load
from handsfree.protocol.model import Protocol
from handsfree.records import Store
from handsfree.records.model import BirthPrecision, Person
from handsfree.records.rounds import RoundFact
from handsfree.rehearsal.barking import Barking
from handsfree.rehearsal.examiner import Said
from handsfree.rehearsal.figures import items_of, score
from handsfree.rehearsal.handlers import Handlers
from handsfree.rehearsal.kennel_scenario import KennelScenario, RehearsedDog
from handsfree.rehearsal.stage import PERSON_WPM, AskedBack, Began, pass_on, speech
from handsfree.session.assembly import open_hearing
from handsfree.session.driver import Driver
from handsfree.speaking.espeak import Pyttsx3Synthesiser
from handsfree.speaking.voice import Voice

__all__ = ["rehearse_round"]

LONGEST_DOG_S = 600
"""A rehearsed round that takes longer for each dog is stopped."""


def rehearse_round(
    scenario: KennelScenario,
    *,
    data: Path | None = None,
    wav: Path | None = None,
    engine: str | None = None,
    tell: Callable[[str, str], None] = lambda _who, _text: None,
    play: Callable[[int, Samples, Samples], None] | None = None,
    noise_rms: float = 45.0,
) -> dict[str, Any]:
    """Run one round to its end and return what came of it, as ``rehearse`` does for one dog.

    Each item names its ``dog``; the figures hold the seconds of each dog besides.

    Args:
        scenario: Which.
        data: Folder for the records; a temporary one if not given.
        wav: Where to write the dialogue, assistant left, people right.
        engine: Recogniser; None for the default.
        tell: Told who says what, as it is said.
        play: Told each block of both sides as it passes, to be heard.
        noise_rms: Level of the room's noise, without the barking.

    Raises:
        HandsfreeError: Something that a round needs is missing.
    """
    began = Began()
    with ExitStack() as stack:
        folder = data or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        store = stack.enter_context(Store.open(folder))
        protocol = load()
        dogs, people = _cast(store, scenario)
        stops = stops_of(store, site_id=None, row_id=None, now=store.file.clock())
        names = Names(stops, people)
        settings = store.settings.get()
        synthesiser = Pyttsx3Synthesiser()
        stack.callback(synthesiser.close)
        synthesiser.start()
        hearing = open_hearing(engine or settings.engine, composer=names.compose)
        voice = Voice(synthesiser, rate_wpm=people[0].rate_wpm or settings.rate_wpm, ahead=False)
        stack.callback(voice.close)
        duplex = VirtualDuplex(noise=RoomNoise(seed=scenario.seed, rms=noise_rms))
        driver = Driver(
            duplex=duplex, hearing=hearing, render=voice.get,
            on_text=lambda text: tell("assistant", text),
        )  # fmt: skip
        speak = speech(synthesiser, tell)
        handlers = Handlers(
            scenario, protocol, speak=speak, silent=driver.is_silent,
            dogs=dogs,
            people={p.id: scenario.handler(p.name) for p in people},
        )  # fmt: skip
        level = _rms(synthesiser.render("how many left", voice=scenario.people[0].speaks,
                                        rate_wpm=PERSON_WPM))  # fmt: skip
        barking = Barking(
            seed=scenario.seed, rms=level * 10 ** (scenario.bark_db / 20),
            share=scenario.bark_share,
        )  # fmt: skip

        def source(start: int, count: int) -> Samples:
            if start > LONGEST_DOG_S * len(stops) * SAMPLE_RATE:
                driver.stop("the rehearsal came to no end")
            sound = handlers.source(start, count) + barking.at(start, count)
            loudest = np.clip(sound, -32768, 32767)
            return np.asarray(loudest, dtype=np.int16)

        duplex.source = source
        pass_on(duplex, stack, wav, play)
        asked_back = AskedBack()

        def suit(person: Person) -> None:
            voice.suit(rate_wpm=person.rate_wpm or settings.rate_wpm, voice=person.voice)

        missed = RoundRun(
            store, stops, names, driver=driver, output=driver, engine=hearing.engine,
            person=people[0], by_keys=False, has_keys=False,
            observers=(asked_back, handlers.hears), on_person=suit,
        ).run()  # fmt: skip
        facts = store.rounds.facts(datetime.min.replace(tzinfo=UTC))
        items = _items(store, facts, dogs, protocol)
        times = _times(handlers.places, handlers.said, scenario, duplex.position())
        return {
            "scenario": scenario.id,
            "engine": hearing.engine,
            "exam": {
                "id": facts[0].round_id,
                "dog": None,
                "routine": "kennel",
                "outcome": "complete" if facts[-1].name == "ended" else "partial",
            },
            "items": items,
            "figures": {
                **score(items),
                "asked_back": asked_back.count,
                "corrected_echoes": handlers.corrections,
                **began.figures(driver, duplex),
                "dogs": len(stops),
                "not_seen": [_named(stop) for stop in missed],
                "flags": _flags(store, dogs),
                "well_dog": {
                    wording: _summary([one for one in times if one["wording"] == wording])
                    for wording in ("full", "short")
                },
                "dogs_s": times,
            },
        }


def _rms(sound: Samples) -> float:
    return float(np.sqrt(np.mean(sound.astype(np.float64) ** 2)))


def _named(stop: Stop) -> dict[str, str]:
    return {"dog": stop.name, "pen": stop.pen}


def _items(
    store: Store, facts: Sequence[RoundFact], dogs: Mapping[str, RehearsedDog], protocol: Protocol
) -> list[dict[str, Any]]:
    """Return the items of each dog's last exam, with the dog's name on each."""
    exams = {f.dog_id: f.exam_id for f in facts if f.name == "seen" and f.dog_id and f.exam_id}
    return [
        {"dog": dogs[dog_id].name, **item}
        for dog_id, exam_id in exams.items()
        for item in items_of(store.exams.answers(exam_id), dogs[dog_id].truth, protocol, {})
    ]


def _flags(store: Store, dogs: Mapping[str, RehearsedDog]) -> dict[str, list[str]]:
    """Return which dogs have a sign that may be catching, and which were flagged for one."""
    raised = {f.dog_id for f in store.rounds.flags() if f.kind is FlagKind.CONTAGIOUS}
    true = {key for key, dog in dogs.items() if signs_in(dog.truth.values.items())}
    true -= {key for key, dog in dogs.items() if dog.absent}
    return {
        "true": sorted(dogs[key].name for key in true),
        "raised": sorted(dogs[key].name for key in raised),
    }


def _times(
    places: Sequence[tuple[str, int]], said: Sequence[Said], scenario: KennelScenario, end: int
) -> list[dict[str, Any]]:
    """Return for each time that a dog was asked for how long it took, and whose time it was.

    The people's own time is what they say and the quiet before they say it; the rest is the
    tool's: its speech, its echoes, and the quiet by which it knows that somebody has finished.
    ``plain`` dogs have nothing unusual, nothing was said of the dog before, and nobody took over.
    """
    by_name = {dog.name: dog for dog in scenario.dogs}
    leads = scenario.people[0]
    before_quiet = True
    out = []
    for index, (name, start) in enumerate(places):
        until = places[index + 1][1] if index + 1 < len(places) else end
        dog = by_name[name]
        theirs = sum(s.after + s.end - s.start for s in said if start <= s.start < until)
        took_over = bool(dog.takes_over) and dog.takes_over != leads.name
        leads = scenario.handler(dog.takes_over) if took_over else leads
        odd = dog.truth.values or dog.first or dog.says or dog.absent or dog.medicine
        plain = not (odd or took_over)
        out.append(
            {
                "dog": name,
                "person": leads.name,
                "wording": "short" if leads.brief else "full",
                "seconds": round((until - start) / SAMPLE_RATE, 1),
                "own_s": round((until - start - theirs) / SAMPLE_RATE, 1),
                "plain": plain and before_quiet and index > 0,
            }
        )
        before_quiet = not dog.truth.values
    return out


def _summary(times: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return how long plain dogs took: their number, the median and the longest."""
    plain = [one for one in times if one["plain"]]
    if not plain:
        return {"dogs": 0}
    return {
        "dogs": len(plain),
        "median_s": round(median(one["seconds"] for one in plain), 1),
        "longest_s": max(one["seconds"] for one in plain),
        "own_median_s": round(median(one["own_s"] for one in plain), 1),
        "own_longest_s": max(one["own_s"] for one in plain),
    }


def _cast(
    store: Store, scenario: KennelScenario
) -> tuple[dict[str, RehearsedDog], tuple[Person, ...]]:
    """Put the invented kennel into the records, unless it is there; return dogs and people."""
    if store.kennel.sites.all():  # the records of a rehearsal that was stopped
        by_name = {one.name: one for one in scenario.dogs}
        return (
            {dog.id: by_name[dog.name] for dog in store.dogs.all()},
            tuple(store.people.find(person.name) for person in scenario.people),
        )
    kennel = store.kennel
    site = kennel.add_site("Rehearsed kennel")
    rows = {name: kennel.add_row(site, name, RowKind(kind)) for name, kind in scenario.rows}
    pens = {}
    dogs = {}
    today = datetime.now(UTC).date()
    for one in scenario.dogs:
        years, months = divmod(today.year * 12 + today.month - 1 - one.age_months, 12)
        dog = store.dogs.add(
            one.name, birth=date(years, months + 1, 1), birth_precision=BirthPrecision.MONTH,
            has_bitten=one.has_bitten,
        )  # fmt: skip
        place = (one.row, one.pen)
        if place not in pens:
            pens[place] = kennel.add_pen(rows[one.row], one.pen)
        kennel.place(dog.id, pens[place].id, "rehearsed")
        if one.medicine:
            kennel.add_medicine(
                dog.id, one.medicine, amount="1 tablet", interval_h=12, set_by="Dr Reed",
                begins=today,
            )  # fmt: skip
        dogs[dog.id] = one
    people = tuple(
        store.people.add(p.name, rate_wpm=p.rate_wpm, brief=True if p.brief else None)
        for p in scenario.people
    )
    if scenario.vet_number:
        store.settings.set("vet_number", scenario.vet_number)
    return dogs, people
