"""Which questions a check asks of this dog, in order, and when a follow-up is due.

Pure: a protocol, a routine, a dog and a person's sight go in, steps come out. It speaks nothing,
stores nothing and reads no file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from handsfree.protocol.model import (
    Applies,
    Condition,
    Protocol,
    Question,
    Region,
    Routine,
    SightNeed,
)
from handsfree.protocol.subject import Neutered, Sex, Sight, Subject

__all__ = ["Given", "Step", "due", "plan", "side_name", "spoken"]


@dataclass(frozen=True, kw_only=True)
class Given:
    """The latest answer at an item and side, as conditions need it.

    Attributes:
        status: ``observed``, ``not_observed`` or ``not_applicable``.
        value: Token or number; None unless observed.
    """

    status: str
    value: str | float | None = None


@dataclass(frozen=True, kw_only=True)
class Step:
    """One question of this check, for one side.

    Attributes:
        item: Item id ``region.question``.
        side: Side, or the key of a known lump, or None.
        region: The region it belongs to.
        question: What is asked.
        applicable: Whether it is for this dog at all; if not, store it as not applicable.
        why_not: Why it does not apply, as a token; empty if it does.
        label: Place of the known lump, as spoken; empty otherwise.
        when: The conditions that count in this routine: one of them must hold, if there are any.
        when_side: The same for this side, besides ``when``.
        window_s: For counts, the window of this routine; None otherwise.
        by_touch: Ask ``touch_prompt`` in place of the prompt.
        cannot_see: It must be seen, and nobody here can: store it as not observed.
    """

    item: str
    side: str | None = None
    region: Region
    question: Question
    applicable: bool = True
    why_not: str = ""
    label: str = ""
    when: tuple[Condition, ...] = ()
    when_side: tuple[Condition, ...] = ()
    window_s: int | None = None
    by_touch: bool = False
    cannot_see: bool = False


def side_name(side: str | None) -> str:
    """A side as spoken: ``left_front`` is "left front"; empty for no side."""
    return (side or "").replace("_", " ")


def spoken(text: str, step: Step) -> str:
    """Fill ``{side}`` and ``{lump}`` of a text, and begin it with a capital letter."""
    filled = text.replace("{side}", side_name(step.side)).replace("{lump}", step.label or "lump")
    return filled[:1].upper() + filled[1:]


def plan(
    protocol: Protocol,
    routine_id: str,
    subject: Subject,
    sight: Sight = Sight.FULL,
    helper: bool = False,
) -> tuple[Step, ...]:
    """Every step of a routine for this dog, in the order of asking.

    Steps that do not apply are in it, marked, so that they can be stored as such. Questions next
    to each other with the same sides go side by side: all of the left eye, then all of the right.

    Raises:
        KeyError: No such routine.
    """
    routine = protocol.routines[routine_id]
    asked = {
        region_id: _questions(protocol.regions[region_id], routine) for region_id in routine.regions
    }
    planned = frozenset(f"{region}.{q.id}" for region, some in asked.items() for q in some)
    steps: list[Step] = []
    for region_id, questions in asked.items():
        region = protocol.regions[region_id]
        for _, group in groupby(questions, key=lambda q: (q.sides, q.per_lump)):
            together = list(group)
            for side, label in _places(together[0], subject):
                for question in together:
                    step = _step(
                        protocol,
                        routine,
                        region,
                        question,
                        place=(side, label),
                        subject=subject,
                        planned=planned,
                    )
                    if step is not None:
                        steps.append(_seen(step, sight, helper))
    return tuple(steps)


def _questions(region: Region, routine: Routine) -> tuple[Question, ...]:
    if region.id not in routine.only:
        return region.question
    kept = set(routine.only[region.id])
    for question in region.question:  # follow-ups come after what they follow
        if any(c.item in {f"{region.id}.{name}" for name in kept} for c in question.when):
            kept.add(question.id)
    return tuple(q for q in region.question if q.id in kept)


def _places(question: Question, subject: Subject) -> Iterator[tuple[str | None, str]]:
    if question.per_lump:
        yield from ((lump.key, lump.place) for lump in subject.lumps)
    elif question.sides:
        yield from ((side, "") for side in question.sides)
    else:
        yield None, ""


def _seen(step: Step, sight: Sight, helper: bool) -> Step:
    if step.question.sight is SightNeed.TOUCH or helper or sight is Sight.FULL:
        return step
    if step.question.touch_prompt is not None:
        return replace(step, by_touch=True)
    return replace(step, cannot_see=sight is Sight.NONE)


def _step(
    protocol: Protocol,
    routine: Routine,
    region: Region,
    question: Question,
    *,
    place: tuple[str | None, str],
    subject: Subject,
    planned: frozenset[str],
) -> Step | None:
    side, label = place
    item = f"{region.id}.{question.id}"
    when: tuple[Condition, ...] = ()
    if not _always(question, subject):
        when = _resolve(question.when, protocol, question, side, planned)
        if question.when and not when and question.id not in routine.only.get(region.id, ()):
            return None  # it follows nothing that this routine asks
    if item in routine.when:
        when = _resolve(routine.when[item], protocol, question, side, planned)
    part = question.part.get(side or "")
    why_not = "missing_part" if part is not None and part in subject.missing else ""
    why_not = why_not or _why_not(region.applies, subject) or _why_not(question.applies, subject)
    return Step(
        item=item,
        side=side,
        region=region,
        question=question,
        applicable=not why_not,
        why_not=why_not,
        label=label,
        when=when,
        when_side=_resolve(
            question.when_side.get(side or "", ()), protocol, question, side, planned
        ),
        window_s=routine.window_s.get(item, question.windows_s[0]) if question.windows_s else None,
    )


def _always(question: Question, subject: Subject) -> bool:
    """Whether a follow-up is asked anyway at this dog's age."""
    age = subject.age_months
    if age is None:
        return False
    young = question.always_to_months is not None and age <= question.always_to_months
    old = question.always_from_months is not None and age >= question.always_from_months
    return young or old


def _resolve(
    conditions: tuple[Condition, ...],
    protocol: Protocol,
    question: Question,
    side: str | None,
    planned: frozenset[str],
) -> tuple[Condition, ...]:
    """Conditions on what this routine asks, each with the one side that it means, if any."""
    out = []
    for condition in conditions:
        if condition.item not in planned:
            continue
        asked = protocol.question(condition.item)
        shared = side in asked.sides or (question.per_lump and asked.per_lump)
        if condition.side is None and shared:
            condition = replace(condition, side=side)
        out.append(condition)
    return tuple(out)


def _why_not(applies: Applies, subject: Subject) -> str:
    """Why this is not for the dog, as a token; empty if it is, or if that is not known."""
    if applies.sex is not None and subject.sex not in {Sex.UNKNOWN, Sex(applies.sex)}:
        return "sex"
    if applies.neutered is not None and subject.neutered is not Neutered.UNKNOWN:
        wanted = Neutered.YES if applies.neutered else Neutered.NO
        if subject.neutered is not wanted:
            return "neutered"
    if applies.not_missing and set(applies.not_missing) <= subject.missing:
        return "missing_part"
    if set(applies.needs) & subject.missing:
        return "missing_part"
    if applies.dewclaws and not subject.dewclaws:
        return "no_dewclaws"
    age = subject.age_months
    if age is not None:
        if applies.min_age_months is not None and age < applies.min_age_months:
            return "too_young"
        if applies.max_age_months is not None and age > applies.max_age_months:
            return "too_old"
    if applies.shapes and subject.shape.value not in applies.shapes:
        return "shape"
    if applies.pigmented_gums is not None and applies.pigmented_gums != subject.pigmented_gums:
        return "gum_pigment"
    if applies.pregnant is not None and applies.pregnant != subject.pregnant:
        return "pregnancy"
    if applies.known_lumps is not None and applies.known_lumps != bool(subject.lumps):
        return "known_lumps"
    return ""


def due(step: Step, answers: Mapping[tuple[str, str | None], Given]) -> bool:
    """Whether a step is to be taken, given the answers so far (item and side to the latest).

    A step that does not apply is always due: it is stored, not asked. A follow-up is due only when
    what it follows was observed and fits.
    """
    if not step.applicable:
        return True
    return _any(step.when, answers) and _any(step.when_side, answers)


def _any(
    conditions: tuple[Condition, ...], answers: Mapping[tuple[str, str | None], Given]
) -> bool:
    return not conditions or any(_holds(condition, answers) for condition in conditions)


def _holds(condition: Condition, answers: Mapping[tuple[str, str | None], Given]) -> bool:
    return any(
        _fits(condition, given)
        for (item, side), given in answers.items()
        if item == condition.item and (condition.side is None or side == condition.side)
    )


def _fits(condition: Condition, given: Given) -> bool:
    if given.status != "observed" or given.value is None:
        return False
    value = given.value
    if isinstance(value, str):
        if condition.values:
            return value in condition.values
        return bool(condition.not_values) and value not in condition.not_values
    above = condition.above is None or value > condition.above
    below = condition.below is None or value < condition.below
    return (condition.above is not None or condition.below is not None) and above and below
