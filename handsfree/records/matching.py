"""Finding the one dog or person that a text means, or saying clearly who could be meant."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Callable, Sequence
from typing import TypeVar

from handsfree.errors import CallerError
from handsfree.records.model import Dog, Person

__all__ = ["find", "folded", "short_key"]

Named = TypeVar("Named", Dog, Person)

SHOWN = 8
"""Most names in a list of who could be meant."""


def folded(text: str) -> str:
    """Return ``text`` as compared: without case, accents composed, spaces evened out."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def short_key(key: str) -> str:
    """Return the end of a key: short, and as good as unique among the dogs of one place."""
    return key.replace("-", "")[-6:]


def find(
    text: str,
    among: Sequence[Named],
    *,
    what: str,
    describe: Callable[[Named], str],
    add_hint: str,
    also: Callable[[Named], Sequence[str]] = lambda _: (),
) -> Named:
    """Return the one of ``among`` that ``text`` means.

    A whole key, the end of a key, a name, one of the ``also`` texts, or the beginning of a name,
    in this order; the first of these that fits anything decides.

    Args:
        text: What was typed.
        among: All that could be meant.
        what: "dog" or "person".
        describe: One line that tells one from another.
        add_hint: The command that adds one.
        also: Further exact names of one: a chip number.

    Raises:
        CallerError: Nobody or more than one could be meant; says who.
    """
    wanted = folded(text)
    key = wanted.replace("-", "")
    tests: tuple[Callable[[Named], bool], ...] = (
        lambda one: one.id.replace("-", "") == key,
        lambda one: len(key) >= 6 and one.id.replace("-", "").endswith(key),
        lambda one: folded(one.name) == wanted,
        lambda one: wanted in (folded(t) for t in also(one)),
        lambda one: bool(wanted) and folded(one.name).startswith(wanted),
    )
    for fits in tests:
        hits = [one for one in among if fits(one)]
        if len(hits) == 1:
            return hits[0]
        if hits:
            raise CallerError(_several(text, hits, what, describe))
    raise CallerError(_none(text, among, what, add_hint))


def _several(text: str, hits: Sequence[Named], what: str, describe: Callable[[Named], str]) -> str:
    lines = [f"{len(hits)} {'dogs' if what == 'dog' else 'people'} could be meant by {text!r}."]
    lines.append("Name one by the letters and digits in brackets:")
    lines += [f"  {describe(one)}" for one in hits[:SHOWN]]
    if len(hits) > SHOWN:
        lines.append(f"  and {len(hits) - SHOWN} more")
    return "\n".join(lines)


def _none(text: str, among: Sequence[Named], what: str, add_hint: str) -> str:
    names = {folded(one.name): one.name for one in among}
    near = difflib.get_close_matches(folded(text), names, n=3)
    start = f"No {what} is called {text!r}."
    if near:
        return f"{start} Did you mean {', '.join(repr(names[n]) for n in near)}?"
    return f"{start} Add one with: {add_hint}"
