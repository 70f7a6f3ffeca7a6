"""What was said of a dog's care is kept, oldest first, and never changed."""

from __future__ import annotations

from handsfree.records import Dog, Store


def test_sayings_are_kept_in_order(store: Store, dog: Dog) -> None:
    """Each is its own row; other dogs have their own."""
    other = store.dogs.add("Moss")
    store.care.note(dog.id, "nails", {"kind": "done", "day": "2026-03-01"})
    store.care.note(dog.id, "nails", {"kind": "interval", "days": 21})
    store.care.note(other.id, "ears", {"kind": "off"})
    assert store.care.of_dog(dog.id) == (
        ("nails", {"kind": "done", "day": "2026-03-01"}),
        ("nails", {"kind": "interval", "days": 21}),
    )
    assert [task for task, _ in store.care.of_dog(other.id)] == ["ears"]
