"""Ways a word is said that the CMU dictionary lacks, in its phone set.

British and Irish vowels without r, flapped or dropped sounds; of the digits also a long vowel for a
gliding one (five in the south of the United States), the vowel of "on" (one in the north of
England), a stop (three in Ireland), a first sound without voice and an end that is swallowed
(zero). Our own choice by ear; the benchmark is the judge.
"""

from __future__ import annotations

__all__ = ["PRONUNCIATIONS"]

PRONUNCIATIONS: dict[str, tuple[str, ...]] = {
    "four": ("F AO",),
    "dirty": ("D ER D IY", "D AH T IY"),
    "normal": ("N AO M AH L",),
    "hard": ("HH AA D",),
    "yeah": ("Y EH", "Y EH AH"),
    "no": ("N AH UW",),
    "nope": ("N OW P",),
    "clear": ("K L IH AH",),
    "eleven": ("AH L EH V AH N",),
    "zero": ("S IY R OW", "Z IY R"),
    "one": ("W AA N",),
    "three": ("T R IY",),
    "five": ("F AA V", "F AE V"),
}
