"""Writes ``docs/rules.md`` and ``docs/items.md`` from the table: ``python -m …pages [FOLDER]``."""

from __future__ import annotations

import sys
from pathlib import Path

from handsfree.judging.listing import items_page, rules_page
from handsfree.judging.rules import read_table

__all__ = ["pages"]


def pages() -> dict[str, str]:
    """File names and texts of the generated pages."""
    table = read_table()
    return {"rules.md": rules_page(table), "items.md": items_page(table.catalogue)}


def main() -> None:
    """Write the pages into ``docs`` or the folder named."""
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "docs")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
