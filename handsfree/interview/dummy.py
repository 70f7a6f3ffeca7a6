"""The practice dummy of the refill stopwatch: a tone fades at a known moment, the person says now.

What a trial is worth and when the lag is known stand in ``measuring.lag``; here stands the talk.
"""

from __future__ import annotations

from handsfree.dialogue.events import Event
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.fading import Fade, Faded
from handsfree.interview.talk import Talk
from handsfree.measuring.lag import Lag, LagPractice, LagTrial

__all__ = ["LagDummy"]

_COMMANDS = frozenset({"pause", "stop", "scrap", "repeat", "help"})


class LagDummy(Talk):
    """Plays tones until the person's lag is known."""

    def __init__(self) -> None:
        super().__init__()
        self._practice = LagPractice()
        self._faded: tuple[str, int] | None = None
        self._running = False

    @property
    def lag(self) -> Lag | None:
        """The lag, once enough good trials are there."""
        return self._practice.result()

    @property
    def trials(self) -> tuple[LagTrial, ...]:
        """Every trial so far."""
        return self._practice.trials

    def begin(self) -> None:
        """Say how it goes."""
        assert self.opened is not None
        self._practice = LagPractice(rate=self.opened.rate)
        self.put(
            "start",
            "Say begin.",
            grammars=("start_stop",),
            before=(
                "A low tone will sound, like the pale gum.",
                "The moment it is gone, say now. Don't guess: the tones differ in length.",
            ),
        )

    def _tone(self, *before: str) -> None:
        length_s = self._practice.next_fade_s
        if length_s is None:
            self._end(*before)
            return
        self._running, self._faded = True, None
        self.say(*before)
        self.emit(Fade(length_s=length_s))
        self.put("fade", grammars=("release_pink",), commands=_COMMANDS, timed=True, quiet=True)

    def other(self, event: Event) -> None:
        """The tone is gone."""
        if isinstance(event, Faded) and self._running:
            self._faded = (event.stream, event.sample)

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take the start, or the word."""
        if not self._running:
            if meaning.value == "start":
                self._tone()
            else:
                self.not_understood()
            return
        if verdict is not None:
            self._word(verdict)

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """A word in doubt counts if its time is known."""
        if self._running:
            self._word(verdict)
        else:
            self.not_understood()

    def _word(self, verdict: Verdict) -> None:
        assert self.event is not None
        if self._faded is None:
            return  # before the tone was gone: hearing was closed, so this is no word for it
        stream, faded = self._faded
        words = [word for word in verdict.words if word.word == "pink"]
        self._took(
            self._practice.heard(
                faded=faded,
                word=words[-1].start if words else None,
                stream=stream,
                word_stream=self.event.stream,
                doubtful=bool(words) and words[-1].doubtful,
            )
        )

    def _took(self, trial: LagTrial) -> None:
        self._tone(trial.why or "Good.")

    def not_understood(self, why: str = "") -> None:
        """No word of ours: the trial does not count."""
        if self._running:
            self._lost()
        else:
            super().not_understood(why)

    def may_speak(self) -> bool:
        """Nothing sounds between tone and word."""
        return not self._running

    def _silence(self) -> None:
        if not self._running:
            super()._silence()
        elif self._faded is not None:
            self._lost()

    def _lost(self) -> None:
        assert self.event is not None
        stream, faded = self._faded or (self.event.stream, self.event.sample)
        self._took(self._practice.heard(faded=faded, word=None, stream=stream))

    def _end(self, *before: str) -> None:
        lag = self.lag
        if lag is None:
            self.say(*before, "Too few were good to learn your lag. Try again another time.")
            self.over("partial")
            return
        self.say(*before, lag.spoken, "From now on I allow for that in the range I tell.")
        self.over("complete")

    def repeat(self) -> None:
        """A tone that broke off is played anew."""
        if self._running:
            self._tone()
        else:
            super().repeat()

    def command(self, token: str) -> bool:
        """Scrap a trial."""
        if token == "scrap" and self._running:
            self._tone("Scrapped.")
            return True
        return False

    def yes(self) -> bool:
        """Enter begins; a key at the tone says nothing of the voice."""
        if not self._running:
            self._tone()
        return True

    def help(self) -> str:
        """How it goes."""
        return "Listen to the tone. As soon as you no longer hear it, say now."
