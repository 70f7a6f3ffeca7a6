"""An invented dog with half a year of checks, written through the records' own door."""

from __future__ import annotations

from datetime import date, datetime, timedelta, timezone

import pytest
from moved_clock import MovedClock

from handsfree.dialogue.actions import Confirm, Confirmed, Record, Status
from handsfree.protocol.subject import Neutered, Sex
from handsfree.records import Dog, Store, Versions

VERSIONS = Versions(protocol="p1", grammars="g1", engine="none 0", rules="r1", program="0")
TODAY = date(2026, 11, 25)
ZONE = timezone(timedelta(hours=1))
Row = tuple[str, str | None, str | float | None, str | None]


@pytest.fixture
def clock() -> MovedClock:
    """Return a clock that the test sets, on the day of the first check."""
    return MovedClock(datetime(2026, 5, 20, 9, 0, tzinfo=ZONE))


def check(
    store: Store,
    dog: Dog,
    rows: list[Row],
    *,
    routine: str = "full",
    missing: tuple[tuple[str, str | None, str], ...] = (),
    methods: dict[str, tuple[tuple[str, str | float], ...]] | None = None,
    possible: frozenset[str] = frozenset(),
    finish: str | None = "complete",
) -> str:
    """Store one whole check and judge it; return its key."""
    from handsfree.judging.gather import judge_exam, keep, telling_of
    from handsfree.judging.rules import read_table

    exam = store.exams.begin(dog.id, person_id=None, routine=routine, versions=VERSIONS)
    ref = 0
    for item, side, value, unit in rows:
        ref += 1
        store.exams.record(
            exam.id,
            Record(
                ref=ref,
                item=item,
                side=side,
                status=Status.OBSERVED,
                value=value,
                unit=unit,
                words=str(value).replace("_", " "),
                method=(methods or {}).get(item, ()),
            ),
        )
        settled = Confirmed.POSSIBLE if item in possible else Confirmed.CONFIRMED
        store.exams.confirm(exam.id, Confirm(ref=ref, confirmed=settled))
    for item, side, reason in missing:
        ref += 1
        store.exams.record(
            exam.id,
            Record(ref=ref, item=item, side=side, status=Status.NOT_OBSERVED, reason=reason),
        )
    store.lumps.take_over(exam.id)
    if finish is not None:
        store.exams.finish(exam.id, finish)
        table = read_table()
        keep(store, exam.id, judge_exam(store, exam.id, table), telling_of(store, dog.id, table))
    return exam.id


USUAL: list[Row] = [
    ("watch.attitude", None, "bright", None),
    ("watch.gait", None, "normal", None),
    ("watch.breathing", None, "easy", None),
    ("noticed.change", None, "nothing", None),
    ("mouth.gum_colour", None, "pink", None),
    ("mouth.gum_moisture", None, "wet", None),
    ("mouth.teeth", None, "tartar", None),
    ("nose.look", None, "normal", None),
    ("neck.feel", None, "normal", None),
    ("belly.feel", None, "soft", None),
    ("coat.look", None, "normal", None),
    ("rear.look", None, "clean", None),
]
REFILL = (
    ("way", "spoken stopwatch"),
    ("repeats", 3.0),
    ("spread_s", 0.4),
    ("range_low_s", 1.0),
    ("range_high_s", 2.0),
    ("doubtful", "no"),
)
WINDOW = (("way", "counted window"), ("window_s", 30.0), ("events", 9.0), ("resolution_per_min", 2))


def fill(store: Store, clock: MovedClock) -> Dog:
    """Write the invented dog Bramble: seven checks, a lump that grows, a red ear at the end."""
    store.settings.set("vet_name", "the invented practice")
    store.settings.set("vet_number", "01632 960 100")
    dog = store.dogs.add(
        "Bramble",
        birth=date(2018, 5, 15),
        breed="lurcher",
        sex=Sex.FEMALE,
        neutered=Neutered.YES,
        owner="an invented owner",
        known=("an old scar on the left thigh",),
    )
    for number in range(7):
        clock.now = datetime(2026, 5, 20, 9, 0, tzinfo=ZONE) + timedelta(days=28 * number)
        rows: list[Row] = [
            *USUAL,
            ("weight.scale", None, "platform", None),
            ("weight.kg", None, (23.9, 24.0, 23.8, 24.1, 23.9, 23.6, 22.4)[number], "kg"),
            ("breaths.state", None, "asleep", None),
            ("breaths.rate", None, (16.0, 18.0, 16.0, 14.0, 18.0, 16.0, 24.0)[number], "/min"),
            ("heart.rate", None, (84.0, 88.0, 80.0, 86.0, 84.0, 90.0, 96.0)[number], "/min"),
            ("heart.mood", None, "calm", None),
            ("temperature.site", None, "rectal", None),
            (
                "temperature.degrees",
                None,
                (38.4, 38.6, 38.5, 38.4, 38.6, 38.5, 39.3)[number],
                "Cel",
            ),
            ("mouth.refill", None, (1.2, 1.4, 1.3, 1.2, 1.5, 1.4, 1.8)[number], "s"),
            ("eyes.look", "left", "normal", None),
            ("eyes.look", "right", "normal", None),
            ("ears.look", "left", "red" if number in (2, 6) else "clean", None),
            ("ears.look", "right", "clean", None),
            ("feet.foot", "left_hind", "cut" if number == 6 else "fine", None),
        ]
        if number == 1:
            rows += [
                ("lumps.new", None, "one", None),
                ("lumps.new_place", "first", "chest", None),
                ("lumps.new_side", "first", "left", None),
                ("lumps.new_length", "first", 10.0, "mm"),
                ("lumps.new_width", "first", 8.0, "mm"),
            ]
        if number > 1:
            rows += [
                ("lumps.known", "lump1", "changed" if number == 6 else "same", None),
                ("lumps.known_length", "lump1", (0, 0, 10.0, 11.0, 11.0, 12.0, 16.0)[number], "mm"),
                ("lumps.known_width", "lump1", 9.0, "mm"),
            ]
        check(
            store,
            dog,
            rows,
            missing=(("mammary.line", None, "dog_refused"), ("rear.tail", None, "skipped")),
            methods={"mouth.refill": REFILL, "breaths.rate": WINDOW, "heart.rate": WINDOW},
        )
    clock.now = datetime(2026, 11, 25, 10, 0, tzinfo=ZONE)
    return dog


@pytest.fixture
def bramble(store: Store, clock: MovedClock) -> Dog:
    """Return an invented dog with seven checks, the last on 4 November 2026."""
    return fill(store, clock)
