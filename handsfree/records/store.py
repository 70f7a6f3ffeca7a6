"""The records of one data folder, opened: the one door to everything stored."""

from __future__ import annotations

import platform
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Self

from handsfree.protocol.subject import Subject
from handsfree.records.care import Care
from handsfree.records.database import FILE_NAME, Clock, RecordsFile, system_clock, to_stamp
from handsfree.records.dogs import Dogs
from handsfree.records.exams import Exams
from handsfree.records.kennel import Kennel
from handsfree.records.lumps import Lumps
from handsfree.records.people import People
from handsfree.records.photos import Photos
from handsfree.records.profiles import Profiles
from handsfree.records.results import Results
from handsfree.records.rounds import Rounds
from handsfree.records.settings import SettingsStore
from handsfree.records.settling import Settling
from handsfree.records.subject import subject_of
from handsfree.records.transfer import Transfer
from handsfree.records.uuid7 import new_id
from handsfree.records.weights import Weights

__all__ = ["Store"]


class Store:
    """Everything stored in one data folder. Used from the thread that opened it.

    Attributes:
        path: The path of the database.
        file: The open database, for sharing between stations.
        station_id: Key of this station.
        dogs: The dogs.
        people: The people.
        profiles: What practice learned of them.
        settings: The settings.
        exams: The exams with their answers.
        weights: The dogs' weights, from exams or entered by hand.
        lumps: The dogs' known lumps.
        results: What exams came to.
        care: What was said of the dogs' routine care.
        kennel: Sites, rows, pens, and which dog is where.
        rounds: What happened in rounds: doses, flags, who was told, handovers.
        settling: Answers of two people that differ, and which of them count.
        photos: Photos kept with findings.
        transfer: Rows going out and coming in.
    """

    def __init__(self, file: RecordsFile) -> None:
        self._file = self.file = file
        self.path = file.path
        self.station_id = _own_station(file)
        self.dogs = Dogs(file, self.station_id)
        self.people = People(file, self.station_id)
        self.profiles = Profiles(file, self.station_id)
        self.settings = SettingsStore(file, self.station_id)
        self.exams = Exams(file, self.station_id)
        self.weights = Weights(file, self.station_id, self.exams)
        self.lumps = Lumps(file, self.station_id, self.exams)
        self.results = Results(file, self.station_id, self.exams)
        self.care = Care(file, self.station_id)
        self.kennel = Kennel(file, self.station_id)
        self.rounds = Rounds(file, self.station_id)
        self.settling = Settling(file, self.station_id)
        self.photos = Photos(file, self.station_id)
        self.transfer = Transfer(file)

    @classmethod
    def open(cls, data_dir: Path | str, *, clock: Clock = system_clock) -> Self:
        """Open the records in a folder; made, private to the user, if they are not there.

        Args:
            data_dir: The folder.
            clock: What time it is, with offset; rehearsal gives its own.

        Raises:
            DataError: The database is broken, foreign or of a newer version, or the folder cannot
                be written.
        """
        return cls(RecordsFile(Path(data_dir) / FILE_NAME, clock=clock))

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Keep all that is stored within, or nothing: an answer with the events that led to it."""
        with self._file.writing():
            yield

    def subject(self, dog_id: str, on: date | None = None) -> Subject:
        """Return the dog as the exam machine sees it on a day; today if none is named.

        Raises:
            CallerError: There is no such dog.
        """
        return subject_of(
            self.dogs.get(dog_id),
            on=on or self._file.clock().date(),
            weights=self.weights.of_dog(dog_id, limit=1),
            lumps=[(lump, *self.lumps.last_size_mm(lump)) for lump in self.lumps.of_dog(dog_id)],
        )

    def close(self) -> None:
        """Close the records."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _own_station(file: RecordsFile) -> str:
    find = "SELECT id FROM stations WHERE own = 1 ORDER BY id LIMIT 1"
    row = file.one(find)
    if row is None:
        with file.writing():
            row = file.one(find)  # another process may have been faster
            if row is None:
                key = new_id()
                stamp = to_stamp(file.clock())
                file.db.conn.execute(
                    "INSERT INTO stations (id, at, offset_min, station_id, name, own) "
                    "VALUES (?, ?, ?, ?, ?, 1)",
                    (key, stamp.at, stamp.offset_min, key, platform.node() or "station"),
                )
                return key
    return str(row["id"])
