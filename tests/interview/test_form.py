"""A form by voice and keys: asked, read back, corrected, left open, and always ended."""

from __future__ import annotations

import pytest

from handsfree.dialogue.actions import Finish, SetPace
from handsfree.dialogue.events import Ticked, TooLoud
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Outcome
from handsfree.interview.field import Field, FieldKind
from handsfree.interview.first_run import first_run_fields, first_run_summary
from handsfree.interview.form import Form

from .keys import Hand

COLOUR = Field(
    id="colour", prompt="Which colour?", again="Red or blue?", help="Say red, or blue.",
    grammar="gum_colour", values={"red": "It is red", "blue": "It is blue"},
    choices={"red": "red", "blue": "blue"},
)  # fmt: skip
AGE = Field(
    id="age", kind=FieldKind.NUMBER, prompt="How old?", again="A number.", help="Years.",
    grammar="integer", label="Age", high=30.0, whole=True,
)  # fmt: skip
NAME = Field(
    id="name", kind=FieldKind.NAME, prompt="Spell it.", again="Letters.", help="Letters.",
    grammar="spelling", label="The name", default="My dog", default_said="Then my dog.",
)  # fmt: skip
MONTHS = Field(
    id="months", kind=FieldKind.NUMBER, prompt="How many months?", again="Months.", help="Months.",
    grammar="integer", label="Months", high=11.0, whole=True,
    when=lambda answers: answers.get("age") == 0.0,
)  # fmt: skip


def hand(*fields: Field, **more: object) -> Hand:
    """Return an open form."""
    return Hand(Form(fields, **more)).open()  # type: ignore[arg-type]


def answers(of: Hand) -> dict[str, object]:
    """Return what was answered."""
    assert isinstance(of.talk, Form)
    return dict(of.talk.answers)


def test_a_choice_is_echoed_inside_the_next_prompt() -> None:
    """An accepted choice is said back before what is asked next, and is not asked again."""
    form = hand(COLOUR, AGE)
    form.say("red")
    assert form.said[-2:] == ["It is red.", "How old?"]
    assert answers(form) == {"colour": "red"}


def test_a_number_is_read_back_and_can_be_denied() -> None:
    """No number is kept without a yes."""
    form = hand(AGE)
    form.say(4.0)
    assert form.said[-1] == "Age 4. Right?"
    assert answers(form) == {}
    form.say("no")
    form.say(5.0)
    form.say("yes")
    assert answers(form) == {"age": 5.0}
    assert form.outcome == "complete"


@pytest.mark.parametrize("value", [31.0, 2.5, "yes"])
def test_a_number_that_cannot_be_is_asked_again(value: str | float) -> None:
    """Out of reach, not whole or no number: it is said, and nothing is kept."""
    form = hand(AGE)
    form.say(value)
    assert "That cannot be right." in form.said
    assert answers(form) == {}


def test_a_name_is_spelled_corrected_and_read_back() -> None:
    """Go back takes the last letter away; finished reads the whole back."""
    form = hand(NAME)
    form.say("r", "e", "d")
    form.say("back", command=True)
    assert form.said[-1] == "Taken back. So far: R, E."
    form.say("x", "finish")
    assert form.said[-1] == "The name Rex: R, E, X. Right?"
    form.say("yes")
    assert answers(form) == {"name": "Rex"}


def test_a_name_can_be_left_to_its_default() -> None:
    """Skip gives the plain name and says so."""
    form = hand(NAME, COLOUR)
    form.say("skip", command=True)
    assert answers(form) == {"name": "My dog"}
    assert "Then my dog." in form.said


def test_a_typed_name_keeps_its_capitals() -> None:
    """By keys a name is typed as it is written."""
    form = hand(NAME)
    form.key("MacDuff")
    assert answers(form) == {"name": "MacDuff"}


def test_a_follow_up_is_asked_only_where_it_is_due() -> None:
    """Months are asked of a pup alone."""
    form = hand(AGE, MONTHS)
    form.key("0")
    assert form.said[-1] == "How many months?"
    older = hand(AGE, MONTHS)
    older.key("3")
    assert older.outcome == "complete"


def test_the_whole_is_read_back_and_mended() -> None:
    """A no at the end goes through the answers, and a wrong one is asked anew."""
    form = hand(COLOUR, AGE, MONTHS, summary=lambda a: (f"{a}.",))
    form.say("red")
    form.key("0", "7")
    assert form.said[-1] == "Is all of that right?"
    form.say("no")
    assert form.said[-1] == "It is red. Right?"
    form.say("yes")
    assert form.said[-1] == "Age 0. Right?"
    form.say("no")
    form.key("4")
    assert answers(form) == {"colour": "red", "age": 4.0}, "months are no longer due"
    assert form.said[-1] == "Is all of that right?"
    form.say("yes")
    assert form.outcome == "complete"


def test_a_doubtful_choice_is_asked_back() -> None:
    """What may have been heard wrongly is kept only after a yes."""
    form = hand(COLOUR)
    form.say("blue", doubt=True)
    assert form.said[-1] == "It is blue. Right?"
    assert answers(form) == {}
    form.say("yes")
    assert answers(form) == {"colour": "blue"}


def test_what_is_never_understood_is_left_open() -> None:
    """The ladder ends: asked thrice more, then left."""
    form = hand(COLOUR, AGE)
    for _ in range(4):
        form.mumble()
    assert answers(form) == {"colour": None}
    assert form.said[-1] == "How old?"


def test_an_ignored_sound_changes_nothing() -> None:
    """A bark climbs no ladder."""
    form = hand(COLOUR)
    before = len(form.actions)
    for _ in range(20):
        form.mumble(Outcome.IGNORE)
    assert len(form.actions) == before


def test_silence_never_moves_on_and_ends_after_ten_minutes() -> None:
    """It asks again, says that it waits, gives a soft tone now and then, and ends at last."""
    form = hand(COLOUR)
    form.wait(590, silences=True)
    assert not form.of(Finish)
    assert form.said.count("I wait for you.") == 1
    assert 10 <= len([t for t in form.tones if t.name.value == "waiting"]) <= 30
    form.wait(20)
    assert form.outcome == "partial"
    assert "Nothing was stored." in form.said[-1]


def test_while_paused_only_resume_and_stop_are_open() -> None:
    """An answer while paused is none; resume asks again."""
    form = hand(COLOUR)
    form.say("pause", command=True)
    assert form.talk.state is State.PAUSED
    assert form.listening is not None
    assert form.listening.listening.commands == {"resume", "stop"}
    form.say("red")
    assert answers(form) == {}
    form.say("resume", command=True)
    assert form.said[-1] == "Which colour?"
    form.say("stop", command=True)
    assert form.outcome == "partial"


def test_a_doubtful_stop_pauses() -> None:
    """In doubt it falls silent rather than end."""
    form = hand(COLOUR)
    form.say("stop", doubt=True, command=True)
    assert form.talk.state is State.PAUSED
    assert form.outcome is None


def test_a_retracted_answer_is_taken_back() -> None:
    """The person spoke on: the answer was none, and its question is asked again."""
    form = hand(COLOUR, AGE)
    form.say("red")
    form.retract()
    assert answers(form) == {}
    assert form.said[-1] == "Which colour?"


def test_the_pace_is_tried_until_it_is_right() -> None:
    """Slower and faster act at once and are counted; right ends it."""
    pace = next(field for field in first_run_fields() if field.id == "pace")
    form = hand(pace)
    form.say("faster", "faster", "slower", command=True)
    assert [a.step for a in form.of(SetPace) if isinstance(a, SetPace)] == [1, 1, -1]
    form.say("yes")
    assert answers(form) == {"pace": 1.0}


def test_help_and_repeat_are_always_open() -> None:
    """Help tells what to say, repeat asks in the same words, and neither loses the place."""
    form = hand(COLOUR)
    form.say("help", command=True)
    assert "Say red, or blue." in form.said
    form.say("repeat", command=True)
    assert form.said[-1] == "Which colour?"
    form.say("red")
    assert form.outcome == "complete"


def test_the_program_can_be_told_to_end() -> None:
    """A closed terminal ends the form as partial, without a word."""
    form = hand(COLOUR)
    before = len(form.said)
    form.stop()
    assert form.outcome == "partial"
    assert len(form.said) == before
    assert form.talk.step(Ticked(stream="test", sample=0)) == ()


def test_the_first_run_reads_everything_back() -> None:
    """Each answer of the first run stands in the summary."""
    fields = first_run_fields()
    form = Hand(Form(fields, summary=first_run_summary(fields))).open()
    form.key("a bit", "right", "Kim", "Rex", "girl", "no", "0", "7", "small", "yes", "no", "no")
    form.key("01632 960 100")
    text = " ".join(form.said[-8:])
    for part in ("Kim", "you see a bit", "Rex", "a girl", "not neutered", "months 7", "Small",
                 "flat face", "Never bitten", "01632 960 100"):  # fmt: skip
        assert part in text, part


def test_a_known_dog_is_asked_after() -> None:
    """A name that is stored already is asked after, so that no dog is added twice."""
    form = Hand(Form(first_run_fields(["rex"]))).open()
    form.key("full", "right", "Kim", "Rex")
    assert form.said[-1] == "Is that the dog of this name that I know already?"


def test_too_loud_is_said_once() -> None:
    """It offers keys or a headset, once, and goes on listening."""
    form = hand(COLOUR)
    for _ in range(3):
        form.feed(TooLoud(stream=form.stream, sample=form.now, loud=True))
    assert len([text for text in form.said if "too loud" in text]) == 1
    form.say("red")
    assert form.outcome == "complete"


def test_letters_may_follow_at_once() -> None:
    """Spelling listens so that the next letter is not taken for speech that ran on."""
    form = hand(NAME)
    assert form.listening is not None
    assert form.listening.listening.timed
    choice = hand(COLOUR)
    assert choice.listening is not None
    assert not choice.listening.listening.timed
