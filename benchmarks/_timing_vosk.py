"""How well Vosk's word times lie: its words in silence or noise, raw and as they are placed.

No English model comes as a package, so this takes the Korean one that does and words that it knows,
spoken by eSpeak NG. What it shows is Vosk's way of timing and what is made of it; not how well
English words are recognised.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks._timing_sound import RATE, ROOM_S, Recording, Sound, in_room, true_onset
from handsfree.audio.device import BLOCK_SAMPLES, Block
from handsfree.hearing.grammar import ListeningGrammar, compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import Judged
from handsfree.hearing.verdict import Listening, WordTime
from handsfree.hearing.vosk_engine import Vosk
from handsfree.measuring.placing import place

__all__ = ["vosk_errors"]

WORDS = ("분홍", "그만", "파랑", "왼쪽", "오른쪽", "아니요", "안녕하세요")
"""Three that begin with a stop, as "pink" does, and four that do not."""
VOICES = ("ko", "ko+f3", "ko+m3", "ko+f2")
SPEEDS = (120, 160, 210)
_TIMED = Listening(grammars=("words",), timed=True)


def _recordings() -> Iterator[Recording]:
    from handsfree.audio.resample import resample
    from handsfree.hearing.training.espeak import SAMPLE_RATE_HZ, speak

    for word in WORDS:
        for voice in VOICES:
            for speed in SPEEDS:
                spoken = speak(word, voice, words_per_min=speed)
                said = np.asarray(resample(spoken, SAMPLE_RATE_HZ, RATE), np.float64)
                said *= 12_000.0 / max(float(np.abs(said).max()), 1e-9)
                sound = np.pad(said, RATE // 2)
                yield Recording(
                    name=f"{word} {voice} {speed}",
                    voice=voice,
                    words=(word,),
                    onsets_s=(true_onset(sound) / RATE,),
                    sound=sound,
                )


def vosk_errors(
    model: Path, noise: Sound | None, snr_db: float | None, seed: int
) -> tuple[str, dict[str, list[float]], dict[str, int]]:
    """Return the engine's name, errors in seconds by kind, and counts of what became of the words.

    Raises:
        EngineError: The model does not load.
    """
    recogniser = Vosk(model)
    errors: dict[str, list[float]] = {
        "raw": [], "placed": [], "placed, stops": [], "placed, sure": []
    }  # fmt: skip
    counts = {"words": 0, "not heard": 0, "in doubt": 0}
    with tempfile.TemporaryDirectory() as folder:
        told = " | ".join(f"{word} {{{word}}}" for word in WORDS)
        text = f"#JSGF V1.0;\ngrammar words;\npublic <words> = {told};\n"
        (Path(folder) / "words.jsgf").write_text(text, encoding="utf-8")

        def composer(listening: Listening) -> ListeningGrammar:
            return compose(listening, Path(folder))

        for number, recording in enumerate(_recordings()):
            sound = in_room(recording, noise, snr_db, np.random.default_rng([seed, number]))
            truth_s = recording.onsets_s[0] + ROOM_S
            counts["words"] += 1
            (word,) = recording.words
            raw = _heard(Hearing(recogniser, composer=composer), sound, word)
            placed = _heard(Hearing(recogniser, refine=place, composer=composer), sound, word)
            if raw is None or placed is None:
                counts["not heard"] += 1
                continue
            errors["raw"].append(raw.start / RATE - truth_s)
            error = placed.start / RATE - truth_s
            errors["placed"].append(error)
            if word in WORDS[:3]:
                errors["placed, stops"].append(error)
            if placed.doubtful:
                counts["in doubt"] += 1
            else:
                errors["placed, sure"].append(error)
    return f"vosk {recogniser.version}", errors, counts


def _heard(hearing: Hearing, sound: NDArray[np.int16], word: str) -> WordTime | None:
    """Return the time of the word in the first verdict that brings it, whatever it is worth."""
    hearing.open(_TIMED, at=0)
    silence = np.zeros(BLOCK_SAMPLES, np.int16)
    for at in range(0, len(sound) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
        block = Block(start=at, samples=sound[at : at + BLOCK_SAMPLES], reference=silence)
        for report in hearing.feed(block):
            if isinstance(report, Judged):
                found = [time for time in report.verdict.words if time.word == word]
                if found:
                    return found[0]
    return None
