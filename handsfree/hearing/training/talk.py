"""Talk of every kind, made up by a language model: said in a room and meant for nobody here.

``python -m handsfree.hearing.training.talk`` writes ``talk.txt`` anew: short stretches drawn word
by word from the trigram model of US English that comes with PocketSphinx (BSD licence). They need
make no sense; they are there so that "none of ours" is known by many more words than ours.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["draw", "lone_words"]

VOCABULARY = 3000
"""Words drawn from: the model's most frequent."""
COUNT = 5000
_UNIT = 1e-4
"""PocketSphinx counts logarithms to base 1.0001."""
LENGTHS = (0.34, 0.28, 0.2, 0.12, 0.06)
"""Share of the stretches of one word, two words, and so on."""


_RUDE = frozenset(
    ("fuck", "fucking", "fucked", "shit", "bullshit", "sex", "sexual", "bitch", "ass", "crap")
)


def _root() -> Path:
    import pocketsphinx

    return Path(pocketsphinx.__file__).parent / "model" / "en-us"


def _words(root: Path, form: str) -> set[str]:
    """Words of the dictionary that are of this form."""
    lines = (root / "cmudict-en-us.dict").read_text("utf-8").splitlines()
    return {word for line in lines if re.fullmatch(form, word := line.split()[0])} - _RUDE


def lone_words(count: int, seed: int) -> list[str]:
    """Return `count` different words of the dictionary, names and rare ones too, by lot.

    The same seed gives the same words; more of them begin with the fewer.
    """
    words = sorted(_words(_root(), r"[a-z]{2,11}"))
    chosen = np.random.default_rng(seed).permutation(len(words))[:count]
    return [words[number] for number in chosen]


def _model() -> tuple[list[str], Any]:
    import pocketsphinx

    root = _root()
    decoder = pocketsphinx.Decoder(
        hmm=str(root / "en-us"),
        lm=str(root / "en-us.lm.bin"),
        dict=str(root / "cmudict-en-us.dict"),
        loglevel="FATAL",
    )
    model: Any = decoder.get_lm()
    words = _words(root, r"[a-z]{2,12}('[a-z]+)?|i|a")
    ranked = sorted(words, key=lambda word: (-model.prob([word]), word))
    return ranked[:VOCABULARY], model


def draw(count: int, seed: int) -> list[str]:
    """Return `count` different stretches of one to five words, in the order drawn."""
    words, model = _model()
    rng = np.random.default_rng(seed)
    kept: dict[tuple[str, ...], NDArray[np.float64]] = {}

    def odds(history: tuple[str, ...]) -> NDArray[np.float64]:
        if history not in kept:
            # PocketSphinx takes the newest word first, then the history backwards.
            back = list(reversed(history))
            logs = _UNIT * np.array([model.prob([word, *back]) for word in words])
            powers = np.exp((logs - logs.max()) / 2.0)  # flatter than the model: more words
            kept[history] = powers / powers.sum()
        return kept[history]

    found: dict[str, None] = {}
    while len(found) < count:
        length = 1 + int(rng.choice(len(LENGTHS), p=LENGTHS))
        said = [str(rng.choice(words, p=odds(())))]
        while len(said) < length:
            said.append(str(rng.choice(words, p=odds(tuple(said[-1:])))))
        found[" ".join(said)] = None
    return list(found)


if __name__ == "__main__":
    file = Path(__file__).with_name("talk.txt")
    file.write_text("\n".join(draw(COUNT, 7)) + "\n", encoding="utf-8")
    print(f"Written: {COUNT} stretches of talk in {file.name}.")
