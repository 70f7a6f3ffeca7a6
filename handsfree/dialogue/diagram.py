"""The state diagram, drawn from the table of moves, and its place on the page in the docs.

``python -m handsfree.dialogue.diagram`` reads the page and prints it anew; as all of the machine it
opens no file. Moves between the same two states share an arrow; a table says the same in words.
"""

from __future__ import annotations

import sys

from handsfree.dialogue.states import MOVES

__all__ = ["drawing", "page"]

_BEGIN = "<!-- drawn by python -m handsfree.dialogue.diagram: do not edit -->\n"
_END = "<!-- end of the drawing -->\n"


def drawing() -> str:
    """Return the diagram as Mermaid text; every arrow names its moves."""
    arrows: dict[tuple[str, str], list[str]] = {}
    for move, sources, dest in MOVES:
        for source in sources:
            arrows.setdefault((source.value, dest.value), []).append(move)
    lines = ["stateDiagram-v2", "    [*] --> ready"]
    lines += [f"    {a} --> {b}: {', '.join(moves)}" for (a, b), moves in arrows.items()]
    lines.append("    finished --> [*]")
    return "\n".join(lines) + "\n"


def table() -> str:
    """Return the moves as a table in words, for those who read by ear."""
    lines = ["| move | from | to |", "|---|---|---|"]
    lines += [
        f"| {move} | {', '.join(source.value for source in sources)} | {dest.value} |"
        for move, sources, dest in MOVES
    ]
    return "\n".join(lines) + "\n"


def page(text: str) -> str:
    """Return a page with the drawing and its table between their two marks made anew.

    Raises:
        ValueError: The page has no such marks.
    """
    head, begun, rest = text.partition(_BEGIN)
    _, ended, tail = rest.partition(_END)
    if not begun or not ended:
        msg = "the page has no place for the drawing: it needs the two marks around it"
        raise ValueError(msg)
    return f"{head}{_BEGIN}\n```mermaid\n{drawing()}```\n\n{table()}\n{_END}{tail}"


if __name__ == "__main__":
    sys.stdout.write(page(sys.stdin.read()))
