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
    Studio,
    plan_joined,
    plan_machine,
    plan_natural,
    plan_own,
)
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.texts import ASIDES, OPENERS, SENTENCES, normalise, own_prompts

__all__ = ["Amounts", "Material", "gather"]

OTHER = 0  # the label of what is none of the phrases


@dataclass(frozen=True, kw_only=True)
class Amounts:
    """How much is made.

    Attributes:
        natural: Natural clips of each phrase.
        natural_other: Natural clips of each aside.
        machine: eSpeak NG clips of each phrase, beside two of Flite or Festival.
        machine_other: The same for asides.
        takes: Times each natural clip is used, once clean, then rough; others half as often.
        joined: Pairs of a word of ours and an aside, said in one breath.
        sounds: Barks, clatter and other sounds that are no speech.
    """

    natural: int = 8
    natural_other: int = 3
    machine: int = 4
    machine_other: int = 2
    takes: int = 4
    joined: int = 250
    sounds: int = 1500


@dataclass(frozen=True, kw_only=True)
class Material:
    """Features with labels.

    Attributes:
        features: Shape (n, 1249).
        labels: 0 for other, else 1 + the phrase's place in `phrases`; shape (n,).
        speakers: Engine and voice of each, ``sounds`` for those that nobody says,
            ``joined`` for two in one breath.
        phrases: What the labels mean.
    """

    features: NDArray[np.float32]
    labels: NDArray[np.int64]
    speakers: NDArray[np.str_]
    phrases: tuple[str, ...]

    def by_speaker(self) -> Counter[str]:
        """Examples by engine and voice; mixed natural voices are counted together."""
        names = (
            "kokoro:mixed voices" if "+" in s and s.startswith("kokoro") else s
            for s in self.speakers.tolist()
        )
        return Counter(names)


def gather(
    phrases: Sequence[str],
    studio: Studio,
    examples: Examples,
    amounts: Amounts,
    seed: int,
    *,
    held: bool = False,
    natural: bool = True,
    kept_only: bool = False,
    say: Callable[[str], None] = print,
) -> Material:
    """Make or fetch everything.

    `held` gives the voices kept back for judging; `kept_only` makes no new clip and takes those
    that the work folder has.
    """
    index = {phrase: number for number, phrase in enumerate(phrases, start=1)}
    asides = [text for text in ASIDES if normalise(text) not in index]
    rows: list[NDArray[np.float32]] = []
    labels: list[int] = []
    speakers: list[str] = []
    failed: Counter[str] = Counter()

    def add(features: NDArray[np.float32], label: int, speaker: str) -> None:
        rows.append(features)
        labels.extend([label] * len(features))
        speakers.extend([speaker] * len(features))

    def add_clips(name: str, clips: Iterable[Clip], takes: int) -> None:
        before = len(labels)
        for clip in clips:
            if kept_only and not studio.has(clip):
                continue
            try:
                features = examples.of_clip(clip, takes)
            except EngineError as error:
                failed[str(error)] += 1
                continue
            add(features, index.get(normalise(clip.text), OTHER), clip.speaker)
        say(f"{name}: {len(labels) - before} examples.")

    def add_pieces(clips: Iterable[Clip], pieces: int) -> None:
        for clip in clips:
            if kept_only and not studio.has(clip):
                continue
            try:
                add(examples.of_pieces(clip, pieces), OTHER, clip.speaker)
            except EngineError as error:
                failed[str(error)] += 1

    def add_joined(pairs: Iterable[tuple[Clip, Clip]]) -> None:
        for one, two in pairs:
            if kept_only and not (studio.has(one) and studio.has(two)):
                continue
            if normalise(f"{one.text} {two.text}") in index:
                continue
            try:
                add(examples.of_joined(one, two, 2), OTHER, "joined")
            except EngineError as error:
                failed[str(error)] += 1

    takes = 3 if held else amounts.takes
    if natural:
        rounds = range(1 if held else amounts.natural)
        add_clips("Natural voices, phrases", plan_natural(phrases, rounds, seed, held=held), takes)
        rounds = range(1 if held else amounts.natural_other)
        add_clips("Natural voices, asides", plan_natural(asides, rounds, seed, held=held), takes)
    each = 1 if held else amounts.machine
    machine = plan_machine(phrases, each, seed, held=held)
    add_clips("Other synthesisers, phrases", machine, max(1, takes // 2))
    each = 1 if held else amounts.machine_other
    add_clips(
        "Other synthesisers, asides",
        plan_machine(asides, each, seed, held=held),
        max(1, takes // 2),
    )
    if not held:
        before = len(labels)
        if natural:
            add_pieces(plan_natural(SENTENCES, range(2), seed), 12)
        add_pieces(plan_machine(SENTENCES, 4, seed), 6)
        say(f"Pieces of longer talk: {len(labels) - before} examples.")
        before = len(labels)
        if natural:
            openers = [word for word in OPENERS if word in index]
            add_joined(plan_joined(openers, asides, amounts.joined, seed))
        say(f"Words of ours with an aside in one breath: {len(labels) - before} examples.")
        before = len(labels)
        add_pieces(plan_own(own_prompts()), 3)
        say(f"Pieces of the assistant's own questions: {len(labels) - before} examples.")
    count = max(100, amounts.sounds // 5) if held else amounts.sounds
    add(examples.of_sounds(count, "heldsounds" if held else "sounds"), OTHER, "sounds")
    say(f"Sounds that are no speech: {count} examples.")
    for message, times in failed.items():
        say(f"Left out {times} clips: {message}")
    return Material(
        features=np.concatenate(rows),
        labels=np.array(labels, np.int64),
        speakers=np.array(speakers),
        phrases=tuple(phrases),
    )
