"""Keys of the records against RFC 9562, "Universally Unique IDentifiers (UUIDs)", May 2024."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest

from handsfree.records.uuid7 import is_uuid7, new_id, time_of

RFC_EXAMPLE = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
"""RFC 9562, appendix A.6: UUIDv7 of 2022-02-22 14:22:22.00 GMT-05:00."""


def test_the_examples_time_is_read() -> None:
    """The 48-bit time of the example is 0x017F22E279B0 ms, which the RFC names as above."""
    assert is_uuid7(RFC_EXAMPLE)
    assert time_of(RFC_EXAMPLE) == datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)
    assert uuid.UUID(RFC_EXAMPLE).int >> 80 == 0x017F22E279B0


@pytest.mark.parametrize(
    "other",
    [
        "919108f7-52d1-4320-9bac-f847db4148a8",  # version 4, appendix A.3
        "1ec9414c-232a-6b00-b3c8-9f6bdeced846",  # version 6, appendix A.5
        "017f22e279b07cc398c4dc0c0c07398f",  # no dashes: not the usual form
        "017f22e2-79b0-7cc3-18c4-dc0c0c07398f",  # another variant
        "",
    ],
)
def test_other_versions_are_told_apart(other: str) -> None:
    """The RFC's examples of other versions are no keys of ours."""
    assert not is_uuid7(other)
    with pytest.raises(ValueError, match="version 7"):
        time_of(other)


def test_new_keys_have_version_variant_and_the_present_time() -> None:
    """Section 5.7: 48 bits of milliseconds, version 0b0111, variant 0b10."""
    before = datetime.now(UTC) - timedelta(milliseconds=1)
    key = new_id()
    value = uuid.UUID(key).int
    assert value >> 76 & 0xF == 0b0111
    assert value >> 62 & 0b11 == 0b10
    assert before <= time_of(key) <= datetime.now(UTC) + timedelta(milliseconds=1)


def test_keys_rise_and_differ() -> None:
    """Section 6.2: within one process keys sort, as text, in the order in which they were made."""
    keys = [new_id() for _ in range(50_000)]
    assert keys == sorted(keys)
    assert len(set(keys)) == len(keys)
    assert all(is_uuid7(key) for key in keys[:100])
