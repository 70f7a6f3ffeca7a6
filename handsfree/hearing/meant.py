"""When each word of a meaning was said, where words are timed.

A tag such as ``release pink`` names one moment for each of its words. The recogniser may have said
another phrase of the same meaning ("let go"), or something else altogether while the second ear was
sure; what is handed on is always the meaning's own words. No sound is looked at here.
"""

from __future__ import annotations

from dataclasses import replace

from handsfree.hearing.evidence import Evidence
from handsfree.hearing.grammar import ListeningGrammar
from handsfree.hearing.verdict import Meaning, MeaningKind, WordTime

__all__ = ["meant_times", "phrases_of"]


def meant_times(evidence: Evidence, meaning: Meaning | None) -> tuple[WordTime, ...]:
    """Return the times of the words of ``meaning``, in order.

    Where the recogniser heard a phrase of it, its times, under the meaning's words. Where it did
    not, every word spans the whole utterance and is marked as doubtful: its place is to be sought.
    Of a command the recogniser's own times, and none if it heard something else.
    """
    times = evidence.hypothesis.times
    if meaning is None:
        return times
    said = evidence.grammar.meaning(tuple(time.word for time in times)) if times else None
    if meaning.kind is MeaningKind.COMMAND or not isinstance(meaning.value, str):
        return times if said == meaning else ()
    wanted = meaning.value.split()
    if said == meaning:
        found = _split(times, wanted, evidence.grammar)
        if found is not None:
            return found
    return tuple(
        WordTime(word=word, start=evidence.start, end=evidence.end, doubtful=True)
        for word in wanted
    )


def phrases_of(evidence: Evidence) -> tuple[tuple[str, tuple[WordTime, ...]], ...]:
    """Return the words of the meaning that the recogniser heard, each with the phrase said for it.

    Empty where it heard no answer in words.
    """
    times = evidence.hypothesis.times
    said = evidence.grammar.meaning(tuple(time.word for time in times)) if times else None
    if said is None or said.kind is not MeaningKind.ANSWER or not isinstance(said.value, str):
        return ()
    wanted = said.value.split()
    placed = _split(times, wanted, evidence.grammar)
    if placed is None:
        return ()
    return tuple(
        (one.word, tuple(time for time in times if one.start <= time.start < max(one.end, 1)))
        for one in placed
    )


def _split(
    times: tuple[WordTime, ...], wanted: list[str], grammar: ListeningGrammar
) -> tuple[WordTime, ...] | None:
    """Lay ``wanted`` on the phrases that follow each other in ``times``; None if that fails."""
    if len(wanted) == 1:
        return (replace(times[0], word=wanted[0], end=times[-1].end),)
    for count in range(1, len(times) - len(wanted) + 2):
        first = grammar.meaning(tuple(time.word for time in times[:count]))
        if first is None or first.value != wanted[0]:
            continue
        rest = _split(times[count:], wanted[1:], grammar)
        if rest is not None:
            return (replace(times[0], word=wanted[0], end=times[count - 1].end), *rest)
    return None
