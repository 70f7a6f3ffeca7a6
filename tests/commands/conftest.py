"""Running command lines in this process, on a data folder of their own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from handsfree.commands.main import main


@dataclass(frozen=True)
class Done:
    """What a command line did."""

    code: int
    out: str
    err: str


Command = Callable[..., Done]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return the data folder of this test."""
    return tmp_path / "data"


@pytest.fixture
def command(data: Path, capsys: pytest.CaptureFixture[str]) -> Command:
    """Return a function that runs one command line and says what came of it."""

    def run(*arguments: str) -> Done:
        capsys.readouterr()
        try:
            code = main(["--data", str(data), *arguments])
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else 1
        out, err = capsys.readouterr()
        return Done(code, out, err)

    return run
