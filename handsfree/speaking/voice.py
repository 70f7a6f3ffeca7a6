"""The voice that people hear: a synthesiser with a pace, a voice of choice, and a cache.

It turns sentences into samples; when they are played is decided by the driver.
"""

from __future__ import annotations

from collections.abc import Iterable

from handsfree.audio.device import Samples
from handsfree.errors import CallerError
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.sentences import split_sentences
from handsfree.speaking.synthesiser import Synthesiser

__all__ = ["DEFAULT_WPM", "FASTEST_WPM", "SLOWEST_WPM", "STEP_WPM", "Voice"]

SLOWEST_WPM, DEFAULT_WPM, FASTEST_WPM, STEP_WPM = 160, 170, 300, 20
"""From an easy pace to what practised listeners follow, in words a minute."""


class Voice:
    """Speaks at a pace that can be changed while it speaks.

    Args:
        synthesiser: Renders; `close` leaves it open, since it was not made here.
        rate_wpm: Words a minute, 160 to 300.
        voice: One of the synthesiser's voices, or None for its default.
        ahead: Whether prompts are rendered ahead; see `PromptCache`.

    Raises:
        CallerError: The rate is out of reach.
    """

    def __init__(
        self,
        synthesiser: Synthesiser,
        *,
        rate_wpm: int = DEFAULT_WPM,
        voice: str | None = None,
        ahead: bool = True,
    ) -> None:
        if not SLOWEST_WPM <= rate_wpm <= FASTEST_WPM:
            raise CallerError(
                f"The voice cannot be set to {rate_wpm} words a minute; "
                f"choose {SLOWEST_WPM} to {FASTEST_WPM}."
            )
        self.synthesiser = synthesiser
        self.voice = voice
        self._rate_wpm = rate_wpm
        self._cache = PromptCache(synthesiser, ahead=ahead)

    @property
    def rate_wpm(self) -> int:
        """The pace now, in words a minute."""
        return self._rate_wpm

    def suit(self, *, rate_wpm: int, voice: str | None) -> None:
        """Speak from now on as another person wants it."""
        self._rate_wpm = min(FASTEST_WPM, max(SLOWEST_WPM, rate_wpm))
        self.voice = voice

    def slower(self) -> bool:
        """Speak slower from now on; return whether there was room for it."""
        return self._change(-STEP_WPM)

    def faster(self) -> bool:
        """Speak faster from now on; return whether there was room for it."""
        return self._change(STEP_WPM)

    def pace(self, step: int) -> None:
        """Speak faster from now on, or slower where ``step`` is not above zero."""
        if step > 0:
            self.faster()
        else:
            self.slower()

    def _change(self, step: int) -> bool:
        before = self._rate_wpm
        self._rate_wpm = min(FASTEST_WPM, max(SLOWEST_WPM, before + step))
        return self._rate_wpm != before

    def sentences(self, text: str) -> tuple[str, ...]:
        """Return the pieces in which ``text`` is spoken, a listening gap after each."""
        return split_sentences(text)

    def get(self, sentence: str) -> Samples:
        """Return one sentence spoken at the pace now, int16, shape (n,), read-only.

        Raises:
            EngineError: The engine failed; the next call starts it afresh.
        """
        return self._cache.get(sentence, rate_wpm=self._rate_wpm, voice=self.voice)

    def render_ahead(self, texts: Iterable[str]) -> None:
        """Have the sentences of ``texts``, likeliest first, rendered while there is time."""
        sentences = [sentence for text in texts for sentence in split_sentences(text)]
        self._cache.render_ahead(sentences, rate_wpm=self._rate_wpm, voice=self.voice)

    def close(self) -> None:
        """End the cache's thread; never raises."""
        self._cache.close()
