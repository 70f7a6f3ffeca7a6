"""How questions, choices, numbers and answers are put into words.

What is asked comes from the protocol; here stands the frame around it. Pure text: nothing here
knows what the exam does with it.
"""

from __future__ import annotations

from handsfree.dialogue.turn import Answer
from handsfree.protocol.model import Kind, Question
from handsfree.protocol.plan import Step, spoken

__all__ = [
    "again",
    "amount",
    "by_key",
    "choices",
    "confirm_again",
    "count_again",
    "echo",
    "help_for",
    "last_try",
    "list_of",
    "number",
    "prompt",
    "read_back",
]

UNIT_WORDS = {
    "kg": ("kilo", "kilos"),
    "lb": ("pound", "pounds"),
    "Cel": ("degree", "degrees"),
    "degF": ("degree Fahrenheit", "degrees Fahrenheit"),
    "mm": ("millimetre", "millimetres"),
    "cm": ("centimetre", "centimetres"),
    "in": ("inch", "inches"),
    "g": ("gram", "grams"),
    "oz": ("ounce", "ounces"),
    "/min": ("a minute", "a minute"),
    "s": ("second", "seconds"),
    "h": ("hour", "hours"),
    "d": ("day", "days"),
    "mL": ("millilitre", "millilitres"),
    "L": ("litre", "litres"),
}


_AT_ONCE = 5
"""Choices named in one sentence at most."""


def number(value: float) -> str:
    """Return a number as it is spoken and printed: no trailing noughts."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def amount(value: float, unit: str | None) -> str:
    """Return a number with its unit in words."""
    one, many = UNIT_WORDS.get(unit or "", (unit or "", unit or ""))
    return f"{number(value)} {one if value == 1 else many}".strip()


def prompt(step: Step, by_touch: bool = False, *, brief: bool = False) -> str:
    """Return the question as it is asked; ``brief`` takes the shorter of its two wordings."""
    question = step.question
    if by_touch and question.touch_prompt:
        return spoken(question.touch_prompt, step)
    return spoken(_wordings(question, brief)[0], step)


def again(step: Step, by_touch: bool = False, *, brief: bool = False) -> str:
    """Return the question in other words."""
    question = step.question
    if by_touch and question.touch_prompt:
        return spoken(question.touch_prompt, step)
    return spoken(_wordings(question, brief)[1], step)


def _wordings(question: Question, brief: bool) -> tuple[str, str]:
    if brief and question.short is not None:
        return question.short, question.again
    if brief and len(question.again) < len(question.prompt):
        return question.again, question.prompt
    return question.prompt, question.again


def help_for(step: Step, by_touch: bool = False) -> str:
    """Return the help text, with the place described by touch."""
    question = step.question
    text = question.touch_help if by_touch and question.touch_help else question.help
    return spoken(text, step)


def list_of(parts: list[str], last: str = "or") -> str:
    """Return ``a, b or c``."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def choices(question: Question) -> tuple[str, ...]:
    """Return what can be said, in sentences short enough to be stopped between."""
    if question.kind is Kind.CHOICE:
        return _in_groups("You can say", list(question.choices.values()))
    return ("Say a number, for instance: twelve point four.",)


def by_key(question: Question) -> tuple[str, ...]:
    """Return the choices with their keys."""
    if question.kind is Kind.CHOICE:
        keys = [f"{n} for {word}" for n, word in enumerate(question.choices.values(), start=1)]
        return (*_in_groups("By key", keys), "Or say skip.")
    return ("Type the number and press Enter.", "Or say skip.")


def last_try(question: Question) -> tuple[str, ...]:
    """Return the last asking where there are no keys."""
    if question.kind is Kind.CHOICE:
        return (*_in_groups("Once more", list(question.choices.values())), "Or say skip.")
    return ("Say the number once more, slowly.", "Or say skip.")


def _in_groups(head: str, parts: list[str]) -> tuple[str, ...]:
    """Return the parts in sentences of four or so."""
    count = -(-len(parts) // _AT_ONCE)
    size = -(-len(parts) // count)
    groups = [parts[i : i + size] for i in range(0, len(parts), size)]
    return tuple(
        f"{head if index == 0 else 'Or'}: {list_of(group)}." for index, group in enumerate(groups)
    )


def count_again(rung: int, *, has_keys: bool) -> tuple[str, ...]:
    """Return how a count's number is asked for again."""
    if rung == 1:
        return ("How many was it?", "Say the number alone.")
    if rung == 2:
        return ("Say a number, for instance: twenty four.", "To count again, say go back.")
    return (f"{'Type' if has_keys else 'Say'} the number.", "Or say skip.")


def echo(step: Step, answer: Answer, *, brief: bool = False) -> str:
    """Return an answer as it is said back, without asking; in the person's own unit first.

    ``brief`` says no more of a choice than its own word, right behind a short question.
    """
    question, value = step.question, answer.value
    if isinstance(value, str) and brief and question.short is not None:
        return spoken(question.choices.get(value, value.replace("_", " ")), step)
    if isinstance(value, str):
        return spoken(question.values.get(value, value.replace("_", " ")), step).rstrip(".")
    label = question.values.get("number", "")
    unit = answer.unit or question.unit
    text = amount(round(value, 1) if answer.said else value, unit)
    if answer.said:
        text = f"{answer.said}, {text}"
    return f"{spoken(label, step)} {text}".strip() if label else text.capitalize()


def read_back(step: Step, answer: Answer) -> str:
    """Return an answer as it is read back for a yes or a no."""
    return f"{echo(step, answer)}. Right?"


def confirm_again(step: Step, answer: Answer, count: int, *, has_keys: bool) -> str:
    """Return the read-back in other words, growing with ``count``."""
    said = echo(step, answer)
    if count <= 1:
        return f"{said}: yes or no?"
    keys = " By key: Enter for yes, 2 for no." if has_keys else ""
    return f"{said}. Say yes, or no.{keys}"
