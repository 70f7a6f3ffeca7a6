"""Hearing as the driver sees it: blocks in, reports out, on one thread and one sample clock.

Joins segmenting, recogniser, second ear and trust. It decides nothing about the check, plays
nothing and keeps no sound beyond its last ten seconds, in memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from handsfree.audio.device import SAMPLE_RATE, Block, Samples
from handsfree.hearing import patience, trust
from handsfree.hearing.echo import EchoCanceller
from handsfree.hearing.evidence import Ear, Evidence, Phone, PhoneLoop, Reader, Talk
from handsfree.hearing.front import FrontEnd
from handsfree.hearing.grammar import ListeningGrammar, Phrase, compose
from handsfree.hearing.parts import Opinions, judge_parts
from handsfree.hearing.profile import VoiceProfile
from handsfree.hearing.recogniser import Hypothesis, Recogniser
from handsfree.hearing.reports import (
    DeadMicrophone,
    Judged,
    Report,
    SpeechStarted,
    SpokeOn,
    TooLoudNow,
)
from handsfree.hearing.segment import FRAME_SAMPLES, Frame, Loudness, Segmenter
from handsfree.hearing.speech import SpeechFinder
from handsfree.hearing.utterance import Loud, Utterance
from handsfree.hearing.verdict import Listening, Outcome, Verdict, WordTime

__all__ = ["Hearing", "Refine"]

Refine = Callable[[Samples, int, Sequence[WordTime]], tuple[WordTime, ...]]
"""Moves word times to the words' first audible energy: (sound, its first position, words)."""

PRE_ROLL_S = 0.25
"""Sound before the onset that the recogniser gets: soft consonants are no onset."""
ROOM_TAIL_S = 0.2
"""The room rings on for so long after our own voice."""
SPOKE_ON_WITHIN_S = 1.0
SPOKE_ON_FOR_S = 0.2
SPOKE_ON_SOFTER_DB = 8.0
"""Who speaks on speaks as loud: of 515 times 98 in a hundred were at most 6 dB below the answer.
Clatter that spelt something lay 8.6 to 12.9 dB below it."""
AFTER_TALK_S = 0.7
"""What begins so soon after speech of which nothing was accepted goes on with it. Of 5,400 answers
that were accepted none right one did and one wrong one, of 12 asides 3 ("he sits", six)."""


class Hearing:
    """From microphone blocks to verdicts.

    Args:
        recogniser: One engine, loaded.
        ear: The second ear; without one hearing is stricter and asks back more.
        echo: Takes our own voice out, so that a person can interrupt it; without one, or where it
            does not work, nothing is believed while we speak.
        reader: Reads utterances by their phones, on the second ear's frames.
        loop: A phone loop, which stands in for the second ear where there is none.
        refine: Moves word times to true onsets; used when the listening is timed.
        profile: Levels of this person at this microphone.
        composer: How listening becomes a grammar; the grammar files by default.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        ear: Ear | None = None,
        *,
        reader: Reader | None = None,
        loop: PhoneLoop | None = None,
        echo: EchoCanceller | None = None,
        refine: Refine | None = None,
        profile: VoiceProfile | None = None,
        composer: Callable[[Listening], ListeningGrammar] = compose,
    ) -> None:
        self._recogniser, self._ear, self._refine = recogniser, ear, refine
        self._reader = reader
        self._finder = SpeechFinder(reader)
        self._composer = composer
        self._loop = loop
        self.profile = profile or VoiceProfile()
        self._segmenter = Segmenter()
        self._loudness = Loudness(self.profile.voice_db)
        self._front = FrontEnd(echo)
        self._tape = self._front.tape
        self._listening: Listening | None = None
        self._phrases_of: dict[str, tuple[str, ...]] = {}
        self._grammar: ListeningGrammar | None = None
        self._from = 0
        self._deaf_until = 0
        self._utterance: Utterance | None = None
        self._accepted: Verdict | None = None
        self._accepted_db = 0.0
        self._talk: Talk | None = None
        self._phones: tuple[Phone, ...] | None = None
        self._voice_db = self.profile.voice_db

    # -- what the driver says ---------------------------------------------------------------

    @property
    def engine(self) -> str:
        """Name and version of the recogniser, for the record."""
        return f"{self._recogniser.name} {self._recogniser.version}"

    @property
    def room_db(self) -> float:
        """Level of the room's quieter moments, dB against full scale."""
        return self._loudness.room_db

    @property
    def position(self) -> int:
        """The next sample that is expected from the stream; 0 before it begins."""
        return self._front.position or 0

    @property
    def full_duplex(self) -> bool:
        """Whether people can be heard while we speak: the echo is cancelled, and it shows."""
        return self._front.echo_works

    @property
    def voice_db(self) -> float:
        """Level of the voice that gave the latest answers, dB against full scale."""
        return self._voice_db

    @property
    def too_loud(self) -> bool:
        """Whether the room is too loud to hear in."""
        return self._loudness.too_loud

    def prepare(self, listening: Listening) -> None:
        """Compile what will be listened for soon, so that opening it costs nothing.

        Raises:
            HandsfreeError: A grammar is missing or broken, or the engine refuses it.
        """
        if self._utterance is None:
            grammar = self._composer(listening)
            self._recogniser.listen_for(grammar)
            if self._reader is not None:
                self._reader.prepare(grammar)
            if self._grammar is not None:
                self._recogniser.listen_for(self._grammar)

    def open(self, listening: Listening, *, at: int, barge_in: bool = False) -> None:
        """Listen for this from sample ``at`` on. What is being said meanwhile is dropped.

        Args:
            listening: What is listened for.
            at: From where on; the end of what we are about to say.
            barge_in: From now on already, where ``full_duplex`` allows it.

        Raises:
            HandsfreeError: A grammar is missing or broken, or the engine refuses it.
        """
        self._drop()
        grammar = self._composer(listening)
        self._recogniser.listen_for(grammar)
        self._listening, self._grammar = listening, grammar
        self._from = min(at, self.position) if barge_in and self.full_duplex else at

    def close(self) -> None:
        """Listen for nothing; the room's level and speech running on are still followed."""
        self._drop()
        self._listening = self._grammar = None

    def mute(self, until_sample: int) -> None:
        """We speak until ``until_sample``: believe nothing before it and the room's ringing after.

        In ``full_duplex`` this changes nothing.
        """
        tail = round(ROOM_TAIL_S * SAMPLE_RATE)
        self._deaf_until = max(self._deaf_until, until_sample + tail)

    def unmute(self, at: int) -> None:
        """Our own voice was stopped at ``at``: believe what comes after the room's ringing."""
        self._deaf_until = min(self._deaf_until, at + round(ROOM_TAIL_S * SAMPLE_RATE))

    # -- what the microphone says -----------------------------------------------------------

    def feed(self, block: Block) -> list[Report]:
        """Take in one block and return what there is to tell, in order."""
        reports: list[Report] = []
        if not self._front.follows(block):
            self._begin_anew(block.start, reports)
        start, samples, ours = self._front.take(block)
        if self._front.dead:
            reports.append(DeadMicrophone())
        if self._ear is not None:
            self._ear.feed(samples, start)
        deaf = 0 if self.full_duplex else max(0, min(self._deaf_until - start, len(samples)))
        if deaf:
            self._drop(wholly=True)
            self._front.watch_muted(
                start,
                samples[:deaf],
                None if ours is None else ours[:deaf],
                self._segmenter.floor_db,
            )
            self._segmenter.skip_to(start + deaf)
            samples, ours = samples[deaf:], None if ours is None else ours[deaf:]
        for frame in self._segmenter.feed(samples, ours):
            self._hear(frame, reports)
        return reports

    def _begin_anew(self, start: int, reports: list[Report]) -> None:
        """The stream begins, or sound was lost: nothing spans the gap."""
        now = self._utterance
        if now is not None and self._open_at(now):
            lost = Verdict(outcome=Outcome.IGNORE, start=now.began, end=now.last, reason="lost")
            reports.append(Judged(verdict=lost))
        self._drop(wholly=True)
        self._segmenter.reset(self._front.begin(start))
        self._loudness.reset()
        self._accepted = None

    def _hear(self, frame: Frame, reports: list[Report]) -> None:
        over_us = self._front.sounds_of_us(frame.start)
        if over_us:
            self._front.watch(frame.rise_db, person=self._front.echo_works)
        loud = None if over_us else self._loudness.add(frame)
        if loud is not None:
            reports.append(TooLoudNow(loud=loud))
        if frame.began is not None:
            self._start(frame, reports)
        now = self._utterance
        if now is None:
            return
        end = frame.start + FRAME_SAMPLES
        if frame.speech or frame.began is not None:
            now.last = end
            now.frames.append(Loud(frame.start, frame.level_db, frame.clipped, over_us))
        if self._open_at(now) and not now.given_up:
            self._recogniser.feed(self._tape.cut(frame.start, end))
            if self._loop is not None:
                self._loop.feed(self._tape.cut(frame.start, end))
        self._watch_running_on(now, end, reports)
        since = now.onset if now.phones_end is None else now.began
        if end - since >= patience.samples(patience.CAP_S) and not now.given_up:
            self._give_up(now, reports)
        elif end - now.last >= self._wait(now, end) or self._over_in_noise(now, end):
            self._finish(now, reports)

    def _ear_phrases(self, grammar: ListeningGrammar) -> tuple[str, ...]:
        """Return the listed phrases, and of open forms the short numbers that the ear knows."""
        assert self._ear is not None
        if grammar.key not in self._phrases_of:
            known = sorted(self._ear.known_phrases())
            more = [p for p in known if not grammar.is_listed(p) and grammar.meaning(p)]
            self._phrases_of[grammar.key] = (*grammar.phrases, *more)
        return self._phrases_of[grammar.key]

    def _opinions(self, snr_db: float, start: int, end: int, words: Phrase) -> Opinions:
        """Ask the second ear and the phone network about a stretch of the stream."""
        ear = reading = None
        if self._ear is not None and self._grammar is not None:
            ear = self._ear.score(start, end, self._ear_phrases(self._grammar), snr_db=snr_db)
        if self._reader is not None and self._grammar is not None:
            reading = self._reader.read(start, end, self._grammar, words, snr_db=snr_db)
        return ear, reading

    def _open_at(self, now: Utterance) -> bool:
        return self._grammar is not None and now.fed_from >= 0

    def _start(self, frame: Frame, reports: list[Report]) -> None:
        assert frame.began is not None
        end = frame.start + FRAME_SAMPLES
        # Full duplex can begin in the middle of a prompt: then the end of muting lies ahead.
        deaf = min(self._deaf_until, frame.start) if not self.full_duplex else 0
        began = max(frame.began, deaf, self._tape.begin)
        now = Utterance(began=began, onset=began, last=end, deaf=deaf)
        quiet_db = frame.level_db - 10.0  # of the soft frames before the onset was certain
        now.frames = [Loud(at, quiet_db) for at in range(began, frame.start, FRAME_SAMPLES)]
        self._utterance = now
        if self._grammar is None:
            return
        now.early = self._is_early(now)
        before = max(began - round(PRE_ROLL_S * SAMPLE_RATE), deaf)
        now.fed_from = max(before, self._tape.begin, 0)
        self._recogniser.start()
        self._recogniser.feed(self._tape.cut(now.fed_from, frame.start))
        if self._loop is not None:
            self._loop.start()
            self._loop.feed(self._tape.cut(now.fed_from, frame.start))
        reports.append(SpeechStarted(sample=began))

    def _is_early(self, now: Utterance) -> bool:
        """Whether it was there before we listened: then it is only the tail of something."""
        muted = now.deaf > 0 and now.began - now.deaf < patience.samples(0.03)
        return now.began < self._from - patience.samples(0.05) or muted

    def _wait(self, now: Utterance, end: int) -> int:
        """Return the quiet that ends this utterance; asked again as the recogniser thinks on."""
        if not self._open_at(now) or now.given_up or self._grammar is None:
            return patience.samples(0.3)
        if self._listening is not None and self._listening.timed:
            return patience.samples(patience.TIMED_WAIT_S)
        if end - now.last < patience.samples(patience.SHORTEST_WAIT_S):
            return patience.samples(patience.LONGEST_WAIT_S)
        if end - now.asked_at >= patience.samples(0.04) or now.asked_at < now.last:
            now.asked_at = end
            now.wait = patience.samples(patience.wait_s(self._recogniser.partial(), self._grammar))
        return now.wait

    def _over_in_noise(self, now: Utterance, end: int) -> bool:
        """Whether no more is to come of this utterance, though the sound goes on."""
        if self._listening is None or self._listening.timed or self._grammar is None:
            return False
        if not self._open_at(now) or now.given_up:
            return self._finder.is_noise(now, end, self._from)
        grammar = self._grammar
        over = self._finder.is_over(
            now, end, lambda: patience.wait_s(self._recogniser.partial(), grammar)
        )
        now.early = self._is_early(now)
        return over

    def _heard_within(self, now: Utterance, bounds: tuple[int, int]) -> Hypothesis:
        """Cut off noise before and after the speech; let the recogniser hear it without."""
        now.narrow(*bounds)
        now.early = self._is_early(now)
        around = round(PRE_ROLL_S * SAMPLE_RATE)
        now.fed_from = max(now.began - around, now.fed_from, self._tape.begin)
        self._recogniser.start()
        self._recogniser.feed(self._tape.cut(now.fed_from, min(now.last + around, self._tape.end)))
        return self._recogniser.finish()

    def _watch_running_on(self, now: Utterance, end: int, reports: list[Report]) -> None:
        accepted = self._accepted
        if accepted is None:
            return
        within = patience.samples(SPOKE_ON_WITHIN_S)
        if now.began > accepted.end + within:
            self._accepted = None
        elif len(now.frames) * FRAME_SAMPLES >= patience.samples(SPOKE_ON_FOR_S):
            softer = now.level_db() < self._accepted_db - SPOKE_ON_SOFTER_DB
            if softer or not self._finder.runs_on(now, end):
                return
            self._accepted = None
            now.ran_on = True
            reports.append(SpokeOn(start=accepted.start))

    def _give_up(self, now: Utterance, reports: list[Report]) -> None:
        """Too long for an answer: judge it as such and wait for its end."""
        if self._open_at(now):
            self._finish_engines()
            reports.append(Judged(verdict=self._judge(now, Hypothesis(words=()), too_long=True)))
            self._talk = Talk(end=now.last) if now.clear is not None else self._talk
        now.given_up = True
        now.fed_from = -1
        self._segmenter.take_as_noise()
        self._utterance = None

    def _finish(self, now: Utterance, reports: list[Report]) -> None:
        self._segmenter.end_speech()
        self._utterance = None
        if not self._open_at(now):
            return
        verdict = self._judged_best(now, self._finish_engines())
        reports.append(Judged(verdict=verdict))
        self._talk = None if verdict.outcome is Outcome.ACCEPT else now.talk or self._talk
        if verdict.outcome is Outcome.ACCEPT and self._listening is not None:
            self._accepted = None if self._listening.timed else verdict
            self._accepted_db = now.level_db()
            self._voice_db += 0.2 * (now.level_db() - self._voice_db)
            self._loudness.voice_db = self._voice_db

    def _judged_best(self, now: Utterance, whole: Hypothesis) -> Verdict:
        """Judge it from the widest bounds to the narrowest until it is accepted."""
        assert self._listening is not None
        bounds = iter(()) if self._listening.timed else self._finder.bounds(now)
        all_of_it = (now.onset, now.last)
        best: Verdict | None = None
        for within in bounds:
            found = whole if within == all_of_it else self._heard_within(now, within)
            verdict = self._judge(now, found, too_long=False)
            if verdict.outcome is Outcome.ACCEPT:
                return verdict
            if best is None or best.outcome is Outcome.IGNORE:
                best = verdict
        return best or self._judge(now, whole, too_long=False)

    def _finish_engines(self) -> Hypothesis:
        self._phones = self._loop.finish() if self._loop is not None else None
        return self._recogniser.finish()

    def _judge(self, now: Utterance, found: Hypothesis, *, too_long: bool) -> Verdict:
        assert self._grammar is not None
        assert self._listening is not None
        times = tuple(
            replace(t, start=t.start + now.fed_from, end=t.end + now.fed_from) for t in found.times
        )
        shift = now.fed_from
        over_us = now.share(lambda frame: frame.over_us)
        phones = self._phones
        hear = partial(self._opinions, now.level_db() - self._segmenter.floor_db)
        ear, reading = (None, None) if too_long else hear(now.began, now.last, found.words)
        evidence = Evidence(
            listening=self._listening,
            grammar=self._grammar,
            start=now.began,
            end=max(now.last, now.began),
            hypothesis=replace(found, times=times),
            speech=now.speech,
            clipped=now.share(lambda frame: frame.clipped),
            level_db=now.level_db(),
            noise_db=self._segmenter.floor_db,
            early=now.early or now.ran_on,  # "less", taken back, and "than usual" after it
            after=self._talk_before(now),
            fitted=self._recogniser.name in trust.FITTED,
            over_us=over_us,
            like_us=self._front.likeness(now.began, now.last) if over_us else 0.0,
            too_long=too_long,
            ear=ear,
            reading=reading,
            phones=None
            if phones is None
            else tuple((name, a + shift, b + shift, score) for name, a, b, score in phones),
        )
        verdict = trust.judge(evidence)
        if reading is not None and reading.is_speech and over_us <= trust.MOSTLY_OVER_US:
            doubted = verdict.best if verdict.outcome is Outcome.ASK_BACK else None
            now.talk = Talk(end=evidence.end, meaning=doubted.meaning if doubted else None)
        if self._listening.timed:
            verdict = judge_parts(evidence, verdict, hear)
        if self._listening.timed and self._refine is not None and verdict.words:
            before = max(now.began - SAMPLE_RATE, self._tape.begin)
            sound = self._tape.cut(before, self._tape.end)
            verdict = replace(verdict, words=self._refine(sound, before, verdict.words))
        return verdict

    def _talk_before(self, now: Utterance) -> Talk | None:
        """Return what was said right before; never where words are timed, each for itself."""
        assert self._listening is not None
        talk = self._talk
        if talk is None or self._listening.timed:
            return None
        return talk if now.began - talk.end < patience.samples(AFTER_TALK_S) else None

    def _drop(self, *, wholly: bool = False) -> None:
        """Judge no more what is being said; follow it to its end unless ``wholly`` forgotten."""
        self._talk = None
        now = self._utterance
        if now is not None and self._open_at(now) and not now.given_up:
            self._finish_engines()
        if now is not None:
            now.given_up, now.fed_from = True, -1
        if wholly:
            self._utterance = None
            self._segmenter.end_speech()
