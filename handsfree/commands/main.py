"""The command line: finds the command, loads its module alone, tells errors in one sentence.

One module a command, each with ``register(subparsers)``; the table below is all that is known of
them here, so that no command waits for another's imports.
"""

from __future__ import annotations

import argparse
import importlib
import io
import os
import sys
from collections.abc import Sequence

from handsfree.errors import HandsfreeError

__all__ = ["COMMANDS", "main"]

COMMANDS: dict[str, str] = {
    "begin": "handsfree.commands.begin",
    "check": "handsfree.commands.check",
    "measure": "handsfree.commands.measure",
    "practise": "handsfree.commands.practise",
    "rehearse": "handsfree.commands.rehearse",
    "care": "handsfree.commands.care",
    "judge": "handsfree.commands.judge",
    "rules": "handsfree.commands.rules",
    "items": "handsfree.commands.items",
    "dog": "handsfree.commands.dog",
    "person": "handsfree.commands.person",
    "settings": "handsfree.commands.settings",
    "kennel": "handsfree.commands.kennel",
    "round": "handsfree.commands.round",
    "handover": "handsfree.commands.handover",
    "sync": "handsfree.commands.sync",
    "review": "handsfree.commands.review",
    "ask": "handsfree.commands.ask",
    "attach": "handsfree.commands.attach",
    "report": "handsfree.commands.report",
    "export": "handsfree.commands.export",
    "import": "handsfree.commands.import_",
    "ready": "handsfree.commands.ready",
    "replay": "handsfree.commands.replay",
    "model": "handsfree.commands.model",
    "backup": "handsfree.commands.backup",
    "restore": "handsfree.commands.restore",
}
"""Every command and its module, in the order in which they are listed."""

INTERRUPTED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command line; return its exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    _never_fail_on_letters()
    parser = _parser(_named_command(arguments))
    args = parser.parse_args(arguments)
    run = getattr(args, "run", None)
    if run is None:
        args.show_help()
        return 2
    try:
        code = int(run(args))
        sys.stdout.flush()
    except HandsfreeError as error:
        _flush()
        print(f"handsfree: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        _flush()
        print("handsfree: stopped.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has left (such as `head`): not an error, and nothing to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code


def _parser(only: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="handsfree",
        description="An offline, voice-guided, hands-free health check of a dog.",
        epilog="example:\n"
        "  handsfree dog add Rex --born 2021-05 --sex male\n"
        "  handsfree check Rex\n",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--data", metavar="DIR", help="folder of the records")
    parser.add_argument("--version", action="store_true", help="print the version")
    parser.set_defaults(show_help=parser.print_help, run=_version_or_none)
    subparsers = parser.add_subparsers(metavar="COMMAND", title="commands")
    for name, module in COMMANDS.items():
        if only is None or name == only:
            importlib.import_module(module).register(subparsers)
    return parser


def _version_or_none(args: argparse.Namespace) -> int:
    if not args.version:
        args.show_help()
        return 2
    from handsfree.commands.shared import program_version

    print(f"handsfree {program_version()}")
    return 0


def _named_command(arguments: Sequence[str]) -> str | None:
    """Return the command that is meant, so that only its module is loaded; None if unsure."""
    skip = False
    for argument in arguments:
        if skip:
            skip = False
        elif argument == "--data":
            skip = True
        elif not argument.startswith("-"):
            return argument if argument in COMMANDS else None
    return None


def _never_fail_on_letters() -> None:
    """Print letters that the terminal lacks as question marks rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _flush() -> None:
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
