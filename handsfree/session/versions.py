"""What an exam was made with, for the record: a hash over the grammar files."""

from __future__ import annotations

import hashlib
from functools import cache

from handsfree.hearing.grammar import grammar_dir

__all__ = ["grammars_hash"]


@cache
def grammars_hash() -> str:
    """Return 16 hex digits over all grammar files, names included."""
    digest = hashlib.sha256()
    for path in sorted(grammar_dir().glob("*.jsgf")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
