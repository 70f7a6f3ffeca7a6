"""What every rehearsal has in common: people who speak, a recording of it, and its plain figures.

Who says what, and whether it was understood, stands in ``run`` and ``round``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.virtual import VirtualDuplex
from handsfree.audio.wav import DialogueWriter
from handsfree.dialogue import Action, Event, Heard
from handsfree.hearing.verdict import Outcome
from handsfree.rehearsal.figures import peak_rss_mb, percentile
from handsfree.session.driver import Driver
from handsfree.speaking.espeak import Pyttsx3Synthesiser

__all__ = ["PERSON_WPM", "AskedBack", "Began", "pass_on", "speech"]

PERSON_WPM = 165


class AskedBack:
    """Counts the sounds that were asked back."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, event: Event, actions: Sequence[Action]) -> None:
        """Take an event with its actions."""
        if isinstance(event, Heard) and event.verdict.outcome is Outcome.ASK_BACK:
            self.count += 1


def speech(
    synthesiser: Pyttsx3Synthesiser, tell: Callable[[str, str], None]
) -> Callable[[str, str], Samples]:
    """Return what people speak with: words and a voice in, sound out, told as they are said."""
    spoken: dict[tuple[str, str], Samples] = {}

    def speak(text: str, who: str) -> Samples:
        tell("person", text)
        if (text, who) not in spoken:
            spoken[text, who] = synthesiser.render(text, rate_wpm=PERSON_WPM, voice=who)
        return spoken[text, who]

    return speak


def pass_on(
    duplex: VirtualDuplex,
    stack: ExitStack,
    wav: Path | None,
    play: Callable[[int, Samples, Samples], None] | None,
) -> None:
    """Write both sides to ``wav``, left and right, and hand them to ``play``, where given."""
    writer = stack.enter_context(DialogueWriter(wav)) if wav else None

    def passed(start: int, ours: Samples, theirs: Samples) -> None:
        if writer is not None:
            writer.write(ours, theirs)
        if play is not None:
            play(start, ours, theirs)

    if writer is not None or play is not None:
        duplex.listener = passed


@dataclass(frozen=True, kw_only=True)
class Began:
    """When a rehearsal began, by the clock on the wall and by computing."""

    wall_s: float = field(default_factory=time.perf_counter)
    cpu_s: float = field(default_factory=time.process_time)

    def figures(self, driver: Driver, duplex: VirtualDuplex) -> dict[str, Any]:
        """Return how quick the replies were, and what the run has cost until now."""
        gaps = driver.figures.reply_gaps_s
        return {
            "reply_gap_s": {"p50": percentile(gaps, 0.5), "p95": percentile(gaps, 0.95)},
            "spoken_s": round(driver.figures.spoken_s, 1),
            "dialogue_s": round(duplex.position() / SAMPLE_RATE, 1),
            "cpu_s": round(time.process_time() - self.cpu_s, 1),
            "wall_s": round(time.perf_counter() - self.wall_s, 1),
            "peak_rss_mb": peak_rss_mb(),
        }
