"""What hearing tells the driver, one small frozen record each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from handsfree.hearing.verdict import Verdict

__all__ = ["DeadMicrophone", "Judged", "Report", "SpeechStarted", "SpokeOn", "TooLoudNow"]


@dataclass(frozen=True, kw_only=True)
class SpeechStarted:
    """Something like speech begins at ``sample``. It may turn out to be nothing."""

    sample: int


@dataclass(frozen=True, kw_only=True)
class Judged:
    """An utterance is over and judged."""

    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class SpokeOn:
    """Speech ran on after the accepted utterance that began at ``start``: it was no answer."""

    start: int


@dataclass(frozen=True, kw_only=True)
class TooLoudNow:
    """The room has become too loud to hear in, or quiet enough again; told once a change."""

    loud: bool


@dataclass(frozen=True, kw_only=True)
class DeadMicrophone:
    """The microphone gives exact zeros: blocked, unplugged or muted. Told once."""


Report: TypeAlias = SpeechStarted | Judged | SpokeOn | TooLoudNow | DeadMicrophone
