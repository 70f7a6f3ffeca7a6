"""Reads the protocol's files, checks them as a whole, and hands out one protocol.

The only place of the package that touches files. Nothing is half loaded: either everything is
right, or one error lists every problem with file, region, question and key.
"""

from __future__ import annotations

import functools
import hashlib
import re
import tomllib
from pathlib import Path
from typing import Any

from handsfree.errors import DataError
from handsfree.protocol.build import build_cautions, build_region, build_routines, build_sources
from handsfree.protocol.check import check
from handsfree.protocol.model import Protocol, Region
from handsfree.protocol.reader import Problems, TableReader

__all__ = ["DATA_FOLDER", "grammar_folder", "grammar_tags", "load", "load_from"]

DATA_FOLDER = Path(__file__).parent / "data"

_TAG = re.compile(r"\{\s*([^{}]*?)\s*\}")
_COMMENT = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)


def grammar_folder() -> Path:
    """Where the JSGF files are: inside an installed package, or beside it in a clone."""
    package = Path(__file__).parents[1]
    inside = package / "grammars"
    return inside if inside.is_dir() else package.parent / "grammars"


def grammar_tags(folder: Path) -> dict[str, frozenset[str]]:
    """Each grammar's name with the tags in it."""
    return {
        file.stem: frozenset(_TAG.findall(_COMMENT.sub(" ", file.read_text(encoding="utf-8"))))
        for file in folder.glob("*.jsgf")
    }


@functools.cache
def load() -> Protocol:
    """Load the protocol that is shipped; read and checked once a process.

    Raises:
        DataError: Something in it is wrong; the message lists every problem.
    """
    return load_from(DATA_FOLDER, grammar_folder())


def load_from(data: Path, grammars: Path) -> Protocol:
    """Load a protocol from a folder of files.

    Args:
        data: Folder with ``regions/*.toml``, ``routines.toml``, ``cautions.toml``,
            ``sources.toml`` and ``retired.toml``.
        grammars: Folder with the JSGF files.

    Raises:
        DataError: Something in it is wrong; the message lists every problem.
    """
    problems = Problems()
    digest = hashlib.sha256()

    def read(file: Path) -> dict[str, Any]:
        try:
            content = file.read_bytes()
            digest.update(file.name.encode() + b"\0" + content)
            return tomllib.loads(content.decode("utf-8"))
        except OSError as error:
            problems.add(file.name, f"cannot be read ({error.strerror}); put the file back")
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            problems.add(file.name, f"is no TOML: {error}")
        return {}

    regions: dict[str, Region] = {}
    files: dict[str, str] = {}
    for file in sorted((data / "regions").glob("*.toml")):
        raw = read(file)
        if not raw:
            continue
        region = build_region(raw, file.name, problems)
        if region.id in regions:
            problems.add(f"{file.name}, region {region.id}, key id", f"also in {files[region.id]}")
        regions[region.id] = region
        files[region.id] = file.name
    retired = TableReader(read(data / "retired.toml"), "retired.toml", problems)
    protocol = Protocol(
        regions=regions,
        sources=build_sources(read(data / "sources.toml"), "sources.toml", problems),
        cautions=build_cautions(read(data / "cautions.toml"), "cautions.toml", problems),
        routines=build_routines(read(data / "routines.toml"), "routines.toml", problems),
        retired=retired.tokens("items"),
        version=digest.hexdigest()[:12],
    )
    retired.finish()
    check(protocol, files, grammar_tags(grammars), problems)
    if problems.lines:
        count = len(problems.lines)
        what = "1 problem" if count == 1 else f"{count} problems"
        raise DataError(
            f"The check's files have {what}; correct each and start again:\n"
            + "\n".join(problems.lines)
        )
    return protocol
