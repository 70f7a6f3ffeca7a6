"""Where the speech is in a sound that may be noise: a tap has no phones, a bark none for certain.

The segmenter knows only loudness. Where noise goes on before, under or after an answer, the phone
network says when somebody speaks. Without a network every sound may be speech.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from handsfree.hearing import patience
from handsfree.hearing.evidence import Reader, Spoken
from handsfree.hearing.segment import FRAME_SAMPLES
from handsfree.hearing.utterance import Utterance

__all__ = ["SpeechFinder"]

LOOK_EVERY_S = 0.12
LOOK_BACK_S = 1.2
"""How often, and how far back, phones are looked for while somebody speaks: 21 % of a core."""
SEEK_EVERY_S = 0.24
"""How often while a sound goes on in which there have been none: an answer is longer."""
UNSURE_S = 2.4
"""What may be barking only is left behind after so long: the answer is yet to come."""
UNCLEAR_AFTER_S = 0.2
"""So much may follow clear speech that is no clearer than a bark: a soft last syllable."""
GOES_ON_S = 0.3
"""What goes on for so long after what is speech beyond doubt, with no bark before it, is no answer
with a bark behind it but the beginning of a sentence. Of 10 asides and wrong answers that were
accepted within the narrowest bounds beside dishes it holds of all, of 4,600 right answers of 7."""
NOISE_FROM_S = 0.15
"""What sounds so much longer than the speech in it is cut off as noise."""


class SpeechFinder:
    """Asks the phone network about an utterance, now and then while it lasts.

    Args:
        reader: The phone network on the stream; None where there is none.
    """

    def __init__(self, reader: Reader | None) -> None:
        self._reader = reader

    def is_over(self, now: Utterance, end: int, wait_s: Callable[[], float]) -> bool:
        """Whether the speech is over though sound goes on.

        Where there has been no speech for sure, the beginning moves along, since speech may begin
        in what is going on.

        Args:
            now: What is being said; what is found out is noted in it.
            end: The stream's position.
            wait_s: Tells how long the quiet after the words so far has to be.
        """
        heard = self._look(now, end)
        if heard is not None:
            self._note(now, heard)
        if now.clear is None and now.looked_at == end:
            back = patience.samples(LOOK_BACK_S if now.phones_end is None else UNSURE_S)
            if end - now.began > back:
                now.narrow(end - back // 2, now.last)
        if now.phones_end is None or now.looked_at != end:
            return False
        return end - now.phones_end >= patience.samples(max(wait_s(), patience.NOISY_WAIT_S))

    def is_noise(self, now: Utterance, end: int, since: int) -> bool:
        """Whether what went on when listening began, at ``since``, is no speech."""
        if end - since < patience.samples(LOOK_BACK_S):
            return False
        heard = self._look(now, end)
        return (heard is None or heard.clear is None) and now.looked_at == end

    def runs_on(self, now: Utterance, end: int) -> bool:
        """Whether somebody speaks on: a bark after an answer takes nothing back."""
        if self._reader is None:
            return True
        if end % patience.samples(LOOK_EVERY_S) >= FRAME_SAMPLES:
            return False
        heard = self._reader.spoken(now.began, end)
        return heard is not None and heard.clear is not None

    def bounds(self, now: Utterance) -> Iterator[tuple[int, int]]:
        """Yield from where to where it may be spoken, the widest first; nothing where nothing is.

        The widest reaches from the first phone to the last, the narrowest is speech beyond doubt:
        far away or in noise speech has syllables no clearer than a bark. It is looked for only
        when it is asked for, since most answers are accepted within the widest.
        """
        if self._reader is None:
            return
        began, last, clear = now.began, now.last, now.clear  # the listener cuts it meanwhile
        wide = narrow = self._reader.spoken(began, last)
        widest = None if wide is None else _cut((wide.start, wide.end), began, last)
        if widest is not None:
            yield widest
        if clear is not None:  # amid much barking words are lost
            end = min(clear[1] + patience.samples(LOOK_EVERY_S), last)
            narrow = self._reader.spoken(max(clear[0], began), end)
        if narrow is not None and narrow.clear is not None:
            narrowest = _cut(narrow.clear, began, last)
            if widest is None or _is_bared(widest, narrowest):
                yield narrowest

    def _note(self, now: Utterance, heard: Spoken) -> None:
        """Note how far the speech has come: after clear speech a bark is only what follows it."""
        if heard.clear is not None:
            first, end = heard.clear
            now.clear = (first if now.clear is None else min(now.clear[0], first), end)
        now.phones_end = heard.end
        if now.clear is not None:
            end = now.clear[1]
            now.phones_end = max(end, min(heard.end, end + patience.samples(UNCLEAR_AFTER_S)))

    def _look(self, now: Utterance, end: int) -> Spoken | None:
        """Look for phones when it is time to; ``looked_at`` tells whether it was."""
        every_s = SEEK_EVERY_S if now.phones_end is None else LOOK_EVERY_S
        due = max(now.began, now.looked_at) + patience.samples(every_s)
        if self._reader is None or end < due:
            return None
        now.looked_at = end
        return self._reader.spoken(max(now.began, end - patience.samples(LOOK_BACK_S)), end)


def _is_bared(widest: tuple[int, int], narrowest: tuple[int, int]) -> bool:
    """Whether an answer may be bared of a bark, and not of the end of its sentence."""
    if narrowest == widest:
        return False
    before, after = narrowest[0] - widest[0], widest[1] - narrowest[1]
    bared = before > patience.samples(NOISE_FROM_S)
    return bared or after < patience.samples(GOES_ON_S)


def _cut(spoken: tuple[int, int], began: int, last: int) -> tuple[int, int]:
    """Return the bounds of what sounded, without as much of it as is surely noise."""
    slack = patience.samples(NOISE_FROM_S)
    return (
        spoken[0] if spoken[0] - began > slack else began,
        spoken[1] if last - spoken[1] > slack else last,
    )
