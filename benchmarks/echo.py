"""Whether people can interrupt the voice: ``python -m benchmarks.echo --manifest FILE``.

Our own prompts are played into simulated rooms (delay of the device and the room, ringing, level of
the echo against the speech, clocks that drift apart), alone and with an answer spoken into them.
Counts own words accepted, and answers heard right while the prompt runs.
"""

from __future__ import annotations

import argparse
import itertools
import json
import platform
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks._chain import covering, listenings
from benchmarks._manifest import Entry, read_manifest, read_sound
from handsfree.audio.device import BLOCK_SAMPLES, SAMPLE_RATE, Block, Samples
from handsfree.errors import CallerError, HandsfreeError
from handsfree.hearing import engines
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import Judged, SpeechStarted
from handsfree.hearing.verdict import Listening, Outcome, Verdict
from handsfree.protocol.loader import load

__all__ = ["EchoRoom", "main"]

DELAYS_MS = (20, 120, 250)
LEVELS_DB = (6.0, 0.0, -6.0)
DRIFTS_PPM = (0.0, 60.0)
"""Two devices of their own clocks: 60 ppm is a common difference, from memory."""
_PROVING = 2
"""Prompts without an answer before anybody interrupts: the canceller has to show itself first."""


@dataclass(frozen=True, kw_only=True)
class EchoRoom:
    """A loudspeaker heard by a microphone.

    Attributes:
        delay_ms: From the moment of playing to the echo's first sound.
        level_db: Of the echo against the person's speech.
        drift_ppm: By which the loudspeaker's clock runs faster.
        ringing_s: Time in which the room's ringing falls by 60 dB.
    """

    delay_ms: float
    level_db: float
    drift_ppm: float = 0.0
    ringing_s: float = 0.3

    def echo(
        self,
        played: NDArray[np.float64],
        speech_rms: float,
        rng: np.random.Generator,
        clock: int = 0,
    ) -> NDArray[np.float64]:
        """Return what the microphone hears of ``played``, shape (n,), begun at ``clock``."""
        tail = int(0.3 * SAMPLE_RATE)
        fall = np.exp(-6.9 * np.arange(tail) / SAMPLE_RATE / self.ringing_s)
        response = rng.normal(0.0, 1.0, tail) * fall
        response[0] = 3.0
        lead = np.zeros(int(self.delay_ms * SAMPLE_RATE / 1000))
        heard = played
        if self.drift_ppm:
            apart = (clock + np.arange(len(played))) * self.drift_ppm * 1e-6
            at = np.arange(len(played)) - apart
            fine = _finer(played)
            heard = np.interp(at, np.arange(len(fine)) / _FINER, fine, left=0.0, right=0.0)
        size = 1 << (len(heard) + len(lead) + tail).bit_length()
        full = np.fft.irfft(
            np.fft.rfft(heard, size) * np.fft.rfft(np.concatenate([lead, response]), size), size
        )
        echo = full[: len(played)]
        loud = np.abs(echo) > np.abs(echo).max() * 0.03
        rms = float(np.sqrt(np.mean(np.square(echo[loud])))) if loud.any() else 1.0
        return np.asarray(echo * speech_rms / rms * 10.0 ** (self.level_db / 20.0))


_FINER = 8


def _finer(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the same band-limited sound with eight times as many samples."""
    spectrum = np.fft.rfft(sound)
    return np.asarray(np.fft.irfft(spectrum, len(sound) * _FINER) * _FINER)


def _rms(sound: Samples) -> float:
    loud = np.abs(sound.astype(np.int32))
    active = sound[loud > loud.max() * 0.03].astype(np.float64)
    return float(np.sqrt(np.mean(np.square(active))))


class _Scene:
    """One room with its hearing, through which the stream runs on."""

    def __init__(self, hearing: Hearing, room: EchoRoom, seed: int) -> None:
        self.hearing, self.room = hearing, room
        self.seed = seed
        self.clock = 0
        self.first_onset_s: list[float] = []

    def prompt(
        self, prompt: Samples, listening: Listening, answer: Samples | None, at_s: float
    ) -> list[Verdict]:
        """Play a prompt, perhaps with an answer into it; return the verdicts."""
        lead, tail = int(0.3 * SAMPLE_RATE), int(1.6 * SAMPLE_RATE)
        begin = lead + int(at_s * SAMPLE_RATE)
        ends = max(lead + len(prompt), begin + len(answer) if answer is not None else 0)
        played = np.zeros(ends + tail)
        played[lead : lead + len(prompt)] = prompt
        # One response a room: the same seed each time, or the room would change its walls.
        echo = self.room.echo(played, 2500.0, np.random.default_rng(self.seed), self.clock)
        noise = np.random.default_rng(self.seed + self.clock).normal(0.0, 30.0, len(played))
        mic = echo + noise
        if answer is not None:
            mic[begin : begin + len(answer)] += answer * (2500.0 / _rms(answer))
        sound = np.clip(np.rint(mic), -32768, 32767).astype(np.int16)
        reference = played.astype(np.int16)
        end = self.clock + lead + len(prompt)
        self.hearing.open(listening, at=end, barge_in=True)
        self.hearing.mute(end)
        verdicts: list[Verdict] = []
        for k in range(0, len(sound) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
            cut = slice(k, k + BLOCK_SAMPLES)
            block = Block(start=self.clock, samples=sound[cut], reference=reference[cut])
            self.clock += BLOCK_SAMPLES
            for report in self.hearing.feed(block):
                if isinstance(report, Judged):
                    verdicts.append(report.verdict)
                elif isinstance(report, SpeechStarted) and answer is not None:
                    self.first_onset_s.append((k + BLOCK_SAMPLES - begin) / SAMPLE_RATE)
        self.hearing.close()
        return verdicts


_PROMPTS = (
    "What colour are the gums? Lift the lip and look above the teeth.",
    "Feel along the neck, under the jaw. Is anything swollen or sore?",
    "Gums pale. Right?",
    "Say stop or pause at any time, yes or no to answer, left or right for the side.",
)


def measure_room(
    room: EchoRoom, prompts: Sequence[Samples], answers: Sequence[tuple[Samples, str, str]],
    known: dict[str, Listening], seed: int,
) -> tuple[Counter[str], list[float]]:  # fmt: skip
    """Return what came of all prompts in one room, and when speech was noticed."""
    from handsfree.hearing.adaptive import LinearEcho

    hearing = engines.build(echo=LinearEcho())
    scene = _Scene(hearing, room, seed)
    counts: Counter[str] = Counter()
    every = [known["mouth.gum_colour"], known["confirm"], known["neck.feel"], known["nose.side"]]
    for number in range(_PROVING * len(prompts)):
        listening = every[number % len(every)]
        verdicts = scene.prompt(prompts[number % len(prompts)], listening, None, 0.0)
        counts["own"] += 1
        counts["own_accepted"] += any(v.outcome is Outcome.ACCEPT for v in verdicts)
        counts["own_asked_back"] += any(v.outcome is Outcome.ASK_BACK for v in verdicts)
    counts["full_duplex"] = int(hearing.full_duplex)
    rng = np.random.default_rng(seed)
    for number, (sound, text, place) in enumerate(answers):
        at_s = float(rng.uniform(0.4, 1.4))
        prompt = prompts[(0, 1, 3)[number % 3]]
        verdicts = scene.prompt(prompt, known[place], sound, at_s)
        accepted = next((v for v in verdicts if v.outcome is Outcome.ACCEPT), None)
        counts["answers"] += 1
        if accepted is not None and accepted.best is not None:
            wanted = compose(known[place]).meaning(text)
            counts["right" if accepted.best.meaning == wanted else "wrong"] += 1
        else:
            asked = any(v.outcome is Outcome.ASK_BACK for v in verdicts)
            counts["asked_back" if asked else "ignored"] += 1
    return counts, scene.first_onset_s


def _answers(
    manifest: Path, count: int, known: dict[str, Listening], seed: int
) -> list[tuple[Samples, str, str]]:
    entries, _ = read_manifest(manifest)
    spoken = [entry for entry in entries if entry.kind == "answer"]
    rng = np.random.default_rng(seed)
    found: list[tuple[Samples, str, str]] = []
    for index in rng.permutation(len(spoken)):
        entry: Entry = spoken[index]
        places = covering(entry.text, entry.question, known, rng)
        if places:
            found.append((read_sound(entry.path), entry.text, places[0]))
        if len(found) == count:
            break
    return found


def main(argv: Sequence[str] | None = None) -> int:
    """Run the benchmark; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.echo", description=__doc__)
    parser.add_argument("--manifest", type=Path, required=True, help="as for benchmarks.hearing")
    parser.add_argument("--answers", type=int, default=12, help="answers spoken in each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    args = parser.parse_args(argv)
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    voice = Pyttsx3Synthesiser()
    try:
        known = listenings(load())
        answers = _answers(args.manifest, args.answers, known, args.seed)
        if not answers:
            msg = f"{args.manifest} lists no answer that the grammars cover."
            raise CallerError(msg)
        prompts = [voice.render(text, rate_wpm=170) for text in _PROMPTS]
        rows = []
        for delay, level, drift in itertools.product(DELAYS_MS, LEVELS_DB, DRIFTS_PPM):
            room = EchoRoom(delay_ms=delay, level_db=level, drift_ppm=drift)
            counts, onsets = measure_room(room, prompts, answers, known, args.seed)
            noticed = float(np.median(onsets)) if onsets else float("nan")
            rows.append((room, counts, noticed))
            if not args.json:
                print(_line(room, counts, noticed), flush=True)
    except HandsfreeError as wrong:
        print(f"benchmarks.echo: {wrong}", file=sys.stderr)
        return wrong.exit_code
    finally:
        voice.close()
    total: Counter[str] = sum((counts for _, counts, _ in rows), Counter())
    if args.json:
        print(json.dumps({"total": total, "rooms": [_line(*row) for row in rows]}))
    else:
        print(f"Machine: {platform.machine()}, Python {platform.python_version()}")
        print(
            f"all rooms: own words accepted {total['own_accepted']} of {total['own']}; answers "
            f"during a prompt right {100 * total['right'] / max(total['answers'], 1):.1f} %, "
            f"wrong {total['wrong']}, asked back {total['asked_back']}, ignored {total['ignored']}"
        )
    return 0


def _line(room: EchoRoom, counts: Counter[str], noticed: float) -> str:
    mode = "full duplex" if counts["full_duplex"] else "half duplex"
    return (
        f"delay {room.delay_ms:.0f} ms, echo {room.level_db:+.0f} dB, drift "
        f"{room.drift_ppm:.0f} ppm: {mode}; own accepted {counts['own_accepted']} of "
        f"{counts['own']} (asked back {counts['own_asked_back']}); answers right "
        f"{counts['right']} of {counts['answers']}, wrong {counts['wrong']}, asked back "
        f"{counts['asked_back']}; noticed after {noticed:.2f} s"
    )


if __name__ == "__main__":
    sys.exit(main())
