"""Random edits and sharings of two stations, against a model of a few lines."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks._postgres import Server
from handsfree.judging.differing import differences_of
from handsfree.records import Store
from handsfree.sync.station import share

from .deeds import observe

FIELDS = ("looks", "breed", "owner")
STEPS = st.lists(
    st.tuples(st.integers(0, 1), st.sampled_from((*FIELDS, "share")), st.integers(0, 9)),
    max_size=12,
)


@settings(
    max_examples=12, deadline=None, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(steps=STEPS)
def test_the_newest_edit_of_each_field_holds_everywhere(
    server: Server, steps: list[tuple[int, str, int]]
) -> None:
    """The model: of each field the value with the greatest time and key, and every edit kept."""
    with (
        tempfile.TemporaryDirectory() as name,
        Store.open(Path(name) / "a") as a,
        Store.open(Path(name) / "b") as b,
    ):
        dog = a.dogs.add("Moss").id
        for store in (a, b):
            share(store, server.address())
        model: dict[str, tuple[object, str, object]] = {}
        kept = set()
        for which, what, value in steps:
            store = (a, b)[which]
            if what == "share":
                share(store, server.address(), batch=1 + value)
                continue
            before = {edit.id for edit in store.dogs.history(dog, what)}
            store.dogs.edit(dog, **{what: f"{value}"})
            for edit in store.dogs.history(dog, what):
                if edit.id not in before:
                    kept.add(edit.id)
                    new = (edit.at, edit.id, edit.value)
                    model[what] = max(model.get(what, new), new)
        for store in (a, b, a):
            share(store, server.address())
        for store in (a, b):
            now = store.dogs.get(dog)
            for what, (_, _, wanted) in model.items():
                assert getattr(now, what) == wanted
            assert kept <= {edit.id for edit in store.dogs.history(dog)}
        assert a.dogs.history(dog) == b.dogs.history(dog)


WORDS = ("all", "half", "none")
DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("says"), st.integers(0, 1), st.integers(0, 2), st.sampled_from(WORDS)),
        st.tuples(st.just("settles"), st.integers(0, 1), st.integers(0, 5), st.none()),
        st.tuples(st.just("shares"), st.integers(0, 1), st.integers(1, 9), st.none()),
    ),
    max_size=10,
)


@settings(
    max_examples=8, deadline=None, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(deeds=DEEDS)
def test_what_differs_and_what_was_settled_is_the_same_everywhere(
    server: Server, deeds: list[tuple[str, int, int, str | None]]
) -> None:
    """The model: the last word of each person at each station, and the last settlement of them."""
    with (
        tempfile.TemporaryDirectory() as name,
        Store.open(Path(name) / "a") as a,
        Store.open(Path(name) / "b") as b,
    ):
        dog = a.dogs.add("Rex").id
        people = [a.people.add("Kim").id, a.people.add("Robin").id, None]
        for store in (a, b):
            share(store, server.address())
        said: dict[tuple[int, int], tuple[str, str | None]] = {}
        settled: list[tuple[frozenset[str], str]] = []
        for deed, which, what, value in deeds:
            store = (a, b)[which]
            if deed == "says":
                exam = observe(
                    store, dog, people[what], judged=False, kennel__eaten=str(value)
                )  # fmt: skip
                said[what, which] = (store.exams.answers(exam)[0].id, value)
            elif deed == "settles":
                for one in differences_of(store, dog_id=dog):
                    named = [answer.id for answer in one.answers]
                    chosen = named[what % len(named)]
                    store.settling.settle(one, chosen, person_id=str(people[0]))
                    settled.append((frozenset(named), chosen))
            else:
                share(store, server.address(), batch=what)
        for store in (a, b, a):
            share(store, server.address())
        keys = frozenset(key for key, _ in said.values())
        differs = len({value for _, value in said.values()}) > 1
        counts = [one for covered, one in settled if keys <= covered and one in keys]
        for store in (a, b):
            found = differences_of(store, dog_id=dog, settled=True)
            assert len(found) == int(differs)
            for same in found:
                assert {answer.id for answer in same.answers} == keys
                assert (same.counts.id if same.counts else None) == (counts[-1] if counts else None)
