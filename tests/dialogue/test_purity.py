"""The machine knows no clock, file, database, sound or engine; its package is light to import."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import handsfree.dialogue

FOLDER = Path(handsfree.dialogue.__file__).parent
MODULES = sorted(file for file in FOLDER.glob("*.py") if file.stem != "diagram")
ALLOWED = {
    "__future__",
    "collections",
    "dataclasses",
    "enum",
    "functools",
    "itertools",
    "re",
    "transitions",
    "types",
    "typing",
}
"""From outside: nothing that knows the time, the machine, or chance."""
OURS = {
    "handsfree.dialogue",
    "handsfree.errors",
    "handsfree.hearing.verdict",
    "handsfree.measuring.amounts",
    "handsfree.measuring.awaited",
    "handsfree.measuring.rates",
    "handsfree.measuring.refill",
    "handsfree.protocol.model",
    "handsfree.protocol.plan",
    "handsfree.protocol.single",
    "handsfree.protocol.subject",
    "handsfree.units",
}
"""From the package: shapes, the plan, units and the stopwatch's arithmetic."""


def _imported(file: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(node.module or "")
    return names


@pytest.mark.parametrize("file", MODULES, ids=lambda file: file.stem)
def test_a_module_imports_nothing_impure(file: Path) -> None:
    """Not even inside a function."""
    for name in _imported(file):
        ours = any(name == allowed or name.startswith(f"{allowed}.") for allowed in OURS)
        assert ours or name.split(".")[0] in ALLOWED, f"{file.name} imports {name}"


@pytest.mark.parametrize("file", MODULES, ids=lambda file: file.stem)
def test_a_module_is_one_idea(file: Path) -> None:
    """At most 400 lines, and it opens by saying what lives in it."""
    text = file.read_text(encoding="utf-8")
    assert text.count("\n") <= 400
    assert ast.get_docstring(ast.parse(text))


def test_the_package_is_light() -> None:
    """Its shapes come without state machine, arrays, parsers or databases."""
    heavy = ("numpy", "scipy", "transitions", "lark", "sqlite_utils", "pydantic", "pyttsx3")
    code = (
        "import sys, handsfree.dialogue as d; d.Opened, d.Record; "
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert shown.stdout.strip() == "[]"
