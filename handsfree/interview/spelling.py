"""Names in letters and numbers in digits, as they grow word by word. Pure text."""

from __future__ import annotations

__all__ = ["ALPHABET", "name_of", "number_of", "spelled"]

ALPHABET = {
    "a": "Alfa", "b": "Bravo", "c": "Charlie", "d": "Delta", "e": "Echo", "f": "Foxtrot",
    "g": "Golf", "h": "Hotel", "i": "India", "j": "Juliett", "k": "Kilo", "l": "Lima",
    "m": "Mike", "n": "November", "o": "Oscar", "p": "Papa", "q": "Quebec", "r": "Romeo",
    "s": "Sierra", "t": "Tango", "u": "Uniform", "v": "Victor", "w": "Whiskey", "x": "X-ray",
    "y": "Yankee", "z": "Zulu",
}  # fmt: skip
"""Letters and their code words, as the ICAO spelling alphabet writes them (Annex 10, volume II)."""


def name_of(letters: tuple[str, ...]) -> str:
    """Return the name that letters make, each word with a capital: "Kim", "Old Tom"."""
    text = "".join(" " if letter == "space" else letter for letter in letters)
    return " ".join(word.capitalize() for word in text.split())


def spelled(letters: tuple[str, ...]) -> str:
    """Return letters as they are read back: "K, I, M"."""
    return ", ".join("space" if letter == "space" else letter.upper() for letter in letters)


def number_of(digits: tuple[str, ...]) -> str:
    """Return a telephone number in groups of three, as it is shown and read back."""
    text = "".join(digits)
    if len(text) <= 4:
        return text
    cuts = list(range(0, len(text), 3))
    groups = [text[cut : cut + 3] for cut in cuts]
    if len(groups[-1]) == 1:  # no digit alone at the end
        groups[-2:] = [groups[-2] + groups[-1]]
    return " ".join(groups)
