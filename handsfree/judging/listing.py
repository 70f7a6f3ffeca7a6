"""The table and the items as lines, as JSON data, and as the pages of the documentation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from handsfree.judging.catalogue import Catalogue, ItemInfo
from handsfree.judging.model import Rule

if TYPE_CHECKING:
    from handsfree.judging.care import Due
    from handsfree.judging.rules import Table

__all__ = [
    "dues_as_data",
    "item_lines",
    "items_as_data",
    "items_page",
    "rule_lines",
    "rules_as_data",
    "rules_page",
    "table_lines",
    "when_text",
]

_AWAITS = "our own judgement, awaiting a vet"
_BOUNDS = {
    "at_least": "at least",
    "above": "above",
    "at_most": "at most",
    "below": "below",
}


def rules_as_data(rules: Sequence[Rule]) -> list[dict[str, Any]]:
    """Rows as plain data: id, level, when, say, source, basis, read."""
    return [
        {
            "id": rule.id,
            "level": rule.level.value,
            "when": rule.when,
            "say": rule.say,
            "source": rule.cite,
            "basis": rule.basis,
            "read": rule.read,
        }
        for rule in rules
    ]


def items_as_data(catalogue: Catalogue) -> list[dict[str, Any]]:
    """Items as plain data, with values, units and sides."""
    return [
        {
            "item": info.item,
            "region": info.title,
            "prompt": info.prompt,
            "kind": info.kind,
            "values": list(info.values),
            "normal": [value for value in info.values if value in info.normal],
            "unit": info.unit,
            "sides": list(info.sides),
        }
        for info in _asked(catalogue)
    ]


def dues_as_data(dues: Sequence[Due]) -> list[dict[str, Any]]:
    """A care calendar as plain data."""
    return [
        {
            "task": due.task.id,
            "title": due.task.title,
            "due": None if due.due is None else due.due.isoformat(),
            "last": None if due.last is None else due.last.isoformat(),
            "every_days": due.days,
            "own": due.own,
            "overdue_days": due.overdue_days,
            "ask_vet": due.task.ask_vet,
            "source": due.task.source,
            "basis": due.task.basis,
            "read": due.task.read,
        }
        for due in dues
    ]


def table_lines(rules: Sequence[Rule], table: Table) -> list[str]:
    """The table, a line a row, and how many rows await a vet."""
    lines = [f"Rule table {table.version}: {len(rules)} rows."]
    for rule in rules:
        mark = _AWAITS if rule.awaits_vet else f"{rule.basis}, read: {rule.read}"
        lines.append(f"{rule.id} [{rule.level.value}] {rule.say} ({mark}: {rule.cite})")
    waiting = sum(1 for rule in rules if rule.awaits_vet)
    lines.append(f"{waiting} of {len(rules)} rows are {_AWAITS}.")
    return lines


def rule_lines(rule: Rule, table: Table) -> list[str]:
    """One row, whole."""
    lines = [
        f"{rule.id}: {rule.level.value}",
        f"about: {rule.name} ({rule.topic})",
        f"when: {when_text(rule.when)}",
        f"say: {rule.say}",
    ]
    for title, text in (
        ("meanwhile", rule.meanwhile),
        ("avoid", rule.avoid),
        ("recheck", rule.recheck),
    ):
        if text:
            lines.append(f"{title}: {text}")
    if rule.waits:
        lines.append(f"interrupts only after: {rule.waits}")
    if rule.no_step:
        lines.append("never stepped up: age or state is in the row already, or changes nothing")
    if rule.calm_recheck:
        lines.append("a calm second reading may clear it")
    lines.append(f"source: {rule.cite}")
    lines.append(f"basis: {_AWAITS if rule.awaits_vet else rule.basis}; read: {rule.read}")
    lines.append(f"table: {table.version}")
    return lines


def when_text(when: object) -> str:
    """A condition in words."""
    if not isinstance(when, Mapping):
        return str(when)
    parts = []
    if "all" in when:
        parts.append(" and ".join(_part(p) for p in when["all"]))
    if "any" in when:
        joined = " or ".join(_part(p) for p in when["any"])
        parts.append(f"({joined})" if len(when) > 1 and len(when["any"]) > 1 else joined)
    if "dog" in when:
        parts.append(_dog(when["dog"]))
    return " and ".join(parts)


def _part(part: Mapping[str, Any]) -> str:
    if "none" in part:
        inner = " or ".join(_part(p) for p in part["none"])
        return f"not ({inner})"
    if "all" in part or "any" in part:
        return f"({when_text(part)})"
    if "dog" in part:
        return _dog(part["dog"])
    text = str(part["item"])
    if part.get("values"):
        text += f" is {' or '.join(part['values'])}"
    if part.get("not_values"):
        text += f" is other than {' or '.join(part['not_values'])}"
    bounds = [f"{word} {part[key]:g}" for key, word in _BOUNDS.items() if key in part]
    if bounds:
        text += f" {' and '.join(bounds)} {part.get('unit', '')}"
    return text.strip()


def _dog(dog: Mapping[str, Any]) -> str:
    words = []
    for key, value in dog.items():
        name = key.replace("_", " ")
        if value is True:
            words.append(f"dog is {name}")
        elif value is False:
            words.append(f"dog is not {name}")
        elif isinstance(value, list):
            words.append(f"dog's {name} is {' or '.join(map(str, value))}")
        else:
            words.append(f"dog's {name} is {value}")
    return " and ".join(words)


def item_lines(catalogue: Catalogue) -> list[str]:
    """Items, a line each; usual values have a star."""
    return [f"{info.item}: {_holds(info)}" for info in _asked(catalogue)]


def _holds(info: ItemInfo) -> str:
    if info.unit is not None:
        text = f"{info.kind} in {info.unit}"
    else:
        text = " ".join(f"{v}*" if v in info.normal else v for v in info.values)
    return f"{text} [{', '.join(info.sides)}]" if info.sides else text


def _asked(catalogue: Catalogue) -> list[ItemInfo]:
    return [info for info in catalogue.items.values() if info.kind != "derived"]


def rules_page(table: Table) -> str:
    """The page of the documentation that shows the whole table."""
    waiting = sum(1 for rule in table.rules if rule.awaits_vet)
    lines = [
        "# The rule table",
        "",
        "Made by `python -m handsfree.judging.pages`; correct the files in",
        "`handsfree/judging/data/` and run it again.",
        "",
        f"{len(table.rules)} rows; {waiting} of them are our own judgement and await a vet.",
        "The highest level that fires holds. Levels never add up, but for the steps below.",
        "",
        "## Steps up by one level",
        "",
    ]
    for step in table.steps:
        when = "two rows of `same_day` on different topics" if step.two_same_day else step.because
        only = " (breathing signs only)" if step.breathing_only else ""
        lines.append(f"- `{step.id}`: {when}{only}")
    for level in ("now", "same_day", "days", "next_visit", "watch"):
        rows = [rule for rule in table.rules if rule.level == level]
        lines += ["", f"## `{level}`", ""]
        lines += ["| Row | When | Say | Source | Basis | Read |", "|---|---|---|---|---|---|"]
        for rule in rows:
            basis = "**ours, awaits a vet**" if rule.awaits_vet else rule.basis
            cells = (f"`{rule.id}`", when_text(rule.when), rule.say, rule.cite, basis, rule.read)
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    lines += ["", "## Worked out from answers and the past", ""]
    lines += [
        f"- `{info.item}` ({info.unit}): {info.prompt}"
        for info in table.catalogue.items.values()
        if info.kind == "derived"
    ]
    return "\n".join(lines) + "\n"


def items_page(catalogue: Catalogue) -> str:
    """The page of the documentation that lists every item."""
    lines = [
        "# Items",
        "",
        "Made by `python -m handsfree.judging.pages`. Every item that a check can ask, with what",
        "it may hold; a star marks what is usual. Ids are never renamed once released.",
    ]
    title = ""
    for info in _asked(catalogue):
        if info.title != title:
            title = info.title
            lines += [
                "",
                f"## {title[0].upper()}{title[1:]}",
                "",
                "| Item | Asks | Holds |",
                "|---|---|---|",
            ]
        lines.append(f"| `{info.item}` | {info.prompt} | {_holds(info)} |")
    return "\n".join(lines) + "\n"
