"""Checks that span questions, regions and files: names that must exist, values that must agree.

Everything is noted in one go. Shapes of single tables are checked where they are built.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from handsfree.protocol.model import Condition, Kind, Protocol, Question, Region
from handsfree.protocol.reader import Problems

__all__ = ["check"]

_Fault: TypeAlias = Callable[[str, str], None]
"""Notes a fault of a key."""


def check(
    protocol: Protocol,
    files: Mapping[str, str],
    grammars: Mapping[str, frozenset[str]],
    problems: Problems,
) -> None:
    """Note every fault between the parts of a protocol.

    Args:
        protocol: What was built.
        files: Region id to its file's name, for messages.
        grammars: Grammar name to the set of its tags.
        problems: Where faults are noted.
    """
    items = {
        f"{region.id}.{question.id}": question
        for region in protocol.regions.values()
        for question in region.question
    }
    _check_keys(protocol, problems)
    for region in protocol.regions.values():
        _check_region(region, protocol, files[region.id], problems)
        for question in region.question:
            place = f"{files[region.id]}, region {region.id}, question {question.id}"
            _check_question(question, place, protocol, grammars, problems)
            conditions = [("when", c) for c in question.when]
            conditions += [
                (f"when_side.{side}", c) for side, some in question.when_side.items() for c in some
            ]
            for key, condition in conditions:
                _check_condition(condition, f"{place}, key {key}", items, problems)
    for item in protocol.retired:
        if item in items:
            problems.add(f"retired.toml, item {item}", "is retired, yet a region asks it")
    _check_routines(protocol, items, problems)


def _check_keys(protocol: Protocol, problems: Problems) -> None:
    for caution in protocol.cautions.values():
        if caution.source not in protocol.sources:
            problems.add(
                f"cautions.toml, {caution.key}, key source", f"no source {caution.source!r}"
            )


def _check_region(region: Region, protocol: Protocol, file: str, problems: Problems) -> None:
    place = f"{file}, region {region.id}"
    if file != f"{region.id}.toml":
        problems.add(f"{place}, key id", f"must be the file's name; name the file {region.id}.toml")
    if region.caution is not None and region.caution not in protocol.cautions:
        problems.add(f"{place}, key caution", f"no caution {region.caution!r} in cautions.toml")
    seen: set[str] = set()
    for question in region.question:
        if question.id in seen:
            problems.add(f"{place}, question {question.id}, key id", "stands twice in this region")
        seen.add(question.id)


def _check_question(
    question: Question,
    place: str,
    protocol: Protocol,
    grammars: Mapping[str, frozenset[str]],
    problems: Problems,
) -> None:
    def fault(key: str, what: str) -> None:
        problems.add(f"{place}, key {key}", what)

    if question.caution is not None and question.caution not in protocol.cautions:
        fault("caution", f"no caution {question.caution!r} in cautions.toml")
    sources = [("source", question.source)]
    if question.limits is not None:
        sources.append(("limits.source", question.limits.source))
    for key, source in sources:
        if source not in protocol.sources:
            fault(key, f"no source {source!r} in sources.toml")
    for key, some in (("normal", question.normal), ("alarming", question.alarming)):
        for value in some:
            if value not in question.values:
                fault(key, f"{value!r} is not among the values")
    for value in set(question.normal) & set(question.alarming):
        fault("alarming", f"{value!r} is also normal")
    for side in (*question.part, *question.when_side):
        if side not in question.sides:
            fault("sides", f"{side!r} is used but is not among the sides")
    if question.per_lump and question.sides:
        fault("per_lump", "a question asked per known lump has no sides of its own")
    tags = grammars.get(question.grammar)
    if tags is None:
        fault("grammar", f"there is no grammars/{question.grammar}.jsgf")
    if question.kind is Kind.CHOICE:
        _check_choice(question, tags, fault)
    else:
        _check_number(question, fault)


def _check_choice(question: Question, tags: frozenset[str] | None, fault: _Fault) -> None:
    if len(question.values) < 2:
        fault("values", "a choice needs at least two values")
    if tags is not None:
        for value in sorted(set(question.values) - tags):
            fault("values", f"{value!r} is no tag of grammars/{question.grammar}.jsgf")
        for value in sorted(tags - set(question.values)):
            fault("values", f"the tag {value!r} of {question.grammar}.jsgf is not among the values")
    if question.unit or question.limits or question.windows_s or question.units_heard:
        fault("kind", "a choice has no unit, limits or windows; is it a number?")


def _check_number(question: Question, fault: _Fault) -> None:
    if question.unit is None:
        fault("unit", "is missing; a number needs its unit")
    if question.limits is None:
        fault("limits", "are missing; a number needs its limits")
    if set(question.values) != {"number"}:
        fault("values", 'a number has one entry, number = "what it is called"')
    if (question.kind is Kind.COUNT) != bool(question.windows_s):
        fault("windows_s", "a count, and only a count, has windows")


def _check_condition(
    condition: Condition, place: str, items: Mapping[str, Question], problems: Problems
) -> None:
    asked = items.get(condition.item)
    if asked is None:
        problems.add(place, f"no item {condition.item!r}")
        return
    for value in (*condition.values, *condition.not_values):
        if value not in asked.values or asked.kind is not Kind.CHOICE:
            problems.add(place, f"{value!r} is no value of {condition.item}")
    if asked.kind is Kind.CHOICE and (condition.above is not None or condition.below is not None):
        problems.add(place, f"{condition.item} is a choice: above and below need a number")
    if condition.side is not None and condition.side not in asked.sides:
        problems.add(place, f"{condition.side!r} is no side of {condition.item}")


def _check_routines(protocol: Protocol, items: Mapping[str, Question], problems: Problems) -> None:
    for routine in protocol.routines.values():
        place = f"routines.toml, routine {routine.id}"
        if not routine.regions or routine.regions[0] != "now":
            problems.add(f"{place}, key regions", "the first region must be 'now'")
        for region_id in routine.regions:
            if region_id not in protocol.regions:
                problems.add(f"{place}, key regions", f"no region {region_id!r}")
        for region_id, questions in routine.only.items():
            if region_id not in routine.regions:
                problems.add(f"{place}, key only.{region_id}", "is not among the regions")
            for question_id in questions:
                if f"{region_id}.{question_id}" not in items:
                    problems.add(
                        f"{place}, key only.{region_id}", f"no question {question_id!r} there"
                    )
        for item, conditions in routine.when.items():
            if item not in items:
                problems.add(f"{place}, key when", f"no item {item!r}")
            for condition in conditions:
                _check_condition(condition, f"{place}, key when.{item}", items, problems)
        for item, window_s in routine.window_s.items():
            question = items.get(item)
            if question is None or window_s not in question.windows_s:
                problems.add(f"{place}, key window_s", f"{item} has no window of {window_s} s")
