"""Writing a file whole or not at all: beside its place first, then moved there.

Whatever goes wrong before the move, a full disk among it, the file that was there stays as it was.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from handsfree.errors import DataError

__all__ = ["writing"]


@contextmanager
def writing(target: Path, *, binary: bool = False) -> Iterator[IO[str] | IO[bytes]]:
    """Yield a file to write; it takes the place of ``target`` when all is written.

    Raises:
        DataError: The folder cannot be written, or the disk is full; ``target`` is unchanged.
    """
    part = target.with_name(f".{target.name[:80]}.{os.getpid()}.part")
    try:
        if target.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        # Health records: for the owner's eyes, whatever the folder allows.
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with (
            open(handle, "wb")  # noqa: PTH123  # an open descriptor has no path
            if binary
            else open(handle, "w", encoding="utf-8", newline="")  # noqa: PTH123  # as above
        ) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        msg = (
            f"{target} cannot be written ({error.strerror or error}): choose another place or "
            "make room. What was there before is unchanged."
        )
        raise DataError(msg) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
