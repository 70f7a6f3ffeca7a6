"""Copies of photos hold pixels and nothing else."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from handsfree.errors import CallerError, DataError
from handsfree.review.pictures import LONGEST, clean_copy

SECRET = "51 deg 30 N, invented"


def _photo(path: Path, size: tuple[int, int] = (400, 300)) -> Path:
    """Write an invented photo, left half red, with place, maker, comment and orientation."""
    image = Image.new("RGB", size, "white")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turned a quarter
    exif[0x010F] = SECRET
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    if path.suffix == ".png":
        text = PngInfo()
        text.add_text("Location", SECRET)
        image.save(path, pnginfo=text, exif=exif)
    else:
        image.save(path, exif=exif, comment=SECRET.encode(), icc_profile=SECRET.encode() * 9)
    return path


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_no_metadata_remains(tmp_path: Path, name: str) -> None:
    """Place, maker, comment and profile are gone; the picture is upright and its pixels there."""
    path = _photo(tmp_path / name)
    assert SECRET.encode() in path.read_bytes()
    copy = clean_copy(path)
    assert SECRET.encode() not in copy.data
    assert b"Exif" not in copy.data
    opened = Image.open(io.BytesIO(copy.data))
    assert dict(opened.getexif()) == {}
    assert set(opened.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert opened.size == (copy.width, copy.height) == (300, 400)
    top = opened.convert("RGB").getpixel((150, 50))
    assert isinstance(top, tuple)
    assert top[0] > 200
    assert top[1] < 60


def test_a_large_photo_is_made_smaller(tmp_path: Path) -> None:
    """The longest edge is kept within the limit, and the shape stays."""
    copy = clean_copy(_photo(tmp_path / "a.jpg", (4000, 3000)))
    assert (copy.width, copy.height) == (LONGEST * 3 // 4, LONGEST)


def test_what_is_no_photo_is_refused(tmp_path: Path) -> None:
    """Another kind of file, a broken photo and a missing one are each told in words."""
    page = tmp_path / "a.jpg"
    page.write_text("<svg onload=alert(1)>", encoding="utf-8")
    with pytest.raises(CallerError, match="neither JPEG nor PNG"):
        clean_copy(page)
    gif = tmp_path / "a.gif"
    Image.new("RGB", (4, 4)).save(gif)
    with pytest.raises(CallerError, match="neither JPEG nor PNG"):
        clean_copy(gif)
    whole = _photo(tmp_path / "b.jpg").read_bytes()
    cut = tmp_path / "c.jpg"
    cut.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(DataError, match="cannot be read as a photo"):
        clean_copy(cut)
    with pytest.raises(DataError, match="not there"):
        clean_copy(tmp_path / "none.jpg")
