"""All that a head is trained on and judged by: plans of clips, their features and their labels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.training.clips import (
    Clip,
    plan_joined,
    plan_machine,
    plan_natural,
    plan_own,
)
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.jobs import Job, features
from handsfree.hearing.training.texts import (
    ASIDES,
    OPENERS,
    SENTENCES,
    TALK,
    normalise,
    own_prompts,
)

__all__ = ["Amounts", "Material", "gather", "plan"]

OTHER = 0  # the label of what is none of the phrases
_BLOCK = 250  # sounds in one job


@dataclass(frozen=True, kw_only=True)
class Amounts:
    """How much is made.

    Attributes:
        natural: Natural clips of each phrase.
        natural_other: Natural clips of each aside.
        talk: Stretches of the language model's talk, one natural clip each.
        machine: eSpeak NG clips of each phrase, beside two of Flite or Festival.
        machine_other: The same for asides.
        takes: Times each natural clip is used, once clean, then rough; others half as often.
        sentences: Natural clips of each longer sentence, cut into pieces.
        joined: Pairs of a word of ours and an aside, said in one breath.
        sounds: Barks, clatter and other sounds that are no speech.
    """

    natural: int = 16
    natural_other: int = 3
    talk: int = 2500
    machine: int = 4
    machine_other: int = 2
    takes: int = 4
    sentences: int = 6
    joined: int = 800
    sounds: int = 6000


@dataclass(frozen=True, kw_only=True)
class Material:
    """Features with labels.

    Attributes:
        features: Shape (n, 1249).
        labels: 0 for other, else 1 + the phrase's place in `phrases`; shape (n,).
        speakers: Engine and voice of each, ``sounds`` for those that nobody says,
            ``joined`` for two in one breath.
        phrases: What the labels mean.
        clips: Of which clip each example was made; equal numbers are takes of one clip.
    """

    features: NDArray[np.float32]
    labels: NDArray[np.int64]
    speakers: NDArray[np.str_]
    phrases: tuple[str, ...]
    clips: NDArray[np.int64]

    def by_speaker(self) -> Counter[str]:
        """Examples by engine and voice; mixed natural voices are counted together."""
        names = (
            "kokoro:mixed voices" if "+" in s and s.startswith("kokoro") else s
            for s in self.speakers.tolist()
        )
        return Counter(names)


def plan(
    phrases: Sequence[str],
    amounts: Amounts,
    seed: int,
    *,
    held: bool = False,
    natural: bool = True,
) -> list[Job]:
    """Return every job of a training, or of the judging where `held`."""
    ours = set(phrases)
    asides = [text for text in ASIDES if normalise(text) not in ours]
    talk = [text for text in TALK if normalise(text) not in ours][: amounts.talk]
    jobs: list[Job] = []

    def add(
        group: str, clips: Iterable[Clip], takes: int, kind: str = "clip", *, by: float = 0.3
    ) -> None:
        # Made in order up to the turn `by`: everything but the phrases' later rounds comes first.
        listed = list(clips)
        jobs.extend(
            Job(kind=kind, takes=takes, group=group, clips=(clip,), turn=by * number / len(listed))
            for number, clip in enumerate(listed)
        )

    takes = 3 if held else amounts.takes
    few = max(1, takes // 2)
    if natural:
        rounds = range(1 if held else amounts.natural)
        add("phrases, natural", plan_natural(phrases, rounds, seed, held=held), takes, by=1.0)
        rounds = range(1 if held else amounts.natural_other)
        add("asides, natural", plan_natural(asides, rounds, seed, held=held), takes)
        said = talk[::10] if held else talk
        add("talk, natural", plan_natural(said, range(1), seed, held=held), few)
    each = 1 if held else amounts.machine
    add("phrases, others", plan_machine(phrases, each, seed, held=held), few)
    each = 1 if held else amounts.machine_other
    add("asides, others", plan_machine(asides, each, seed, held=held), few)
    if not held:
        if natural:
            rounds = range(amounts.sentences)
            add("pieces, natural", plan_natural(SENTENCES, rounds, seed), 12, "pieces")
            openers = [word for word in OPENERS if word in ours]
            jobs.extend(
                Job(kind="joined", takes=2, group="in one breath", clips=pair, turn=0.2)
                for pair in plan_joined(openers, asides, amounts.joined, seed)
                if normalise(" ".join(clip.text for clip in pair)) not in ours
            )
        add("pieces, others", plan_machine(SENTENCES, 4, seed), 6, "pieces")
        add("pieces of our own questions", plan_own(own_prompts()), 3, "pieces")
    count = max(2, amounts.sounds // 5 // _BLOCK) if held else amounts.sounds // _BLOCK
    jobs.extend(
        Job(
            kind="sounds",
            takes=_BLOCK,
            group="sounds that are no speech",
            name=f"heldsounds{block}" if held else f"sounds{block}",
        )
        for block in range(count)
    )
    return jobs


def gather(
    phrases: Sequence[str],
    jobs: Sequence[Job],
    examples: Examples,
    *,
    kept_only: bool = False,
    say: Callable[[str], None] = print,
) -> Material:
    """Make or fetch every job's examples; `kept_only` leaves out what needs new speech."""
    index = {phrase: number for number, phrase in enumerate(phrases, start=1)}
    rows: list[NDArray[np.float32]] = []
    labels: list[int] = []
    speakers: list[str] = []
    clips: list[int] = []
    counts: Counter[str] = Counter()
    failed: Counter[str] = Counter()
    for number, job in enumerate(jobs):
        if kept_only and job.clips and not examples.has(job.kind, job.clips):
            continue
        try:
            found = features(examples, job)
        except EngineError as error:
            failed[str(error)] += 1
            continue
        label = index.get(normalise(job.clips[0].text), OTHER) if job.kind == "clip" else OTHER
        speaker = job.clips[0].speaker if len(job.clips) == 1 else job.kind
        rows.append(found)
        labels.extend([label] * len(found))
        speakers.extend([speaker] * len(found))
        clips.extend([number] * len(found))
        counts[job.group] += len(found)
    for group, count in counts.items():
        say(f"{group}: {count} examples.")
    for message, times in failed.items():
        say(f"Left out {times} clips: {message}")
    return Material(
        features=np.concatenate(rows),
        labels=np.array(labels, np.int64),
        speakers=np.array(speakers),
        phrases=tuple(phrases),
        clips=np.array(clips, np.int64),
    )
