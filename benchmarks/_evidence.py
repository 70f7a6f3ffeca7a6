"""Evidence of utterances, kept so that it can be judged again without playing the sound."""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks._chain import ASIDE_QUESTIONS, Room, covering, listenings, play
from benchmarks._manifest import Entry, read_sound
from handsfree.errors import DataError
from handsfree.hearing import engines, trust
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.grammar import compose
from handsfree.hearing.verdict import Listening, Meaning, Outcome, Verdict
from handsfree.protocol.loader import load

__all__ = ["Kept", "judged", "keep", "read", "watched"]


@dataclass(frozen=True, kw_only=True)
class _Scores:
    """The second ear's shares, free of the network that made them."""

    probabilities: dict[str, float]
    other: float
    unknown: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Kept:
    """What one recording gave at one question.

    Attributes:
        kind: Of the recording.
        text: What was said.
        voice: Who said it.
        name: The recording.
        place: The question.
        evidence: Of each utterance; its listening and grammar are put back by ``read``.
        retracted: Starts of accepted utterances that were taken back.
        gap_s: From the last speech to the first verdict that was not to ignore.
    """

    kind: str
    text: str
    voice: str
    name: str
    place: str
    evidence: tuple[Evidence, ...]
    retracted: frozenset[int]
    gap_s: float | None

    @property
    def wanted(self) -> Meaning | None:
        """What it means at its question, where it is an answer."""
        return compose(_KNOWN[self.place]).meaning(self.text) if self.kind == "answer" else None


_KNOWN = listenings(load())
_NOTHING = Listening()


def _bare(evidence: Evidence) -> Evidence:
    """Return evidence without what is the same for a whole question."""
    ear = evidence.ear
    if ear is not None:
        shares = dict(ear.probabilities)
        ear = _Scores(probabilities=shares, other=ear.other, unknown=tuple(ear.unknown))
    return replace(evidence, listening=_NOTHING, grammar=compose(_NOTHING), ear=ear)


def _plays(
    entries: Sequence[Entry], seed: int, places: int, at: Sequence[str]
) -> Iterator[tuple[Entry, str, np.random.Generator]]:
    for number, entry in enumerate(entries):
        rng = np.random.default_rng((seed, number))
        if entry.kind == "answer":
            chosen = covering(entry.text, entry.question, _KNOWN, rng)[:places]
        else:
            chosen = [at[i] for i in rng.permutation(len(at))[:places]]
        for place in chosen:
            yield entry, place, rng


def keep(
    entries: Sequence[Entry],
    room: Room,
    *,
    seed: int,
    places: int,
    at: Sequence[str] = ASIDE_QUESTIONS,
    part: int = 0,
    parts: int = 1,
) -> list[Kept]:
    """Play every ``parts``-th recording from the ``part``-th on; return what was heard.

    Args:
        entries: The recordings.
        room: What is heard around them.
        seed: Of the lots that choose questions and noise.
        places: At how many questions each is played.
        at: The questions at which asides and noises are played.
        part: Which share of the plays.
        parts: Of how many.
    """
    hearing = engines.build()
    found: list[Kept] = []
    with watched() as caught:
        for number, (entry, place, rng) in enumerate(_plays(entries, seed, places, at)):
            if number % parts != part:
                continue
            caught.clear()
            played = play(hearing, _KNOWN[place], read_sound(entry.path), room, rng)
            found.append(
                Kept(
                    kind=entry.kind,
                    text=entry.text,
                    voice=entry.voice,
                    name=entry.path.name,
                    place=place,
                    evidence=tuple(map(_bare, caught)),
                    retracted=played.retracted,
                    gap_s=played.gap_s,
                )
            )
    return found


@contextmanager
def watched() -> Iterator[list[Evidence]]:
    """Yield a list that gets the evidence of every utterance that is judged meanwhile."""
    caught: list[Evidence] = []
    judge = trust.judge

    def watching(evidence: Evidence) -> Verdict:
        caught.append(evidence)
        return judge(evidence)

    trust.judge = watching  # the chain itself stays as it is: only what it judges is looked at
    try:
        yield caught
    finally:
        trust.judge = judge


def read(path: Path) -> list[Kept]:
    """Return what ``keep`` wrote, ready to be judged.

    Raises:
        DataError: It cannot be read. (Only files of one's own are to be read: they are pickles.)
    """
    try:
        with path.open("rb") as file:
            kept: list[Kept] = pickle.load(file)
    except (OSError, pickle.UnpicklingError, AttributeError, EOFError) as wrong:
        msg = f"{path} cannot be read ({wrong}). Make it with: benchmarks.replay keep."
        raise DataError(msg) from None
    return [
        replace(
            one,
            evidence=tuple(
                replace(e, listening=_KNOWN[one.place], grammar=compose(_KNOWN[one.place]))
                for e in one.evidence
            ),
        )
        for one in kept
    ]


def judged(kept: Kept) -> tuple[str, Verdict | None]:
    """Return what comes of it by the rules of the day, and the verdict that decided it.

    One of ``right``, ``wrong``, ``asked_back`` and ``ignored``; what is accepted and not for us is
    ``wrong``.
    """
    verdicts = [trust.judge(evidence) for evidence in kept.evidence]
    told = [v for v in verdicts if v.outcome is not Outcome.IGNORE]
    first = next(
        (v for v in told if v.outcome is Outcome.ACCEPT and v.start not in kept.retracted), None
    )
    if first is not None and first.best is not None:
        return ("right" if first.best.meaning == kept.wanted else "wrong"), first
    if told:
        return "asked_back", told[0]
    return "ignored", verdicts[0] if verdicts else None
