"""A rehearsed round: several dogs and people on one stream, with real speech and recognition."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from handsfree.audio.virtual import VirtualDuplex
from handsfree.commands.replay import replay
from handsfree.errors import DataError, DeviceError
from handsfree.protocol.loader import load
from handsfree.records import Store
from handsfree.rehearsal.barking import Barking
from handsfree.rehearsal.kennel_scenario import KennelScenario, load_round, round_names
from handsfree.rehearsal.round import rehearse_round
from handsfree.rehearsal.scenario import Truth

WHOLE = load_round("kennel-row", load())


def some(names: str, **changes: Any) -> KennelScenario:
    """Return the shipped round with these dogs alone."""
    dogs = tuple(dog for dog in WHOLE.dogs if dog.name in names.split())
    return dataclasses.replace(WHOLE, dogs=dogs, bark_share=0.0, **changes)


@cache
def rehearsed() -> dict[str, Any]:
    """Return what came of a round of three dogs with two people; it runs once."""
    dogs = some("Bracken Fern Myrtle")
    return rehearse_round(dogs)


def test_the_shipped_round_has_thirty_dogs_four_voices_and_an_exception_in_every_fifth() -> None:
    """Its dogs and people are told apart by their names."""
    assert round_names() == ["kennel-row"]
    assert len({dog.name for dog in WHOLE.dogs}) == 30
    assert len({person.speaks for person in WHOLE.people}) == 4
    odd = [n for n, dog in enumerate(WHOLE.dogs, 1) if dog.truth.values and not dog.medicine]
    assert odd == [5, 10, 15, 20, 25, 30]


def test_nothing_wrong_is_stored_and_each_item_names_its_dog() -> None:
    """What was stored as observed is true of that dog, the five looks in one go with it."""
    result = rehearsed()
    wrong = [i for i in result["items"] if i["status"] == "observed" and i["value"] != i["truth"]]
    assert wrong == []
    assert {i["dog"] for i in result["items"]} == {"Bracken", "Fern", "Myrtle"}
    assert result["figures"]["missed"] <= 1
    assert result["figures"]["not_seen"] == []
    gaits = [i["dog"] for i in result["items"] if i["item"] == "watch.gait"]
    assert sorted(gaits) == ["Bracken", "Fern", "Myrtle"]


def test_a_sign_is_flagged_and_people_change_by_voice() -> None:
    """The coughing dog is flagged; whoever said "this is Sam" leads from there on, in few words."""
    figures = rehearsed()["figures"]
    assert figures["flags"] == {"true": ["Myrtle"], "raised": ["Myrtle"]}
    led = {one["dog"]: (one["person"], one["wording"]) for one in figures["dogs_s"]}
    assert led["Bracken"] == ("Ada Quill", "full")
    assert led["Fern"] == ("Sam Teller", "short")
    assert led["Myrtle"] == ("Sam Teller", "short")


def test_a_round_that_was_stopped_goes_on_with_the_dogs_not_seen(tmp_path: Path) -> None:
    """A spoken stop is asked back; the next round is asked to go on, and sees the rest."""
    said: list[str] = []
    two = some("Alder Basil")
    says = {"noticed.stools": "how many left", "noticed.cough": "park this one"}
    stopped = dataclasses.replace(
        two,
        dogs=(
            dataclasses.replace(two.dogs[0], says=says),
            dataclasses.replace(two.dogs[1], first=("stop",)),
        ),
    )
    first = rehearse_round(stopped, data=tmp_path, tell=lambda _who, text: said.append(text))
    assert first["exam"]["outcome"] == "partial"
    assert [one["dog"] for one in first["figures"]["not_seen"]] == ["Basil", "Alder"]
    assert "Alder is parked." in said
    assert "Not seen in this round: Basil in B 2, Alder in B 1." in said
    said.clear()
    rest = rehearse_round(two, data=tmp_path, tell=lambda _who, text: said.append(text))
    assert any(text.endswith("Go on with it?") for text in said)
    assert "Alder again." in said
    assert said.count("What are the stools like?") == 1
    assert rest["exam"] == {**first["exam"], "outcome": "complete"}
    assert rest["figures"]["not_seen"] == []
    with Store.open(tmp_path) as store:
        exams = [exam for dog in store.dogs.all() for exam in store.exams.of_dog(dog.id)]
        assert len(exams) == 2
        assert all(replay(store, exam, load()).same for exam in exams)


def test_a_lost_device_leaves_the_round_to_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the sound does not come back the round ends with an error, and nothing is lost."""
    read = VirtualDuplex.read

    def unplugged(self: VirtualDuplex, timeout_s: float) -> Any:
        if self.position() > 16_000 * 30:
            self.lose()
        return read(self, timeout_s)

    with monkeypatch.context() as patch:
        patch.setattr(VirtualDuplex, "read", unplugged)
        with pytest.raises(DeviceError):
            rehearse_round(some("Alder Basil"), data=tmp_path)
    with Store.open(tmp_path) as store:
        facts = store.rounds.facts(datetime.min.replace(tzinfo=UTC))
        assert facts[-1].name == "stopped"
        left = store.rounds.unfinished(
            site_id=None, row_id=None, since=datetime.min.replace(tzinfo=UTC)
        )
        assert left is not None
        alder = store.dogs.find("Alder").id
        (exam,) = store.exams.of_dog(alder)
        assert exam.outcome is None
        assert store.exams.answers(exam.id)


def test_barking_is_the_same_for_the_same_seed_and_takes_its_share() -> None:
    """However it is cut, and about as much of the time as was asked for."""
    whole = Barking(seed=3, rms=1000.0, share=0.2).at(0, 16_000 * 60)
    cut = Barking(seed=3, rms=1000.0, share=0.2)
    assert np.array_equal(np.concatenate([cut.at(0, 70_001), cut.at(70_001, 300)]), whole[:70_301])
    frames = np.sqrt(np.mean(whole.reshape(-1, 1600) ** 2, axis=1))
    assert 0.05 < float(np.mean(frames > 100.0)) < 0.4
    assert not Barking(seed=3, rms=1000.0, share=0.0).at(0, 1000).any()


def test_a_round_that_names_what_is_not_is_refused(tmp_path: Path) -> None:
    """An unknown value, and somebody who is not among the people."""
    text = (Path(load_round.__globals__["_FOLDER"]) / "kennel-row.toml").read_text("utf-8")
    (tmp_path / "bad.toml").write_text(text.replace('"watery"', '"green"'), encoding="utf-8")
    with pytest.raises(DataError, match="green"):
        load_round("bad", load(), tmp_path)
    (tmp_path / "bad.toml").write_text(
        text.replace('takes_over = "Sam Teller"', 'takes_over = "Nobody"'), encoding="utf-8"
    )
    with pytest.raises(DataError, match="Nobody"):
        load_round("bad", load(), tmp_path)
    assert Truth(values={}).refusal("now.signs") is None
