"""The page of one dog and the overview of all, as self-contained HTML.

Rendering only: templates escape everything that people entered. A page asks for nothing: its policy
allows its own style by digest, pictures within it, and for the overview its own short script.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from handsfree.review.figure import figure
from handsfree.review.wording import LEVEL_NAMES, LEVEL_WORDS, sentence

if TYPE_CHECKING:
    from jinja2 import Environment

    from handsfree.records.photos import Photo
    from handsfree.review.overview import Overview
    from handsfree.review.report import Report

__all__ = ["overview_page", "report_page"]


def report_page(report: Report) -> str:
    """Return the page of one dog."""
    sections = [("doing", "What needs doing")]
    for there, key, title in (
        (report.exam, "changed", "What changed"),
        (report.numbers, "card", "Last numbers"),
        (report.dues, "care", "Routine care"),
        (True, "where", "Where it is"),
        (report.photos, "photos", "Photos"),
        (report.charts, "numbers", "Over time"),
        (report.regions, "regions", "Everything asked"),
        (report.taken, "taken", "How taken"),
        (True, "cautions", "Cautions"),
    ):
        if there:
            sections.append((key, title))
    marks = [place.mark for place in report.places if place.mark is not None]
    return _render("report.html", {"r": report, "sections": sections, "figure": figure(marks)})


def overview_page(overview: Overview) -> str:
    """Return the overview of all dogs."""
    script = _text("overview.js")
    return _render(
        "overview.html", {"o": overview, "script": script, "script_hash": _digest(script)}
    )


def _render(name: str, values: Mapping[str, Any]) -> str:
    style = _text("page.css")
    return (
        _environment()
        .get_template(name)
        .render(
            **values,
            style=_safe(style),
            style_hash=_digest(style),
            level_words=LEVEL_WORDS,
            level_names=LEVEL_NAMES,
            program=_program(),
        )
    )


def _safe(text: str) -> object:
    from markupsafe import Markup

    return Markup(text)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("handsfree.review"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["sentence"] = sentence
    made.filters["stop"] = lambda text: text if text.endswith(".") else f"{text}."
    made.filters["figures"] = lambda value: f"{value:.10g}"
    made.filters["inline"] = _inline
    return made


def _inline(photo: Photo) -> str:
    return base64.b64encode(photo.data).decode("ascii")


@cache
def _text(name: str) -> str:
    return (files("handsfree.review") / "templates" / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"sha256-{digest}"


def _program() -> str:
    try:
        return version("handsfree")
    except PackageNotFoundError:
        return "of a source folder"
