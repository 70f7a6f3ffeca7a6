"""A form taken by voice or keys: one question after the other, read back, corrected, confirmed.

Nothing is stored here: whoever runs the form takes its answers once it ended complete.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from handsfree.dialogue.actions import SetPace
from handsfree.dialogue.keying import typed_yes
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.field import Answers, Field, FieldKind, Value
from handsfree.interview.spelling import name_of, number_of, spelled
from handsfree.interview.talk import ALWAYS, ANSWERED, Talk

__all__ = ["Form", "Summary"]

Summary = Callable[[Answers], tuple[str, ...]]
"""The answers as they are read back at the end, sentence by sentence."""

_PACE_STEPS = 6
_BIT_BY_BIT = (FieldKind.NAME, FieldKind.DIGITS)
_STAGES = {FieldKind.NAME: "spell", FieldKind.DIGITS: "spell", FieldKind.NUMBER: "count"}


class Form(Talk):
    """Asks the fields in order.

    Args:
        fields: What is asked.
        intro: Said first.
        summary: Reads all back at the end, for a last yes; None where each answer was enough.
        by_keys: Answers are typed alone: the prompts for keys are taken.
        closing: Said when all is answered.
    """

    def __init__(
        self,
        fields: Sequence[Field],
        *,
        intro: tuple[str, ...] = (),
        summary: Summary | None = None,
        by_keys: bool = False,
        closing: tuple[str, ...] = (),
    ) -> None:
        super().__init__()
        self._fields = tuple(fields)
        self._intro = intro
        self._summary = summary
        self._by_keys = by_keys
        self._closing = closing
        self._answers: dict[str, Value] = {}
        self._at = 0
        self._bits: list[str] = []
        self._steps = 0
        self._doubt: Value = None
        self._confirming = False
        self._whole = False
        self._mending: int | None = None

    @property
    def answers(self) -> dict[str, Value]:
        """What was answered so far, by field; only what is due by the other answers."""
        return {
            field.id: self._answers[field.id]
            for field in self._fields
            if field.id in self._answers and field.when(self._answers)
        }

    @property
    def _field(self) -> Field:
        return self._fields[self._at]

    # asking

    def begin(self) -> None:
        """Ask the first question."""
        self._next(*self._intro)

    def _next(self, *before: str) -> None:
        while self._at < len(self._fields):
            field = self._field
            if field.id not in self._answers and field.when(self._answers):
                self._ask(*before)
                return
            self._at += 1
        if self._mending is not None:
            self._mend(self._mending + 1, *before)
        elif self._summary is not None:
            self._ask_whole(*before)
        else:
            self._finish(*before)

    def _ask(self, *before: str) -> None:
        field = self._field
        self._confirming = self._whole = False
        self._bits, self._steps, self.misheard = [], 0, 0
        prompt = field.typed if self._by_keys and field.typed else field.prompt
        self._put(prompt, before)

    def _put(self, prompt: str, before: tuple[str, ...] = ()) -> None:
        field = self._field
        pace = field.kind is FieldKind.PACE
        self.put(
            _STAGES.get(field.kind, "question"),
            prompt,
            grammars=("confirm",) if pace else (field.grammar,),
            choices=field.offered,
            before=before,
            # The next letter may follow at once: it does not take the one before it back.
            timed=field.kind in _BIT_BY_BIT,
        )

    def _confirm(self, value: Value, said: str) -> None:
        self._confirming, self._doubt = True, value
        self.put(
            "confirm", said, grammars=("confirm",), commands=ALWAYS,
            read_back=value,
        )  # fmt: skip

    def _ask_whole(self, *before: str) -> None:
        assert self._summary is not None
        self._whole, self._confirming = True, False
        self.misheard = 0
        self.put(
            "confirm",
            *self._summary(self.answers),
            "Is all of that right?",
            grammars=("confirm",),
            commands=ANSWERED,
            before=before,
        )

    def _mend(self, at: int, *before: str) -> None:
        """Read the answers back one by one, so that a wrong one is mended."""
        due = self.answers
        while at < len(self._fields) and self._fields[at].id not in due:
            at += 1
        if at >= len(self._fields):
            self._mending = None
            self._ask_whole(*before)
            return
        self._mending = self._at = at
        self._whole, self.misheard = False, 0
        field = self._field
        value = self._answers[field.id]
        if before:
            self.say(*before)
        self._confirm(value, f"{field.read_back(value)}. Right?")

    def _finish(self, *before: str) -> None:
        self.say(*before, *self._closing)
        self.over("complete")

    # answers

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take an answer."""
        value = meaning.value
        if self._whole or self._confirming:
            self._settle(yes=value == "yes")
            return
        field = self._field
        if field.kind in _BIT_BY_BIT:
            self._bit(str(value))
        elif field.kind is FieldKind.PACE:
            if value == "yes":
                self._keep(float(self._steps))
            else:
                self.not_understood()
        elif field.kind is FieldKind.NUMBER:
            number = None
            if not isinstance(value, str):
                number = field.number(float(value), meaning.unit or self._own_unit(field))
            if number is None:
                self.not_understood("That cannot be right.")
            else:
                self._confirm(number, f"{field.read_back(number)}. Right?")
        elif value in field.values:
            self._keep(value)
        else:
            self.not_understood()

    def _own_unit(self, field: Field) -> str | None:
        """What a number without a unit means to this person."""
        assert self.opened is not None
        imperial = self.opened.units == "imperial" and field.unit == "kg"
        return "lb" if imperial else None

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """Read back what may have been heard wrongly."""
        value = meaning.value
        if self._whole or self._confirming:
            self.not_understood()
            return
        field = self._field
        if field.kind is FieldKind.CHOICE and value in field.values:
            self._confirm(value, f"{field.values[str(value)]}. Right?")
        elif field.kind is FieldKind.NUMBER:
            self.answered(meaning, verdict)
        else:
            self.not_understood()

    def _settle(self, *, yes: bool) -> None:
        if self._whole:
            if yes:
                self._finish()
            else:
                self._mend(0, "Then we go through it.")
            return
        if not yes:
            if self._mending is not None:
                self._answers.pop(self._field.id, None)
            self._ask()
        elif self._mending is not None and self._field.id in self._answers:
            self._mend(self._mending + 1)
        else:
            self._keep(self._doubt, echo=False)

    def _keep(self, value: Value, *, echo: bool = True) -> None:
        field = self._field
        self._answers[field.id] = value
        self._confirming = False
        said = f"{field.read_back(value)}." if echo and field.kind is FieldKind.CHOICE else ""
        self._at += 1
        if self._mending is not None:
            # Other questions may be due by the new answer: they are asked before reading on.
            self._at = self._mending
        self._next(*([said] if said else []))

    # names and numbers, bit by bit

    def _bit(self, bit: str) -> None:
        if bit == "finish":
            self._whole_text()
            return
        self._bits.append(bit)
        self.misheard = 0
        self._put(f"{self._so_far(last=True)}.")

    def _so_far(self, *, last: bool = False) -> str:
        bits = self._bits[-1:] if last else self._bits
        if self._field.kind is FieldKind.NAME:
            return spelled(tuple(bits))
        return ", ".join(bits)

    def _whole_text(self) -> None:
        field = self._field
        letters = tuple(self._bits)
        text = name_of(letters) if field.kind is FieldKind.NAME else number_of(letters)
        if not text or (field.kind is FieldKind.DIGITS and len(letters) < field.fewest):
            self.not_understood("That is not finished yet.")
            return
        read = ", ".join(letters) if field.kind is FieldKind.DIGITS else spelled(letters)
        self._confirm(text, f"{field.label} {text}: {read}. Right?")

    # commands

    def command(self, token: str) -> bool:
        """Take slower and faster where the pace is asked, and finished as it is typed."""
        if self._whole or self._confirming or self._field.kind is not FieldKind.PACE:
            return False
        if token not in {"slower", "faster"} or abs(self._steps) >= _PACE_STEPS:
            return False
        step = 1 if token == "faster" else -1
        self._steps += step
        self.emit(SetPace(step=step))
        self._put("And now: slower, faster, or right?")
        return True

    def back(self) -> None:
        """Take the last letter back, or go back to the question before."""
        if not self._whole and not self._confirming and self._bits:
            self._bits.pop()
            so_far = self._so_far()
            self._put(f"Taken back. So far: {so_far}." if so_far else "Taken back. Begin anew.")
            return
        if self._whole and self._mending is None:
            self._mend(0)
            return
        if self._confirming:
            self._settle(yes=False)
            return
        at = self._at - 1
        while at > 0 and self._fields[at].id not in self._answers:
            at -= 1
        if at < 0 or self._fields[at].id not in self._answers:
            self.repeat()
            return
        self._at = at
        del self._answers[self._field.id]
        self._ask("Back.")

    def skip(self) -> None:
        """Leave the question with its default."""
        if self._whole:
            self.repeat()
            return
        field = self._field
        self._answers[field.id] = field.default
        self._confirming = False
        self._at = self._mending if self._mending is not None else self._at + 1
        self._next(field.default_said)

    def left(self) -> None:
        """Not understood to the last: what is confirmed is asked anew, once more is skipped."""
        if self._whole:
            self.say("I could not hear a yes.", *self.ending("not understood"))
            self.over("partial")
            return
        self.skip()

    def help(self) -> str:
        """Return the field's help."""
        if self._whole or self._confirming:
            return "Say yes if it is right, else no."
        return self._field.help

    def choices(self) -> str:
        """Return what can be said."""
        if self._whole or self._confirming:
            return "Say yes or no."
        return self._field.again

    # keys

    def yes(self) -> bool:
        """Enter: yes, or finished."""
        if self._whole or self._confirming:
            self._settle(yes=True)
            return True
        field = self._field
        if field.kind in _BIT_BY_BIT and self._bits:
            self._whole_text()
        elif field.kind is FieldKind.PACE:
            self._keep(float(self._steps))
        elif "yes" in field.values:
            self._keep("yes")
        else:
            return False
        return True

    def typed(self, text: str, *, number: bool) -> bool:
        """Take a typed answer."""
        plain = text.strip().lower()
        if self._whole or self._confirming:
            says_yes = typed_yes(plain)
            if says_yes is None:
                return False
            self._settle(yes=says_yes)
            return True
        if self._field.kind is FieldKind.PACE:
            if plain in {"right", "okay", "1"}:
                self._keep(float(self._steps))
                return True
            return False
        value = self._field.from_text(text, picks=number or plain.isdigit())
        if value is None:
            return False
        self._keep(value)
        return True
