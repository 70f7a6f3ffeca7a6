"""Which engines hear: Vosk where a model of it is installed, else PocketSphinx; the ear if it can.

The one place in hearing that knows them all by name. Each is imported when first used.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import CallerError, EngineError, HandsfreeError
from handsfree.hearing.echo import EchoCanceller
from handsfree.hearing.evidence import PhoneLoop
from handsfree.hearing.grammar import ListeningGrammar, compose
from handsfree.hearing.listener import Hearing, Refine
from handsfree.hearing.one_core import keep_to_one_core
from handsfree.hearing.profile import VoiceProfile
from handsfree.hearing.recogniser import Recogniser
from handsfree.hearing.verdict import Listening

if TYPE_CHECKING:
    from handsfree.hearing.ear import Ear
    from handsfree.hearing.phones import PhoneReader

__all__ = ["ENGINES", "build", "choose", "phone_reader", "second_ear"]

ENGINES = ("pocketsphinx", "vosk")


def choose(engine: str | None = None, *, vosk_model: Path | None = None) -> Recogniser:
    """Return a recogniser, loaded.

    Args:
        engine: One of ENGINES; None takes Vosk where ``vosk_model`` is given, else PocketSphinx.
        vosk_model: Folder of an installed Vosk model.

    Raises:
        CallerError: No such engine, or Vosk without a model.
        EngineError: It does not load.
    """
    if engine is None:
        engine = "vosk" if vosk_model is not None else "pocketsphinx"
    if engine == "pocketsphinx":
        from handsfree.hearing.pocketsphinx_engine import PocketSphinx

        return PocketSphinx()
    if engine == "vosk":
        if vosk_model is None:
            msg = "Vosk needs a model and none is installed. Add one: handsfree model add PATH"
            raise CallerError(msg)
        from handsfree.hearing.vosk_engine import Vosk

        return Vosk(vosk_model)
    msg = f"there is no speech engine {engine!r}. Take one of: {', '.join(ENGINES)}."
    raise CallerError(msg)


def second_ear() -> tuple[Ear | None, str]:
    """Return the second ear, or None and why there is none, in a sentence for people."""
    from handsfree.hearing import ear

    try:
        return ear.Ear(), ""
    except HandsfreeError as missing:
        return None, str(missing)


def phone_reader(ear: Ear) -> tuple[PhoneReader | None, str]:
    """Return the phone network on the ear's own mel frames, or None and why there is none."""
    from handsfree.hearing.phones import PhoneReader

    try:
        return PhoneReader(ear.stream), ""
    except HandsfreeError as missing:
        return None, f"{missing} Until then hearing asks back more."


def build(
    engine: str | None = None,
    *,
    vosk_model: Path | None = None,
    with_ear: bool = True,
    echo: EchoCanceller | None = None,
    refine: Refine | None = None,
    profile: VoiceProfile | None = None,
    composer: Callable[[Listening], ListeningGrammar] = compose,
) -> Hearing:
    """Return hearing, put together from what this machine has; its mathematics keep to one core.

    Raises:
        CallerError: No such engine, or Vosk without a model.
        EngineError: It does not load.
    """
    keep_to_one_core()
    recogniser = choose(engine, vosk_model=vosk_model)
    ear = second_ear()[0] if with_ear else None
    reader = phone_reader(ear)[0] if ear is not None else None
    return Hearing(
        recogniser,
        ear,
        reader=reader,
        loop=_loop(recogniser) if ear is None else None,
        echo=echo,
        refine=refine,
        profile=profile,
        composer=composer,
    )


def _loop(recogniser: Recogniser) -> PhoneLoop | None:
    """Return the phone loop, which speaks PocketSphinx's scores and so serves it alone."""
    if recogniser.name != "pocketsphinx":
        return None
    from handsfree.hearing import pocketsphinx_engine

    try:
        return pocketsphinx_engine.PhoneLoop()
    except EngineError:
        return None
