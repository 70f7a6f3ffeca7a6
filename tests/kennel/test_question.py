"""One question between two dogs: sure and doubtful words, pauses, keys, and an end to each."""

from __future__ import annotations

import pytest

from handsfree.dialogue.actions import Action, Listen, Speak
from handsfree.dialogue.events import Event, Heard, Key, Keyed, Opened, Silence
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Outcome, Verdict
from handsfree.kennel.names import Names
from handsfree.kennel.question import Question
from handsfree.kennel.wordings import told, when_told, yes_or_no
from handsfree.protocol.subject import Subject

START = Opened(stream="s", sample=0, subject=Subject(name="the dog"), routine="talk")


def heard(value: str | float, *, sure: bool = True, command: bool = False) -> Heard:
    """Return a word as hearing judged it."""
    kind = MeaningKind.COMMAND if command else MeaningKind.ANSWER
    candidate = Candidate(
        meaning=Meaning(kind=kind, value=value), words=str(value), probability=0.9 if sure else 0.5
    )
    outcome = Outcome.ACCEPT if sure else Outcome.ASK_BACK
    return Heard(
        stream="s", sample=1,
        verdict=Verdict(outcome=outcome, candidates=(candidate,), start=0, end=1),
    )  # fmt: skip


def key(text: str) -> Keyed:
    """Return a typed line, or Enter for an empty one."""
    kind = Key.VALUE if text else Key.YES
    return Keyed(stream="s", sample=1, key=kind, text=text)


def run(question: Question, *events: Event) -> list[Action]:
    """Feed events; return what the last one led to."""
    out = list(question.step(START))
    for event in events:
        out = list(question.step(event))
    return out


def said(actions: list[Action]) -> str:
    """Return all that is spoken."""
    return " ".join(s for a in actions if isinstance(a, Speak) for s in a.sentences)


@pytest.mark.parametrize("word", ["vet", "owner", "manager"])
def test_who_was_told_is_always_read_back(word: str) -> None:
    """A sure word is confirmed as well; a no asks anew."""
    question = Question(told("Rex", "That cannot wait."))
    assert "Right?" in said(run(question, heard(word)))
    assert "Who was told?" in said(list(question.step(heard("no"))))
    question.step(heard(word))
    question.step(heard("yes"))
    assert question.value == word


def test_the_same_doubtful_word_twice_counts() -> None:
    """Once is asked again, twice is taken; not understood for ever is a no."""
    question = Question(yes_or_no("x", "Was it given?"))
    assert "Was it given?" in said(run(question, heard("yes", sure=False)))
    question.step(heard("yes", sure=False))
    assert question.value == "yes"
    question = Question(yes_or_no("x", "Was it given?"))
    question.step(START)
    for number in range(9):
        question.step(heard(("yes", "no")[number % 2], sure=False))
    assert question.state is State.FINISHED
    assert question.value == "no"


def test_a_pause_is_left_by_resume_whatever_was_heard_in_it() -> None:
    """A doubtful word in a pause leaves the pause open, and what was asked is answered after it."""
    question = Question(yes_or_no("x", "Was it given?"))
    actions = run(question, heard("pause", command=True), heard("resume", sure=False, command=True))
    assert said(actions) == "Say resume, or stop."
    assert any(isinstance(action, Listen) for action in actions)
    question.step(heard("resume", sure=False, command=True))
    question.step(heard("yes"))
    assert question.value == "yes"


def test_a_stop_out_of_a_pause_is_sure() -> None:
    """It is not asked back once more; one that was simply heard is."""
    question = Question(yes_or_no("x", "Was it given?"))
    run(question, heard("stop", sure=False, command=True), heard("stop", command=True))
    assert (question.value, question.is_sure) == ("stop", True)
    question = Question(yes_or_no("x", "Was it given?"))
    run(question, heard("stop", command=True))
    assert (question.value, question.is_sure) == ("stop", False)


def test_keys_answer_at_any_time() -> None:
    """A number picks, a word is taken, a name keeps its capitals, a time stays as typed."""
    for line, value in (("2", "no"), ("y", "yes"), ("", "yes")):
        question = Question(yes_or_no("x", "Was it given?"))
        run(question, key(line))
        assert question.value == value
    question = Question(told("Rex", "That cannot wait."))
    run(question, key("Dr Reed"))
    assert question.value == "text:Dr Reed"
    question = Question(when_told())
    run(question, key("17:50"))
    assert question.value == "17:50"
    question = Question(when_told())
    run(question, heard(20.0))
    assert question.value == "20"


def test_silence_is_no_answer() -> None:
    """It is asked again once, then waited for."""
    question = Question(yes_or_no("x", "Was it given?"))
    assert "Was it given?" in said(run(question, Silence(stream="s", sample=1)))
    assert question.value is None
    assert question.state is not State.FINISHED
    assert Names([], []).meant("yes") == ()
