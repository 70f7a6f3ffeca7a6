"""Questions about a dog's past, as people ask them, answered in a sentence or two.

The phrases stand in ``grammars/past.jsgf``; this module knows only their meanings: a kind, and
what it is about. Answers come from the records alone, each with the day as people say it. Nothing
is judged here, and what nobody looked at is said as such.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from handsfree.errors import HeardError
from handsfree.hearing.verdict import Meaning, MeaningKind
from handsfree.judging.model import Change, ChangeKind
from handsfree.judging.result import Telling
from handsfree.protocol.single import single_title
from handsfree.review.wording import (
    LEVEL_WORDS,
    REASONS,
    answer_words,
    item_title,
    joined,
    said_when,
    sentence,
    side_title,
)
from handsfree.units import UNITS, convert

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Answer, Dog, Exam, Store

__all__ = ["EXAMPLES", "GRAMMAR", "answer", "understood"]

GRAMMAR = "past"
"""Name of the grammar of these questions."""

EXAMPLES = (
    "what was the last weight",
    "when were the ears last red",
    "what changed",
    "what was skipped last time",
    "what was the last result",
)

_PARTS: dict[str, tuple[str, ...]] = {
    "gums": ("mouth.gum_colour", "mouth.gum_moisture", "now.gums"),
    "teeth": ("mouth.teeth",),
    "breathing": ("watch.breathing", "watch.effort", "breaths.state"),
    "gait": ("watch.gait", "watch.foot_use", "mobility.rising"),
    "appetite": ("noticed.appetite", "kennel.eaten"),
    "thirst": ("noticed.drinking", "kennel.drunk"),
    "stools": ("noticed.stools", "noticed.stool_extra"),
    "urine": ("noticed.urine", "noticed.urine_colour"),
    "attitude": ("watch.attitude",),
    "cough": ("noticed.cough",),
    "vomiting": ("noticed.vomiting",),
    "scratching": ("noticed.scratching",),
    "stamina": ("noticed.stamina",),
}
"""Parts that are no region of the check, with their items."""

_NAMES: dict[str, str] = {
    "gums": "the gums",
    "teeth": "the teeth",
    "breathing": "the breathing",
    "gait": "the walk",
    "appetite": "the appetite",
    "thirst": "the thirst",
    "stools": "the stools",
    "urine": "the urine",
    "attitude": "the attitude",
    "cough": "coughing",
    "vomiting": "vomiting",
    "scratching": "scratching",
    "stamina": "the stamina",
}
_NOTED = frozenset({"cough", "vomiting"})
"""Parts that are signs: they are noted, not unusual."""

_TOLD = 3
"""So many things are named in an answer; the rest are counted."""


def understood(text: str, dog: str = "") -> Meaning:
    """Return what a typed question means, by the same grammar as a spoken one.

    Args:
        text: As typed; punctuation and capitals do not matter.
        dog: The dog's name, which may stand where "the dog" or "the" could.

    Raises:
        HeardError: No question of the grammar.
    """
    from handsfree.hearing.grammar import load

    plain = text.casefold().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    plain = plain.replace("colour", "color").replace("what's", "what is")
    if dog.strip():
        name = re.escape(dog.strip().casefold())
        plain = re.sub(rf"\b{name}'s?(?!\w)", "the", plain)
        plain = re.sub(rf"(?<!\w){name}(?!\w)", "the dog", plain)
    plain = re.sub(r"\b(his|her|its)\b", "the", plain)
    words = tuple(re.findall(r"[a-z']+", plain))
    meaning = load(GRAMMAR).meaning(words, MeaningKind.ANSWER)
    if meaning is None:
        msg = f"{text!r} is no question that is known. Ask such as: {'; '.join(EXAMPLES)}."
        raise HeardError(msg)
    return meaning


def answer(store: Store, dog: Dog, meaning: Meaning, on: date) -> str:
    """Return the answer to a question, in a sentence or two, to be spoken or printed.

    Args:
        store: The records.
        dog: Whose past.
        meaning: From the grammar ``past``.
        on: Today.

    Raises:
        HeardError: It is no question about the past.
    """
    kind, *about = str(meaning.value).split(" ")
    asked = _Asked(store, dog, on)
    if kind == "last" and about:
        return asked.last(about[0])
    if kind == "day" and about:
        return asked.day(about[0])
    if kind == "when" and len(about) == 2:
        return asked.when(*about)
    if kind == "how" and about:
        return asked.how(about[0])
    if kind == "changed":
        return asked.changed()
    if kind == "skipped":
        return asked.skipped()
    if kind == "result":
        return asked.result()
    msg = f"{meaning.value!r} is no question about the past."
    raise HeardError(msg)


class _Asked:
    """One question, with what answering needs; each answer reads only what it must."""

    def __init__(self, store: Store, dog: Dog, on: date) -> None:
        from handsfree.protocol.loader import load

        self._store = store
        self._dog = dog
        self._on = on
        self._protocol: Protocol = load()

    def last(self, item: str) -> str:
        """What a number or colour was when last taken."""
        title = item_title(item)
        if item == "weight.kg":
            weights = self._store.weights.of_dog(self._dog.id, limit=1)
            if not weights:
                return f"No weight of {self._dog.name} is on record."
            value = self._spoken(weights[0].weight_kg, "kg")
            return f"The last weight was {value}, {self._when(weights[0].at.date())}."
        found = self._store.exams.newest(self._dog.id, item)
        if item == "lumps.known_length":
            first = self._store.exams.newest(self._dog.id, "lumps.new_length")
            found = max((a for a in (found, first) if a), key=lambda a: a.at, default=None)
        if found is None:
            return f"No {title} of {self._dog.name} is on record."
        doubt = " It was never settled." if found.confirmed.value == "possible" else ""
        if not isinstance(found.value, float):
            return (
                f"When last looked at, {self._when(found.at.date())}: {self._value(found)}.{doubt}"
            )
        value = self._spoken(found.value, found.unit or "")
        where = self._side(found)
        return f"The last {title}{where} was {value}, {self._when(found.at.date())}.{doubt}"

    def day(self, what: str) -> str:
        """When something was last done."""
        if what == "check":
            exam = self._last_exam()
            if exam is None:
                return f"{self._dog.name} has not been checked yet."
            ended = exam.outcome is not None and exam.outcome.value == "complete"
            unfinished = "" if ended else " It was not finished."
            day = exam.begun_at.date()
            return f"{self._dog.name} was last checked {self._when(day)}.{unfinished}"
        return self.last(what)

    def when(self, part: str, odd: str) -> str:
        """When a part was last so."""
        name = self._name(part)
        verb = "were" if name.endswith("s") else "was"
        newest: Answer | None = None
        so = "noted" if odd == "unusual" and part in _NOTED else odd
        # What is asked only where something was noticed counts as looked at with that question.
        change = "noticed.change"
        asked = any(item.startswith("noticed.") for item in self._items(part))
        seen = asked and self._store.exams.newest(self._dog.id, change) is not None
        for item in self._items(part):
            question = self._protocol.question(item)
            if odd == "unusual":
                if not question.normal:
                    continue
                found = self._store.exams.newest(self._dog.id, item, but=question.normal)
            else:
                values = [v for v, words in question.values.items() if _means(odd, v, words)]
                if not values:
                    continue
                found = self._store.exams.newest(self._dog.id, item, values=values)
            seen = seen or found is not None or bool(self._store.exams.newest(self._dog.id, item))
            if found is not None and (newest is None or found.at > newest.at):
                newest = found
        if newest is None:
            if not seen:
                return f"Whether {name} {verb} ever {so} was not looked at in any check on record."
            return f"{sentence(name)} {verb} never {so} in the checks on record."
        doubt = ", though it was never settled" if newest.confirmed.value == "possible" else ""
        told = self._value(newest)
        return f"{sentence(name)} {verb} last {so} {self._when(newest.at.date())}: {told}{doubt}."

    def how(self, part: str) -> str:
        """How a part was when last looked at."""
        found = [self._store.exams.newest(self._dog.id, item) for item in self._items(part)]
        held = [one for one in found if one is not None]
        name = self._name(part)
        if not held:
            return f"{sentence(name)}: not looked at in any check on record."
        last = max(held, key=lambda a: a.at)
        exam = self._store.exams.answers(last.exam_id)
        items = set(self._items(part))
        words = [
            self._value(a)
            for a in exam
            if a.item in items and a.status.value == "observed" and not isinstance(a.value, float)
        ]
        told = joined(list(dict.fromkeys(words))[: 2 * _TOLD])
        return f"{sentence(name)}, {self._when(last.at.date())}: {told}."

    def changed(self) -> str:
        """What changed in the last check against those before it."""
        from handsfree.review.changes import changes_in_words

        exam = self._last_exam()
        if exam is None:
            return f"{self._dog.name} has not been checked yet, so nothing can be compared."
        changes = self._changes(exam)
        when = self._when(exam.begun_at.date())
        if changes is None:
            return f"There is only one check, {when}, so nothing can be compared."
        imperial = self._store.settings.get().units.value == "imperial"
        words = changes_in_words(changes, self._telling(), on=self._on, imperial=imperial)
        if not words:
            return f"Nothing had changed in the last check, {when}."
        more = f" And {len(words) - _TOLD} more." if len(words) > _TOLD else ""
        return f"In the last check, {when}: {' '.join(words[:_TOLD])}{more}"

    def skipped(self) -> str:
        """What was left out in the last check, and why."""
        exam = self._last_exam()
        if exam is None:
            return f"{self._dog.name} has not been checked yet."
        places = self._places()
        reasons: dict[str, list[str]] = {}
        for one in self._store.exams.answers(exam.id):
            if one.status.value == "not_observed":
                title = item_title(one.item) + _behind(side_title(one.side, places))
                reason = one.reason or ""
                reasons.setdefault(REASONS.get(reason, reason.replace("_", " ")), []).append(title)
        when = self._when(exam.begun_at.date())
        if not reasons:
            return f"Nothing was left out in the last check, {when}."
        parts = []
        for reason, titles in reasons.items():
            named = titles[: 2 * _TOLD]
            rest = len(titles) - len(named)
            more = [f"{rest} more"] if rest else []
            parts.append(f"{joined([*named, *more])} ({reason})")
        return f"Left out in the last check, {when}: {'; '.join(parts)}."

    def result(self) -> str:
        """What the last check came to, and what beside it is more urgent and still stands."""
        from handsfree.review.conclusions import stands_beside

        exam = self._last_exam()
        results = () if exam is None else self._store.results.of_exam(exam.id)
        level = results[0].level if results else ""
        key = "" if exam is None else exam.id
        beside = stands_beside(self._store, self._dog.id, key, level, self._on)
        return f"{self._result(exam)} {beside}".strip()

    def _result(self, exam: Exam | None) -> str:
        if exam is None:
            return f"{self._dog.name} has not been checked yet."
        when = self._when(exam.begun_at.date())
        results = self._store.results.of_exam(exam.id)
        if not results:
            return f"The last check, {when}, was not finished, so it has no result."
        level = results[0].level
        when += ", not finished" if results[0].body.get("unfinished") else ""
        names = list(dict.fromkeys(str(row["name"]) for row in results[0].body.get("fired", ())))
        told = f"The last check, {when}, came to: {LEVEL_WORDS.get(level, level)}."
        if names:
            rest = [f"and {len(names) - _TOLD} more"] if len(names) > _TOLD else []
            told += f" {sentence('; '.join([*names[:_TOLD], *rest]))}."
        return told

    def _changes(self, exam: Exam) -> Sequence[Change] | None:
        """Return the changes as stored with the exam's result; worked out anew where there is none.

        Anew means against the ten checks before, which is enough for a sentence.
        """
        earlier = [e for e in self._store.exams.of_dog(self._dog.id, limit=11) if e.id != exam.id]
        if not earlier:
            return None
        results = self._store.results.of_exam(exam.id)
        if results and "changes" in results[0].body:
            return [_change(raw) for raw in results[0].body["changes"]]
        from handsfree.judging.catalogue import catalogue_of
        from handsfree.judging.gather import findings_of
        from handsfree.judging.model import PastExam
        from handsfree.judging.past import Past, changes_since

        past = [
            PastExam(
                exam_id=one.id,
                on=one.begun_at.date(),
                findings=findings_of(self._store.exams.answers(one.id)),
            )
            for one in earlier[:10]
        ]
        findings = findings_of(self._store.exams.answers(exam.id))
        return changes_since(findings, Past.of(past), catalogue_of(self._protocol))

    def _last_exam(self) -> Exam | None:
        """Return the newest check with answers; a single measurement is none."""
        for limit in (5, None):  # nearly always it is among the newest
            for exam in self._store.exams.of_dog(self._dog.id, limit=limit):
                if not single_title(exam.routine) and self._store.exams.next_ref(exam.id) > 1:
                    return exam
        return None

    def _items(self, part: str) -> tuple[str, ...]:
        """Return the items of a part: those listed, or every choice of the region of that name."""
        if part in _PARTS:
            return _PARTS[part]
        region = self._protocol.regions[part]
        return tuple(f"{part}.{q.id}" for q in region.question if q.unit is None and q.normal)

    def _name(self, part: str) -> str:
        return _NAMES.get(part) or self._protocol.regions[part].title

    def _value(self, found: Answer) -> str:
        words = answer_words(found, self._telling())
        return words[:1].lower() + words[1:]

    def _side(self, found: Answer) -> str:
        return _behind(side_title(found.side, self._places()))

    def _spoken(self, value: float, unit: str) -> str:
        imperial = self._store.settings.get().units.value == "imperial"
        token = {"kg": "lb", "Cel": "degF", "mm": "in"}.get(unit, unit) if imperial else unit
        known = UNITS.get(token)
        if known is None:
            return f"{value:g} {unit}".strip()
        number = round(convert(value, unit, token), 2 if token == "kg" and value < 10 else 1)
        return f"{number:g} {known.spoken}"

    def _telling(self) -> Telling:
        from handsfree.judging.catalogue import catalogue_of

        return Telling(
            catalogue=catalogue_of(self._protocol), dog=self._dog.name, places=self._places()
        )

    def _places(self) -> dict[str, str]:
        return {lump.key: lump.place for lump in self._store.lumps.of_dog(self._dog.id, gone=True)}

    def _when(self, day: date) -> str:
        return said_when(day, self._on)


def _behind(side: str) -> str:
    return f", {side}" if side else ""


def _means(odd: str, value: str, words: str) -> bool:
    return odd == value or odd in value.split("_") or odd in words.lower().split()


def _change(raw: dict[str, Any]) -> Change:
    fields = ("item", "side", "before", "now", "unit", "counts", "usual", "usual_spread")
    since = raw.get("since")
    return Change(
        kind=ChangeKind(raw["kind"]),
        since=None if since is None else date.fromisoformat(since),
        **{name: raw[name] for name in fields if name in raw},
    )
