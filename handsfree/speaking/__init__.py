"""From text to samples: synthesiser, prompt cache, tones, counted ticks."""

from handsfree.speaking.espeak import Pyttsx3Synthesiser
from handsfree.speaking.hum import HumSynthesiser
from handsfree.speaking.sentences import split_sentences
from handsfree.speaking.synthesiser import Synthesiser
from handsfree.speaking.tones import TONE_NAMES, tick, tone
from handsfree.speaking.voice import Voice

__all__ = [
    "TONE_NAMES",
    "HumSynthesiser",
    "Pyttsx3Synthesiser",
    "Synthesiser",
    "Voice",
    "split_sentences",
    "tick",
    "tone",
]
