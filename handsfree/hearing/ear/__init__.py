"""The second ear: speech embeddings of the stream and a small trained head over short phrases.

`available` says whether it works on this machine; `Ear` is fed with sound and scores utterances.
"""

from handsfree.hearing.ear.embedding import EmbeddingStream, available
from handsfree.hearing.ear.head import Ear, Head, Scores, known_phrases, load_head
from handsfree.hearing.ear.tflite import EarUnavailable

__all__ = [
    "Ear",
    "EarUnavailable",
    "EmbeddingStream",
    "Head",
    "Scores",
    "available",
    "known_phrases",
    "load_head",
]
