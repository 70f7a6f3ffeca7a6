"""The command line as a whole: help, exit codes, plainness, lightness."""

from __future__ import annotations

import argparse
import importlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from handsfree.commands.main import COMMANDS, main

from .conftest import Command


def every_parser(name: str) -> Iterator[argparse.ArgumentParser]:
    """Yield the parser of a command, and those of its own commands."""
    top = argparse.ArgumentParser()
    importlib.import_module(COMMANDS[name]).register(top.add_subparsers())
    waiting = [top]
    while waiting:
        parser = waiting.pop()
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                waiting += action.choices.values()
        if parser is not top:
            yield parser


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name: str) -> None:
    """Each command, and each of its own, says what it does and shows a line that works."""
    parsers = list(every_parser(name))
    assert parsers
    for parser in parsers:
        text = parser.format_help()
        assert f"example:\n  handsfree {name}" in text, parser.prog
        assert parser.description
        assert parser.description.endswith("."), parser.prog


@pytest.mark.parametrize(
    "name",
    ["dog", "person", "settings", "review", "ready", "replay", "model", "backup", "restore"],
)
def test_every_command_takes_the_data_folder_behind_it(name: str) -> None:
    """``--data DIR`` may stand before the command and behind it."""
    options = {option for parser in every_parser(name) for option in parser._option_string_actions}
    assert "--data" in options


def test_help_lists_every_command(command: Command) -> None:
    """``handsfree --help`` names each command in the table."""
    done = command("--help")
    assert done.code == 0
    for name in COMMANDS:
        assert f"    {name} " in done.out, name


def test_nothing_asked_is_help_and_an_error(command: Command) -> None:
    """A bare ``handsfree`` shows help and exits other than 0."""
    done = command()
    assert done.code == 2
    assert "commands:" in done.out


@pytest.mark.parametrize(
    "arguments",
    [
        ("nonsense",),
        ("dog",),
        ("dog", "add"),
        ("dog", "show", "Zorro"),
        ("dog", "add", " "),
        ("dog", "add", "Rex", "--age", "old"),
        ("dog", "add", "Rex", "--age", "90 years"),
        ("dog", "add", "Rex", "--born", "2021-13"),
        ("dog", "add", "Rex", "--born", "2199"),
        ("dog", "add", "Rex", "--weight", "900kg"),
        ("dog", "add", "Rex", "--weight", "heavy"),
        ("dog", "add", "Rex", "--sex", "both"),
        ("dog", "add", "Rex", "--conditions", "a b!"),
        ("dog", "add", "Rex", "--by", "Nobody"),
        ("person", "add", "Kim", "--rate", "5"),
        ("settings", "set", "vet_number", "call me"),
        ("settings", "set", "colour", "blue"),
        ("review", "Zorro"),
        ("replay", "123456"),
        ("restore", "nowhere.sqlite"),
        ("backup",),
    ],
)
def test_bad_input_is_one_clear_line_and_changes_nothing(
    command: Command, data: Path, arguments: tuple[str, ...]
) -> None:
    """What cannot be done exits other than 0, says why in words, and stores nothing."""
    done = command(*arguments)
    assert done.code in (2, 5)
    assert done.err
    assert "Traceback" not in done.err
    assert command("dog", "list").out.startswith("No dogs yet")
    assert command("person", "list").out.startswith("Nobody yet")


def test_a_broken_database_is_told(command: Command, data: Path) -> None:
    """A file that is no database is named, with what to do, and left alone."""
    data.mkdir()
    (data / "records.sqlite").write_bytes(b"broken " * 300)
    done = command("dog", "list")
    assert done.code == 5
    assert "handsfree restore" in done.err
    assert (data / "records.sqlite").read_bytes() == b"broken " * 300


def test_output_is_plain(command: Command) -> None:
    """Off a terminal nothing is coloured, and names cannot steer one."""
    command("dog", "add", "Rex\x1b[31m\u202egnp", "--breed", "collie")
    for arguments in (("dog", "list"), ("dog", "show", "Rex"), ("review",)):
        done = command(*arguments)
        assert done.code == 0
        assert "Rex" in done.out
        assert not set(done.out) & {"\x1b", "\u202e"}


@pytest.mark.skipif(os.name == "nt", reason="needs a pseudo-terminal")
@pytest.mark.parametrize("no_color", [False, True])
def test_no_color_is_respected(data: Path, no_color: bool) -> None:
    """On a terminal the head is marked, unless NO_COLOR is set."""
    import pty

    assert main(["--data", str(data), "dog", "add", "Rex"]) == 0
    environment = {**os.environ, "TERM": "xterm"}
    environment.pop("NO_COLOR", None)
    if no_color:
        environment["NO_COLOR"] = "1"
    master, slave = pty.openpty()
    subprocess.run(
        [sys.executable, "-m", "handsfree", "--data", str(data), "dog", "show", "Rex"],
        stdout=slave,
        env=environment,
        check=True,
    )
    os.close(slave)
    text = os.read(master, 65536).decode()
    os.close(master)
    assert "Rex" in text
    assert ("\x1b[" in text) is not no_color


def test_a_reader_that_leaves_is_no_error(data: Path) -> None:
    """``handsfree dog list | head`` ends quietly."""
    for number in range(30):
        assert main(["--data", str(data), "dog", "add", f"Rex {number}"]) == 0
    script = (
        "import sys\n"
        "from handsfree.commands.main import main\n"
        f"sys.exit(main(['--data', {str(data)!r}, 'dog', 'list']))"
    )
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-c", script], stdout=writer, stderr=subprocess.PIPE, check=False
    )
    os.close(writer)
    assert done.returncode == 0
    assert done.stderr == b""


def test_help_loads_nothing_heavy() -> None:
    """No command's parser needs a database, numbers or an engine: those come when used."""
    script = (
        "import sys\n"
        "from handsfree.commands.main import main\n"
        "try:\n"
        "    main(['--help'])\n"
        "except SystemExit:\n"
        "    pass\n"
        "heavy = {'numpy', 'scipy', 'sqlite_utils', 'pocketsphinx', 'vosk', 'sounddevice', 'rich',"
        " 'pydantic', 'jinja2', 'transitions'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stderr.strip() == "[]"
