"""Every sentence that the machine itself says, and how questions are put into words.

Short, plain, in the order in which a person needs them. What is asked comes from the protocol; the
frame around it stands here, so that a translator has one place to go to.
"""

from __future__ import annotations

from handsfree.protocol.model import Kind, Question
from handsfree.protocol.plan import Step, spoken

__all__ = [
    "again",
    "by_key",
    "choices",
    "confirm_again",
    "echo",
    "help_for",
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
    "/min": ("a minute", "a minute"),
    "s": ("second", "seconds"),
    "h": ("hour", "hours"),
    "d": ("day", "days"),
    "ml": ("millilitre", "millilitres"),
}


def number(value: float) -> str:
    """Return a number as it is spoken and printed: no trailing noughts."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def amount(value: float, unit: str | None) -> str:
    """Return a number with its unit in words."""
    one, many = UNIT_WORDS.get(unit or "", (unit or "", unit or ""))
    return f"{number(value)} {one if value == 1 else many}".strip()


def prompt(step: Step, *, by_touch: bool = False) -> str:
    """Return the question as it is asked."""
    question = step.question
    text = question.touch_prompt if by_touch and question.touch_prompt else question.prompt
    return spoken(text, step)


def again(step: Step, *, by_touch: bool = False) -> str:
    """Return the question in other words."""
    if by_touch and step.question.touch_prompt:
        return prompt(step, by_touch=True)
    return spoken(step.question.again, step)


def help_for(step: Step, *, by_touch: bool = False) -> str:
    """Return the help text, with the place described by touch."""
    question = step.question
    text = question.touch_help if by_touch and question.touch_help else question.help
    return spoken(text, step)


def list_of(parts: list[str], last: str = "or") -> str:
    """Return ``a, b or c``."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def choices(question: Question) -> str:
    """Return what can be said, in one sentence."""
    if question.kind is Kind.CHOICE:
        return f"You can say: {list_of(list(question.choices.values()))}."
    return "Say a number, for instance: twelve point four."


def by_key(question: Question) -> str:
    """Return the choices with their keys."""
    if question.kind is Kind.CHOICE:
        keys = [f"{n} for {word}" for n, word in enumerate(question.choices.values(), start=1)]
        return f"By key: {list_of(keys)}. Or say skip."
    return "Type the number and press Enter. Or say skip."


def echo(step: Step, value: str | float, unit: str | None = None) -> str:
    """Return an answer as it is said back, without asking."""
    question = step.question
    if isinstance(value, str):
        return spoken(question.values.get(value, value.replace("_", " ")), step).rstrip(".")
    label = question.values.get("number", "")
    text = amount(value, unit or question.unit)
    return f"{spoken(label, step)} {text}".strip() if label else text.capitalize()


def read_back(step: Step, value: str | float, unit: str | None = None) -> str:
    """Return an answer as it is read back for a yes or a no."""
    return f"{echo(step, value, unit)}. Right?"


def confirm_again(step: Step, value: str | float, unit: str | None, count: int) -> str:
    """Return the read-back in other words, growing with ``count``."""
    said = echo(step, value, unit)
    if count <= 1:
        return f"{said}: yes or no?"
    return f"{said}. Say yes, or no. By key: Enter for yes, 2 for no."
