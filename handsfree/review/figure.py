"""The dog's outline, seen from above and from both sides, with numbered marks where things are.

Drawn by us from plain curves; it is a map, not a likeness, and every mark stands in words in the
table beneath it. The left side faces left, the right side is its mirror.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

__all__ = ["Mark", "figure", "spot_of"]

View = str
"""``left``, ``right`` or ``above``."""

WIDTH = 360
_SIDE_HEIGHT = 216
_ABOVE_HEIGHT = 140


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One numbered thing: where it is and what it is.

    Attributes:
        number: As written in the mark and in the table.
        spot: A key of the spots below.
        side: ``left``, ``right`` or empty: in the middle or on both sides.
        lump: Drawn as a ring; findings are drawn as a filled square.
    """

    number: int
    spot: str
    side: str = ""
    lump: bool = False


# Head to the left. x, y on the left view; and x, distance from the midline on the view from above.
_SPOTS: dict[str, tuple[tuple[int, int], tuple[int, int]]] = {
    "nose": ((30, 78), (26, 0)),
    "mouth": ((44, 92), (38, 8)),
    "eye": ((62, 62), (52, 14)),
    "ear": ((92, 60), (80, 24)),
    "head": ((76, 46), (66, 4)),
    "neck": ((112, 80), (104, 12)),
    "chest": ((140, 122), (140, 26)),
    "shoulder": ((134, 96), (128, 24)),
    "back": ((196, 72), (190, 0)),
    "side": ((190, 104), (186, 28)),
    "belly": ((204, 132), (210, 22)),
    "teats": ((222, 136), (220, 14)),
    "groin": ((248, 138), (252, 16)),
    "hip": ((266, 92), (262, 24)),
    "thigh": ((268, 120), (272, 28)),
    "rear": ((292, 92), (300, 6)),
    "tail": ((322, 62), (326, 0)),
    "front_leg": ((142, 158), (132, 32)),
    "hind_leg": ((274, 158), (282, 32)),
    "front_foot": ((137, 196), (118, 36)),
    "hind_foot": ((284, 196), (268, 38)),
    "heart": ((150, 130), (150, 20)),
    "whole": ((170, 88), (164, 8)),
}

_PLACES: dict[str, str] = {
    "legs": "front_leg",
    "leg": "front_leg",
    "flank": "side",
    "ribs": "side",
    "armpit": "chest",
    "bottom": "rear",
    "mouth": "mouth",
    "lip": "mouth",
    "foot": "front_foot",
}
_REGIONS: dict[str, str] = {
    "eyes": "eye",
    "ears": "ear",
    "nose": "nose",
    "mouth": "mouth",
    "neck": "neck",
    "coat": "back",
    "belly": "belly",
    "mammary": "teats",
    "genitals": "groin",
    "season": "groin",
    "rear": "rear",
    "heart": "heart",
    "breaths": "side",
    "mobility": "hip",
    "outline": "side",
    "mind": "head",
    "temperature": "rear",
    "weight": "whole",
    "feet": "front_foot",
}
_ITEMS: dict[str, str] = {
    "watch.breathing": "chest",
    "watch.effort": "chest",
    "watch.breath_noise": "neck",
    "watch.gait": "hip",
    "watch.attitude": "head",
    "outline.muscle": "thigh",
    "outline.evenness": "thigh",
    "rear.tail": "tail",
    "noticed.cough": "neck",
    "noticed.vomiting": "mouth",
    "noticed.stools": "rear",
    "noticed.appetite": "mouth",
    "noticed.drinking": "mouth",
    "noticed.urine": "groin",
    "now.gums": "mouth",
    "coat.sores": "back",
}


def spot_of(item: str, side: str | None, place: str = "") -> tuple[str, str] | None:
    """Return spot and side of an item; None where it has no place on the body.

    Args:
        item: ``region.question``.
        side: Side of the answer.
        place: A lump's place in words, or a place that was answered ("chest").
    """
    words = place.replace(",", " ").split()
    where = side or ""
    left_right = "left" if "left" in where or "left" in words else ""
    left_right = "right" if "right" in where or "right" in words else left_right
    for word in words:
        spot = _PLACES.get(word, word)
        if spot in _SPOTS:
            return _hind(spot, words), left_right
    if where.endswith(("_front", "_hind")):
        part = "foot" if item.startswith("feet") else "leg"
        return f"{'hind' if where.endswith('hind') else 'front'}_{part}", left_right
    spot_name = _ITEMS.get(item) or _REGIONS.get(item.partition(".")[0])
    return None if spot_name is None else (spot_name, left_right)


def _hind(spot: str, words: Sequence[str]) -> str:
    if spot.startswith("front_") and ("hind" in words or "back" in words):
        return spot.replace("front_", "hind_")
    return spot


_SIDE_BODY = (
    "M28 76 C22 80 23 90 32 93 L58 98 C72 101 80 104 88 112 C98 122 112 130 120 136 "
    "L126 166 C126 180 120 188 118 196 C118 201 124 202 134 202 L146 202 C152 202 150 194 149 190 "
    "L154 150 C176 152 206 148 226 138 C236 134 244 134 250 138 C262 150 262 160 258 170 "
    "C256 178 264 184 268 190 C266 199 270 202 280 202 L294 202 C300 202 298 194 294 190 "
    "L286 172 C284 160 292 144 296 128 C299 114 299 104 296 96 C312 90 326 76 332 54 "
    "C334 46 326 46 322 52 C314 68 304 76 288 78 C262 68 220 74 190 74 C166 74 146 72 130 62 "
    "C118 54 108 44 98 40 C88 32 74 34 68 42 C62 50 58 56 52 62 C44 68 36 70 28 76 Z"
)
_SIDE_EAR = "M84 40 C98 44 106 62 102 84 C92 84 84 66 80 52 C79 44 80 40 84 40 Z"
_SIDE_LINES = (
    "M154 150 C150 140 150 130 154 122 M250 138 C246 126 250 112 262 104 "
    "M34 92 C42 88 50 88 58 90 M132 202 V196 M142 202 V197 M281 202 V196 M290 202 V197"
)
_ABOVE_BODY = (
    "M20 70 C22 60 36 58 46 56 C56 52 66 50 78 54 C92 56 104 56 114 50 C128 40 150 40 172 42 "
    "C196 44 214 52 230 50 C248 40 276 40 292 54 C300 60 302 64 306 66 C320 66 336 64 344 68 "
    "C346 70 346 70 344 72 C336 76 320 74 306 74 C302 76 300 80 292 86 C276 100 248 100 230 90 "
    "C214 88 196 96 172 98 C150 100 128 100 114 90 C104 84 92 84 78 86 C66 90 56 88 46 84 "
    "C36 82 22 80 20 70 Z"
)
_ABOVE_MORE = (
    "M70 52 C74 40 88 34 96 38 C96 46 90 54 82 56 M70 88 C74 100 88 106 96 102 C96 94 90 86 82 84 "
    "M112 51 C108 42 112 34 122 32 C132 32 134 38 132 42 M112 89 C108 98 112 106 122 108 "
    "C132 108 134 102 132 98 M262 43 C256 34 262 28 272 28 C282 30 286 36 284 46 "
    "M262 97 C256 106 262 112 272 112 C282 110 286 104 284 94"
)


def figure(marks: Sequence[Mark]) -> Markup:
    """Return the three views with their marks, as SVG elements with captions."""
    views = (
        ("left", "Left side", _SIDE_HEIGHT),
        ("above", "From above", _ABOVE_HEIGHT),
        ("right", "Right side", _SIDE_HEIGHT),
    )
    return Markup("").join(_view(name, title, height, marks) for name, title, height in views)


def _view(name: View, title: str, height: int, marks: Sequence[Mark]) -> Markup:
    shown = [(mark, _place(name, mark)) for mark in marks]
    seen = [(mark, place) for mark, place in shown if place is not None]
    numbers = ", ".join(str(mark.number) for mark, _ in seen)
    says = f"{title} of the dog. Marks: {numbers}." if seen else f"{title} of the dog. No marks."
    if name == "above":
        body = Markup(
            '<path class="dog" d="{}"/><path class="dog" d="{}"/>'
            '<path class="crease" d="M112 70H292" stroke-dasharray="2 5"/>'
            '<text x="8" y="24" class="tick">right</text>'
            '<text x="8" y="128" class="tick">left</text>'
        ).format(_ABOVE_MORE, _ABOVE_BODY)
    else:
        body = Markup(
            '<path class="dog" d="{}"/><path class="dog" d="{}"/><path class="crease" d="{}"/>'
            '<circle class="iris" cx="58" cy="66" r="3"/>'
        ).format(_SIDE_BODY, _SIDE_EAR, _SIDE_LINES)
        if name == "right":
            body = Markup('<g transform="translate({} 0) scale(-1 1)">{}</g>').format(WIDTH, body)
    drawn = Markup("").join(_mark(mark, *place) for mark, place in _apart(seen))
    return Markup(
        '<figure class="view"><svg viewBox="0 0 {} {}" role="img" aria-label="{}">{}{}</svg>'
        "<figcaption>{}</figcaption></figure>"
    ).format(WIDTH, height, says, body, drawn, title)


def _place(view: View, mark: Mark) -> tuple[float, float] | None:
    (x, y), (along, off) = _SPOTS[mark.spot]
    if view == "above":
        sign = {"left": 1, "right": -1}.get(mark.side, 0)
        return (along, 70 + sign * off)
    if mark.side and mark.side != view:
        return None
    return (x if view == "left" else WIDTH - x, y)


def _apart(
    marks: Sequence[tuple[Mark, tuple[float, float]]],
) -> list[tuple[Mark, tuple[float, float]]]:
    """Move marks that would cover each other a step aside."""
    taken: list[tuple[float, float]] = []
    found = []
    for mark, (x, y) in marks:
        step = 0
        at = (x, y)
        while any(abs(at[0] - a) < 19 and abs(at[1] - b) < 19 for a, b in taken) and step < 24:
            step += 1
            ring, turn = divmod(step - 1, 8)
            dx, dy = _AROUND[turn]
            at = (x + dx * 20 * (ring + 1), y + dy * 20 * (ring + 1))
            at = (min(max(at[0], 12), WIDTH - 12), min(max(at[1], 12), _ABOVE_HEIGHT * 1.45))
        taken.append(at)
        found.append((mark, at))
    return found


_AROUND = ((1, 0), (0, 1), (-1, 0), (0, -1), (1, 1), (-1, 1), (-1, -1), (1, -1))


def _mark(mark: Mark, x: float, y: float) -> Markup:
    shape = (
        Markup('<circle class="lump" cx="{:.0f}" cy="{:.0f}" r="10"/>').format(x, y)
        if mark.lump
        else Markup('<rect class="find" x="{:.0f}" y="{:.0f}" width="18" height="18"/>').format(
            x - 9, y - 9
        )
    )
    kind = "lumpno" if mark.lump else "findno"
    return shape + Markup('<text class="{}" x="{:.0f}" y="{:.1f}">{}</text>').format(
        kind, x, y + 4.5, mark.number
    )
