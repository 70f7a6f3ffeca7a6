"""What has to be made before a head can be fitted, as a list of jobs, and the making of them.

A job is one clip (or two in one breath, or a block of sounds) with the number of takes wanted of
it. Jobs depend on nothing but the seed and their own content, so they can be made in any order, by
any number of processes, and stopped: what is made is kept.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import HandsfreeError
from handsfree.hearing.training.clips import Clip, Studio, plan_machine
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.kokoro import Kokoro
from handsfree.hearing.training.texts import SENTENCES

__all__ = ["Job", "Workshop", "features", "make_all"]


@dataclass(frozen=True, kw_only=True)
class Job:
    """Something to be made.

    Attributes:
        kind: ``clip``, ``pieces`` (stretches cut out of a clip), ``joined`` (two clips in one
            breath) or ``sounds`` (no speech; `name` is the block).
        clips: What is said; none for sounds.
        takes: How many examples.
        group: For tables.
        name: Of a block of sounds.
        turn: Where it stands in its own plan, 0 to 1: jobs are made in this order, so that a
            stopped run has some of everything.
    """

    kind: str
    takes: int
    group: str
    clips: tuple[Clip, ...] = ()
    name: str = ""
    turn: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Workshop:
    """Where jobs are made; every process opens its own.

    Attributes:
        work: Folder of clips and features.
        tables: Folder of the natural voices' tables, or None.
        seed: Of all that is drawn by lot.
    """

    work: Path
    tables: Path | None
    seed: int

    def open(self) -> Examples:
        """Return what makes examples."""
        kokoro = Kokoro(self.tables) if self.tables is not None else None
        examples = Examples(self.work / "features", Studio(self.work / "clips", kokoro), self.seed)
        talkers = plan_machine(SENTENCES, 2, self.seed)
        examples.set_babble([clip for clip in talkers if clip.engine == "espeak"][:60])
        return examples

    def maker(self) -> Callable[[Job], object]:
        """Return what makes one job, or finds it made."""
        return partial(features, self.open())


def features(examples: Examples, job: Job) -> NDArray[np.float32]:
    """Return the job's examples, shape (takes, 1249); made where they are not kept."""
    if job.kind == "clip":
        return examples.of_clip(job.clips[0], job.takes)
    if job.kind == "pieces":
        return examples.of_pieces(job.clips[0], job.takes)
    if job.kind == "joined":
        return examples.of_joined(job.clips[0], job.clips[1], job.takes)
    return examples.of_sounds(job.takes, job.name)


_mine: Callable[[Job], object] | None = None


def _start(shop: Workshop) -> None:
    global _mine  # one of each process
    os.nice(5)
    _mine = shop.maker()


def _make(job: Job) -> str:
    assert _mine is not None
    try:
        _mine(job)
    except HandsfreeError as wrong:
        return str(wrong)
    return ""


def make_all(
    jobs: Sequence[Job],
    shop: Workshop,
    processes: int,
    *,
    within_s: float | None = None,
    say: Callable[[str], None] = print,
) -> bool:
    """Make every job, in the order of their turns; return whether all were made.

    Args:
        jobs: Those already made cost only a look.
        shop: Where they are made.
        processes: How many at once.
        within_s: Stop after so long, with what is made till then.
        say: Told about progress.
    """
    began = time.monotonic()
    shop.maker()  # what all need is made before they begin
    failed: Counter[str] = Counter()
    ordered = sorted(jobs, key=lambda job: job.turn)
    context = multiprocessing.get_context("spawn")
    with context.Pool(processes, _start, (shop,)) as pool:
        for number, wrong in enumerate(pool.imap_unordered(_make, ordered, chunksize=4), start=1):
            failed[wrong] += bool(wrong)
            if number % 2000 == 0:
                say(f"{number} of {len(jobs)} made, {time.monotonic() - began:.0f} s.")
            if within_s is not None and time.monotonic() - began > within_s:
                say(f"Stopped after {number} of {len(jobs)}.")
                pool.terminate()
                return False
    for message, times in (+failed).items():
        say(f"Left out {times}: {message}")
    return True
