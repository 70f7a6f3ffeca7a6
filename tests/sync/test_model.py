"""Random edits and sharings of two stations, against a model of a few lines."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks._postgres import Server
from handsfree.records import Store
from handsfree.sync.station import share

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
