"""Text as very large letters for a terminal, drawn with half blocks from Pillow's own font."""

from __future__ import annotations

import textwrap
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont, ImageFont

__all__ = ["large"]

_SIZES = (40, 32, 26, 22, 18, 16, 14, 12)
"""Heights in pixels that are tried, two pixels a line; smaller letters are not readable."""

_BLOCKS = (" ", "▀", "▄", "█")
_INK = 110
"""Grey above which a pixel is drawn, of 255."""


@lru_cache(maxsize=64)
def large(text: str, columns: int, rows: int) -> tuple[str, ...] | None:
    """Return ``text`` in the largest letters that fit; None where not even the smallest do.

    Args:
        text: One or more sentences.
        columns: Width of the terminal.
        rows: Lines that may be used.
    """
    for size in _SIZES:
        font = _font(size)
        if font is None:
            return None
        lines = _wrapped(text, font, columns)
        step = (size * 5 // 4 + 1) // 2
        if lines and len(lines) * step <= rows:
            return tuple(row for line in lines for row in _drawn(line, font, columns, 2 * step))
    return None


@lru_cache(maxsize=16)
def _font(size: int) -> FreeTypeFont | ImageFont | None:
    try:
        from PIL import ImageFont

        return ImageFont.load_default(size)
    except (ImportError, OSError, TypeError):  # Pillow was built without FreeType
        return None


def _wrapped(text: str, font: FreeTypeFont | ImageFont, columns: int) -> list[str]:
    """Return lines that fit the width; none if a single word does not."""
    for letters in range(len(text), 0, -1):
        lines = textwrap.wrap(text, letters, break_long_words=False, break_on_hyphens=False)
        widths = [font.getlength(line) for line in lines]
        if all(width <= columns for width in widths):
            return lines
        if max(len(word) for word in text.split()) > letters:
            return []
    return []


def _drawn(line: str, font: FreeTypeFont | ImageFont, columns: int, height: int) -> list[str]:
    from PIL import Image, ImageDraw

    image = Image.new("L", (columns, height))
    ImageDraw.Draw(image).text((0, 0), line, fill=255, font=font)
    grey = image.tobytes()
    rows = []
    for top in range(0, height, 2):
        upper = grey[top * columns : (top + 1) * columns]
        lower = grey[(top + 1) * columns : (top + 2) * columns]
        blocks = [_BLOCKS[(a > _INK) + 2 * (b > _INK)] for a, b in zip(upper, lower, strict=True)]
        rows.append("".join(blocks).rstrip())
    return rows
