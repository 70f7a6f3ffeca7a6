"""All that the phone network is trained on and judged by: plans of clips, their frames and phones.

It shares the second ear's clips, and how they are made rough. Stretches cut out of longer talk are
left out: where they are cut no text says.
"""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.ear.embedding import MEL_BANDS, Embedder, EmbeddingStream
from handsfree.hearing.phones.frames import utterance_frames
from handsfree.hearing.phones.lexicon import Lexicon, Spelling
from handsfree.hearing.training import spoken_numbers, talk
from handsfree.hearing.training.clips import RATE_HZ, Clip, plan_machine, plan_natural
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.jobs import Job, Workshop, features
from handsfree.hearing.training.material import Amounts
from handsfree.hearing.training.material import plan as plan_ear
from handsfree.hearing.training.rough import Take
from handsfree.hearing.training.texts import TALK, normalise

__all__ = [
    "PHONES",
    "SCALE",
    "FrameWorkshop",
    "PhoneAmounts",
    "PhoneMaterial",
    "gather",
    "phones_of",
    "plan",
    "take_frames",
]

_CMU = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W "
    "Y Z ZH"
)
PHONES: Spelling = tuple(_CMU.split())
"""The 39 phones of the CMU Pronouncing Dictionary, without stress; output k + 1 is phone k."""

SCALE = 2
"""Frames are kept in steps of 1 / SCALE dB, which a byte holds."""

_FEWEST_FRAMES, _MOST_FRAMES = 20, 800
_ROOM = 1.15
"""Outputs that a phone needs at least: repeated phones take a blank between them."""
_HELD_NUMBERS = 400


@dataclass(frozen=True, kw_only=True)
class PhoneAmounts(Amounts):
    """How much is made.

    Attributes:
        more_talk: Stretches drawn from the language model beside those of ``talk.txt``.
        numbers: Numbers drawn by lot, one natural clip each.
        machine_numbers: Of how many of them there is an eSpeak NG clip too.
    """

    natural: int = 28
    natural_other: int = 6
    talk: int = len(TALK)
    more_talk: int = 9000
    numbers: int = 9000
    machine_numbers: int = 1500
    joined: int = 1600
    sounds: int = 8000


@dataclass(frozen=True, kw_only=True)
class PhoneMaterial:
    """Utterances, n of them, with what is said in each.

    Attributes:
        frames: All mel frames one after the other, in steps of 1 / SCALE dB, shape (total, 32).
        lengths: Frames of each utterance, shape (n,).
        phones: Outputs of the network for each utterance's phones; empty where nobody speaks.
        held: Whether its voice is held back from training, shape (n,).
        groups: What it is, for tables; takes that were not made rough stand apart.
        speakers: Engine and voice of each; ``sounds`` where nobody speaks, ``joined`` for two.
    """

    frames: NDArray[np.uint8]
    lengths: NDArray[np.int64]
    phones: tuple[tuple[int, ...], ...]
    held: NDArray[np.bool_]
    groups: NDArray[np.str_]
    speakers: NDArray[np.str_]

    def utterance(self, number: int) -> NDArray[np.float32]:
        """Return the frames of one utterance in dB, shape (lengths[number], 32)."""
        end = int(self.lengths[: number + 1].sum())
        found = self.frames[end - int(self.lengths[number]) : end]
        return np.asarray(found / np.float32(SCALE), np.float32)


@dataclass(frozen=True, kw_only=True)
class FrameWorkshop(Workshop):
    """A workshop that keeps the phone network's frames in place of the second ear's features."""

    def open(self) -> Examples:
        """Return what makes frames: rows of a job are its takes, filled up with noughts."""
        return super().open().keeping(self.work / "frames", take_frames)


def take_frames(embedder: Embedder, take: Take) -> NDArray[np.uint8]:
    """Frames of one take as bytes, shape (n, 32); none is nought, for silence is 25 dB."""
    stream = EmbeddingStream(embedder, keep_s=take.samples.size / RATE_HZ + 1)
    stream.feed(take.samples, 0)
    found = utterance_frames(stream, take.start, take.end)
    return np.clip(np.round(found * SCALE), 1, 255).astype(np.uint8)


def phones_of(text: str, lexicon: Lexicon) -> Spelling | None:
    """Return the phones of ``text``, each word's first pronunciation; None if one has none."""
    found: list[str] = []
    for word in normalise(text).split():
        ways = lexicon.of_word(word)
        if not ways:
            return None
        found += ways[0]
    return tuple(found)


def plan(
    phrases: Sequence[str],
    amounts: PhoneAmounts,
    seed: int,
    *,
    grammars: Path | None = None,
    held: bool = False,
    natural: bool = True,
) -> list[Job]:
    """Return every job of a training, or of the judging where `held`.

    Numbers that are judged are not among those trained on.

    Args:
        phrases: The grammars' short phrases.
        amounts: How much is made.
        seed: Of all that is drawn by lot.
        grammars: Folder of the grammar files, if it is another.
        held: Whether this is to judge by.
        natural: Whether there are natural voices.

    Raises:
        CallerError: Fewer numbers can be said than are asked for.
    """
    ours = set(phrases)
    ready = plan_ear(phrases, amounts, seed, held=held, natural=natural)
    jobs = [job for job in ready if job.kind != "pieces" and not _cannot_be_made(job)]
    count = amounts.numbers + _HELD_NUMBERS if amounts.numbers else 0
    drawn = spoken_numbers.draw(count, seed, folder=grammars)
    said = drawn[:_HELD_NUMBERS] if held else drawn[_HELD_NUMBERS:]
    said = [text for text in said if text not in ours]
    few = max(1, amounts.takes // 2)

    def add(group: str, clips: Iterable[Clip], by: float) -> None:
        listed = list(clips)
        jobs.extend(
            Job(kind="clip", takes=few, group=group, clips=(clip,), turn=by * number / len(listed))
            for number, clip in enumerate(listed)
        )

    if natural:
        add("numbers, natural", plan_natural(said, range(1), seed, held=held), 0.45)
    if natural and not held and amounts.more_talk:
        known = ours.union(map(normalise, TALK))
        more = [text for text in talk.draw(amounts.more_talk, seed + 1) if text not in known]
        add("talk, natural", plan_natural(more, range(1), seed), 0.6)
    machine = plan_machine(said[: amounts.machine_numbers], 1, seed, held=held)
    add("numbers, others", [clip for clip in machine if clip.engine == "espeak"], 0.3)
    return jobs


def _cannot_be_made(job: Job) -> bool:
    return any(clip.engine == "flite" for clip in job.clips) and shutil.which("flite") is None


def gather(
    jobs: Sequence[tuple[Job, bool]],
    examples: Examples,
    lexicon: Lexicon,
    *,
    kept_only: bool = False,
    say: Callable[[str], None] = print,
) -> PhoneMaterial:
    """Make or fetch every job's takes.

    Left out are clips with a word that the lexicon lacks, and takes too short for their phones.

    Args:
        jobs: Each with whether it is held back.
        examples: As a ``FrameWorkshop`` opens them.
        lexicon: Pronunciations.
        kept_only: Leave out what needs new speech.
        say: Told what is left out.

    Raises:
        EngineError: Nothing could be made to train on, or nothing to judge by.
    """
    outputs = {phone: number for number, phone in enumerate(PHONES, start=1)}
    frames: list[NDArray[np.uint8]] = []
    rows: list[tuple[tuple[int, ...], bool, str, str]] = []
    left_out: Counter[str] = Counter()
    for job, held in jobs:
        if kept_only and job.clips and not examples.has(job.kind, job.clips):
            continue
        spelling = phones_of(" ".join(clip.text for clip in job.clips), lexicon)
        if spelling is None:
            left_out["clips with a word that the dictionary lacks"] += 1
            continue
        try:
            takes = features(examples, job).astype(np.uint8)
        except EngineError as wrong:
            left_out[f"clips that could not be made ({str(wrong).partition(' for ')[0]})"] += 1
            continue
        sequence = tuple(outputs[phone] for phone in spelling)
        speaker = job.clips[0].speaker if len(job.clips) == 1 else job.kind
        for number, take in enumerate(takes):
            known = take[take[:, 0] > 0]
            outputs_made = len(known) // 2
            fits = _FEWEST_FRAMES <= len(known) <= _MOST_FRAMES
            if not fits or outputs_made <= _ROOM * len(sequence) + 2:
                left_out["takes too short or too long"] += 1
                continue
            clean = job.kind == "clip" and number == 0
            frames.append(known)
            rows.append((sequence, held, job.group + (", clean" if clean else ""), speaker))
    for reason, times in left_out.items():
        say(f"Left out {times} {reason}.")
    if {held for _, held, _, _ in rows} != {False, True}:
        msg = (
            "Nothing could be made to train on, or nothing to judge by, for the reasons above. "
            "Install the extra 'train', or ask for more."
        )
        raise EngineError(msg)
    return PhoneMaterial(
        frames=np.concatenate(frames).reshape(-1, MEL_BANDS),
        lengths=np.array(list(map(len, frames)), np.int64),
        phones=tuple(row[0] for row in rows),
        held=np.array([row[1] for row in rows]),
        groups=np.array([row[2] for row in rows]),
        speakers=np.array([row[3] for row in rows]),
    )
