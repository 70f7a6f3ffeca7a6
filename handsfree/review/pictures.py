"""Clean copies of photos: JPEG or PNG, upright, no larger than the page needs, nothing but pixels.

What a camera writes beside the picture (places, times, names, thumbnails, profiles) is left behind:
the copy is made anew from the pixels alone.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from handsfree.errors import CallerError, DataError

__all__ = ["LONGEST", "Picture", "clean_copy"]

LONGEST = 1280
"""Longest edge of the copy, in pixels: enough to judge a lump by, small enough to be sent."""

MOST_BYTES = 50_000_000
MOST_PIXELS = 100_000_000
_QUALITY = 85
_KINDS = {"JPEG": "image/jpeg", "PNG": "image/png"}


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A clean copy: media type, size in pixels, bytes."""

    kind: str
    width: int
    height: int
    data: bytes


def clean_copy(path: Path) -> Picture:
    """Return a clean copy of a photo.

    Raises:
        CallerError: It is neither JPEG nor PNG, or far too large.
        DataError: It is missing, cannot be read, or is broken.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        if path.stat().st_size > MOST_BYTES:
            msg = f"{path} has more than {MOST_BYTES // 1_000_000} MB: attach a smaller copy."
            raise CallerError(msg)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path, formats=tuple(_KINDS)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    msg = f"{path} has too many pixels ({opened.width} by {opened.height})."
                    raise CallerError(msg)
                kind = str(opened.format)
                upright = ImageOps.exif_transpose(opened)
                clear = "A" in upright.getbands() or "transparency" in upright.info
                mode = "RGBA" if kind == "PNG" and clear else "RGB"
                pixels = upright.convert(mode)
    except (UnidentifiedImageError, Image.DecompressionBombError) as error:
        msg = f"{path} is neither JPEG nor PNG: give a photo of one of these kinds."
        raise CallerError(msg) from error
    except FileNotFoundError as error:
        msg = f"{path} is not there: check the name."
        raise DataError(msg) from error
    except (OSError, SyntaxError, ValueError) as error:
        msg = f"{path} cannot be read as a photo ({error}): it is broken, or may not be read."
        raise DataError(msg) from error
    pixels.thumbnail((LONGEST, LONGEST))
    # Pasted into a new picture, so that not even an unknown chunk can come along.
    copy = Image.new(pixels.mode, pixels.size)
    copy.paste(pixels)
    written = io.BytesIO()
    if kind == "JPEG":
        copy.save(written, "JPEG", quality=_QUALITY, optimize=True)
    else:
        copy.save(written, "PNG", optimize=True)
    return Picture(kind=_KINDS[kind], width=copy.width, height=copy.height, data=written.getvalue())
