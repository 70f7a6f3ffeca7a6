"""A progress line for work that takes more than a second, on a terminal only."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["progress"]

QUIET_S = 1.0
"""Nothing is shown before this."""


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """Yield a function that is told how much is left, and of how much."""
    started = time.monotonic()
    bar = None
    task = None

    def told(left: int, of: int) -> None:
        nonlocal bar, task
        if bar is None and sys.stderr.isatty() and time.monotonic() - started > QUIET_S:
            from rich.console import Console
            from rich.progress import Progress

            bar = Progress(console=Console(stderr=True), transient=True)
            bar.start()
            task = bar.add_task(what)
        if bar is not None and task is not None:
            bar.update(task, completed=of - left, total=of)

    try:
        yield told
    finally:
        if bar is not None:
            bar.stop()
