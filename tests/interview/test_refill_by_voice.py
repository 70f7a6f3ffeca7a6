"""The spoken stopwatch as a whole: speech through hearing, machine and records."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from handsfree.dialogue.actions import Action, Ask
from handsfree.dialogue.events import Event, Heard
from handsfree.interview.measures import MEASURES, machine_for, with_measure
from handsfree.protocol.loader import load
from handsfree.records import Store
from handsfree.session.assembly import open_check

from .room import Room, room

REFILLS_S = (1.2, 1.3, 1.0, 1.4)


def _press(ask: Ask) -> str | None:
    return {"press": "press", "closing": "done"}.get(ask.stage)


class _Gap:
    """Loses samples once, right after the first release was heard."""

    def __init__(self, opened: Room) -> None:
        self._opened = opened
        self._left = 1

    def __call__(self, event: Event, actions: tuple[Action, ...]) -> None:
        best = event.verdict.best if isinstance(event, Heard) else None
        if self._left and best is not None and best.meaning.value == "release":
            self._left = 0
            self._opened.duplex.drop(1600)


def test_a_refill_is_timed_from_speech_and_a_gap_voids_the_repeat(tmp_path: Path) -> None:
    """Each stored interval lies within 80 ms of what was spoken; lost samples cost one repeat."""
    protocol = load()
    with (
        Store.open(tmp_path) as store,
        room(_press, refills_s=REFILLS_S) as opened,
    ):
        store.dogs.add("Rex")
        check = open_check(
            store,
            store.dogs.find("Rex"),
            person=None,
            settings=store.settings.get(),
            routine="measure_refill",
            output=opened.running.output,
            engine=opened.running.engine,
            on=date(2026, 1, 1),
            observers=(*opened.running.observers, _Gap(opened)),
            resume=False,
            protocol=with_measure(protocol, MEASURES["refill"]),
            machine=machine_for("measure_refill", protocol),
        )
        assert opened.running.driver.run(check.runner, check.opened) == "complete"
        repeats = store.exams.measurements(check.exam_id)
        answers = {a.item: a for a in store.exams.answers(check.exam_id)}
    assert [repeat.spoiled for repeat in repeats] == ["gap", "", "", ""]
    assert not any(repeat.doubtful for repeat in repeats)
    for repeat, truth_s in zip(repeats[1:], REFILLS_S[1:], strict=True):
        # What is known is when the sounds were played: "release" and "now" begin within 80 ms.
        assert repeat.value == pytest.approx(truth_s, abs=0.08)
    assert answers["mouth.refill"].value == pytest.approx(1.3, abs=0.08)
    assert opened.driver.figures.lost_samples == 1600
