"""What is known of one person's voice at one microphone: levels, no sound.

Kept by whoever stores people; a practice round fills it, and hearing starts from it.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["VoiceProfile"]


@dataclass(frozen=True, kw_only=True)
class VoiceProfile:
    """Levels in dB against full scale, as measured at the microphone.

    Attributes:
        voice_db: Level of the person's voice while speaking.
        noise_db: Level of the room while nobody speaks.
        person: Whose it is; empty for nobody's.
        microphone: Name of the device.
        well_heard: Words that were heard well in practice.
        badly_heard: Words that were not.
    """

    voice_db: float = -26.0
    noise_db: float = -60.0
    person: str = ""
    microphone: str = ""
    well_heard: tuple[str, ...] = ()
    badly_heard: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name, value in (("voice_db", self.voice_db), ("noise_db", self.noise_db)):
            if not -120.0 <= value <= 0.0:
                msg = f"{name} is {value}: a level lies between -120 and 0 dB of full scale"
                raise ValueError(msg)

    @property
    def margin_db(self) -> float:
        """How far the voice stands above the room."""
        return self.voice_db - self.noise_db
