"""``handsfree review``: what was stored, in plain lines, or spoken with ``--aloud``.

What a check came to is told as it was said then; what broke off unjudged is judged first.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store
from handsfree.errors import CallerError
from handsfree.protocol.single import single_title

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol, Question
    from handsfree.records import Answer, Dog, Exam, Store

__all__ = ["exam_lines", "exam_sentences", "register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "review",
        about="show what was found: of all dogs, of one dog, or of one check",
        example="handsfree review\nhandsfree review Rex --aloud\nhandsfree review 4f09e1",
        run=_run,
    )
    parser.add_argument(
        "what", metavar="DOG|EXAM", nargs="?", help="a dog, or a check by the end of its key"
    )
    parser.add_argument("--aloud", action="store_true", help="speak it")
    parser.add_argument("--all", action="store_true", help="every check of the dog, in full")


def _run(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        lines, sentences = _told(store, args)
        if args.aloud:
            from handsfree.commands.aloud import speak

            speak(sentences, store.settings.get())
        else:
            for text in lines:
                line(text)
    return 0


def _told(store: Store, args: argparse.Namespace) -> tuple[list[str], list[str]]:
    from handsfree.judging.gather import judge_left

    if args.what is None:
        judge_left(store)
        lines = _overview(store)
        return lines, lines
    from handsfree.protocol.loader import load

    protocol = load()
    exam = _exam_named(store, args.what)
    if exam is not None:
        dog = store.dogs.get(exam.dog_id)
        judge_left(store, dog_id=dog.id)
        return exam_lines(store, dog, exam, protocol), exam_sentences(store, dog, exam, protocol)
    dog = store.dogs.find(args.what, retired=True)
    exams = store.exams.of_dog(dog.id)
    if not exams:
        none = [f"{dog.name} has not been checked yet. Begin with: handsfree check"]
        return none, [f"{dog.name} has not been checked yet."]
    judge_left(store, dog_id=dog.id)
    beside = _beside(store, dog, exams[0])
    lines = list(beside)
    for one in exams if args.all else exams[:1]:
        lines += exam_lines(store, dog, one, protocol)
    earlier = exams[1:]
    if earlier and not args.all:
        lines.append("Earlier checks:")
        lines += [f"  {_head(store, one)}{_level(store, one)}" for one in earlier]
    return lines, [*beside, *exam_sentences(store, dog, exams[0], protocol)]


def _beside(store: Store, dog: Dog, exam: Exam) -> list[str]:
    """Return what stands of another check or measurement and is more urgent; a line or none."""
    from handsfree.review.conclusions import stands_beside

    results = store.results.of_exam(exam.id)
    level = results[0].level if results else ""
    text = stands_beside(store, dog.id, exam.id, level, store.file.clock().date())
    return [text] if text else []


def _exam_named(store: Store, text: str) -> Exam | None:
    """Return the check that ``text`` means; None where it means a dog or nothing.

    A dog may bear a name that looks like the end of a key: the dog is meant then.
    """
    try:
        store.dogs.find(text, retired=True)
    except CallerError:
        return store.exams.find(text)
    return None


def _overview(store: Store) -> list[str]:
    results = store.results.overview()
    lines = []
    for dog in store.dogs.all():
        exams = store.exams.of_dog(dog.id, limit=1)
        when = "not checked yet"
        if exams:
            what = "last measured" if single_title(exams[0].routine) else "last check"
            when = f"{what} {exams[0].begun_at:%Y-%m-%d}"
        result = results.get(dog.id)
        level = f"; {_level_words(result.level)}" if result else ""
        lines.append(f"{dog.name} [{_short(dog.id)}]: {when}{level}")
    return lines or ["No dogs yet. Add one with: handsfree dog add NAME"]


def exam_lines(store: Store, dog: Dog, exam: Exam, protocol: Protocol) -> list[str]:
    """Return one check in plain lines: what it came to, then every answer by region."""
    lines = [f"{dog.name} [{_short(dog.id)}], {_head(store, exam)}"]
    results = store.results.of_exam(exam.id)
    if results:
        level = results[0].level
        lines.append(f"What it came to: {_level_words(level)}.")
        lines += [f"  {text}" for text in results[0].body.get("spoken", ())]
    places = {lump.key: lump.place for lump in store.lumps.of_dog(dog.id, gone=True)}
    differing = _differing(store, dog, exam)
    region = ""
    left_out = 0
    for answer in store.exams.answers(exam.id):
        if answer.status.value == "not_applicable":
            left_out += 1
            continue
        title = _region(protocol, answer.item)
        if title != region:
            region = title
            lines.append(f"{title[:1].upper()}{title[1:]}:")
        lines.append(
            f"  {_answer_words(answer, protocol, places)}"
            f"{differing(answer.item, answer.side, answer.value)}"
        )
    if left_out:
        lines.append(f"Asked of other dogs only: {left_out}.")
    return lines


def _differing(
    store: Store, dog: Dog, exam: Exam
) -> Callable[[str, str | None, str | float | None], str]:
    """Return what tells in brackets how an answer stands beside another's of that day."""
    from handsfree.judging.differing import contested_of

    found = {(one.item, one.side): one for one in contested_of(store, exam.id)}
    if not found:
        return lambda _item, _side, _value: ""
    from handsfree.judging.gather import telling_of
    from handsfree.judging.rules import read_table
    from handsfree.review.answered import differs_words

    telling = telling_of(store, dog.id, read_table())

    def told(item: str, side: str | None, value: str | float | None) -> str:
        one = found.get((item, side))
        return "" if one is None else f" ({differs_words(one, value, telling)})"

    return told


def exam_sentences(store: Store, dog: Dog, exam: Exam, protocol: Protocol) -> list[str]:
    """Return one check as sentences to be spoken: what matters, then what was not observed."""
    done = "measured" if single_title(exam.routine) else "checked"
    sentences = [f"{dog.name}, {done} on {exam.begun_at.day} {exam.begun_at:%B %Y}."]
    results = store.results.of_exam(exam.id)
    if results:
        sentences += [str(text) for text in results[0].body.get("spoken", ())]
        return sentences
    places = {lump.key: lump.place for lump in store.lumps.of_dog(dog.id, gone=True)}
    unusual, missed = [], []
    for answer in store.exams.answers(exam.id):
        if answer.status.value == "not_observed":
            missed.append(_title(protocol, answer, places))
        elif answer.status.value == "observed" and not _is_normal(protocol, answer):
            unusual.append(_value_words(answer, protocol, places))
    if unusual:
        sentences.append("Noted: " + "; ".join(unusual) + ".")
    if missed:
        sentences.append("Not observed: " + "; ".join(missed) + ".")
    if not unusual and not missed:
        sentences.append("Nothing unusual was noted in what was asked.")
    return sentences


def _head(store: Store, exam: Exam) -> str:
    from handsfree.review.wording import routine_words

    who = f" by {store.people.get(exam.person_id).name}" if exam.person_id else ""
    state = {"complete": "complete", "partial": "not finished", "paused": "paused"}
    outcome = "not finished" if exam.outcome is None else state[exam.outcome.value]
    when = f"{exam.begun_at:%Y-%m-%d %H:%M}"
    return f"{when}, {routine_words(exam.routine)}{who}, {outcome} [{_short(exam.id)}]"


def _level(store: Store, exam: Exam) -> str:
    results = store.results.of_exam(exam.id)
    return f": {_level_words(results[0].level)}" if results else ""


def _level_words(level: str) -> str:
    from handsfree.review.wording import LEVEL_WORDS

    return LEVEL_WORDS.get(level, level)


def _answer_words(answer: Answer, protocol: Protocol, places: dict[str, str]) -> str:
    if answer.status.value == "not_observed":
        from handsfree.review.wording import REASONS

        reason = REASONS.get(answer.reason or "", (answer.reason or "").replace("_", " "))
        return f"{_title(protocol, answer, places)}: not observed ({reason})"
    words = _value_words(answer, protocol, places)
    notes: Sequence[str] = ()
    if answer.confirmed.value == "possible":
        notes = ("possible, never settled",)
    elif answer.confirmed.value == "unconfirmed":
        notes = ("not confirmed",)
    heard = f', heard "{answer.words}"' if answer.words and answer.by == "voice" else ""
    return words + "".join(f" ({note})" for note in notes) + heard


def _value_words(answer: Answer, protocol: Protocol, places: dict[str, str]) -> str:
    from handsfree.units import shown

    question = _question(protocol, answer.item)
    values = question.values if question else {}
    if isinstance(answer.value, float):
        name = values.get("number") or _plain(answer.item)
        return f"{_filled(name, answer, places)} {shown(answer.value, answer.unit or '')}".strip()
    known = values.get(str(answer.value))
    if known is not None:
        return _filled(known, answer, places)
    side = f"{answer.side.replace('_', ' ')} " if answer.side else ""
    return f"{side}{_plain(answer.item)}: {str(answer.value).replace('_', ' ')}"


def _title(protocol: Protocol, answer: Answer, places: dict[str, str]) -> str:
    side = answer.side
    where = "" if side is None else f", {places.get(side, side.replace('_', ' '))}"
    return f"{_plain(answer.item)}{where}"


def _filled(text: str, answer: Answer, places: dict[str, str]) -> str:
    side = answer.side or ""
    text = text.replace("{side}", side.replace("_", " "))
    text = text.replace("{lump}", places.get(side, "the lump"))
    return text[:1].upper() + text[1:]


def _is_normal(protocol: Protocol, answer: Answer) -> bool:
    question = _question(protocol, answer.item)
    return question is not None and (not question.normal or str(answer.value) in question.normal)


def _question(protocol: Protocol, item: str) -> Question | None:
    try:
        return protocol.question(item)
    except KeyError:  # retired, or of another version
        return None


def _region(protocol: Protocol, item: str) -> str:
    region = protocol.regions.get(item.partition(".")[0])
    return region.title if region else item.partition(".")[0].replace("_", " ")


def _plain(item: str) -> str:
    region, _, question = item.partition(".")
    return f"{region} {question}".replace("_", " ")


def _short(key: str) -> str:
    from handsfree.records.matching import short_key

    return short_key(key)
