"""All that the phone network is trained on and judged by: plans of clips, their sound and phones.

Only clean sound is kept: what a room and a microphone do to it is done while training, afresh each
time (``phone_harm.py``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.resample import to_int16
from handsfree.errors import EngineError
from handsfree.hearing.phones.frames import STEP_SAMPLES
from handsfree.hearing.phones.lexicon import Lexicon, Spelling
from handsfree.hearing.training import spoken_numbers, talk, voices
from handsfree.hearing.training.clips import RATE_HZ, Clip, Studio, plan_machine, plan_natural
from handsfree.hearing.training.jobs import Job, Workshop, make_all
from handsfree.hearing.training.kokoro import Kokoro
from handsfree.hearing.training.texts import ASIDES, SENTENCES, TALK, normalise, own_prompts
from handsfree.numerals import ONES

__all__ = [
    "PHONES",
    "ClipWorkshop",
    "PhoneAmounts",
    "PhoneMaterial",
    "gather",
    "make_material",
    "phones_of",
    "plan",
    "print_material",
]

_CMU = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W "
    "Y Z ZH"
)
PHONES: Spelling = tuple(_CMU.split())
"""The 39 phones of the CMU Pronouncing Dictionary, without stress; output k + 1 is phone k."""

_SHORTEST, _LONGEST = RATE_HZ // 10, 6 * RATE_HZ
_QUICKEST = 0.8
_ROOM = 1.05
"""Outputs that a phone needs at least: repeated phones take a blank between them."""
_HELD_NUMBERS = 400
_OTHER_ROUNDS = 1000
"""Rounds of the digits begin here, for the phrases' rounds have them too."""
_DIGITS = (*ONES[:11], "yes", "no", "left", "right")


@dataclass(frozen=True, kw_only=True)
class PhoneAmounts:
    """How much is made.

    Attributes:
        natural: Natural clips of each short phrase.
        numbers: Numbers drawn by lot, one natural clip each.
        talk: Stretches of ``talk.txt``, one natural clip each.
        more_talk: Stretches drawn from the language model beside those.
        words: Lone words of the dictionary, one natural clip each.
        asides: Natural clips of each aside.
        digits: Natural clips of each digit, of yes and no, left and right, beside the phrases'.
        sentences: Natural clips of each longer sentence and each question of our own.
        machine: eSpeak NG clips of each short phrase.
        machine_numbers: Of how many numbers there is an eSpeak NG clip too.
        machine_talk: Of how many drawn stretches.
        machine_words: Of how many words.
        machine_digits: eSpeak NG clips of each digit and so on.
        noises: Beds of noise of 8 s.
        others: Other sounds that are no speech.
        rooms: Impulse responses.
    """

    natural: int = 36
    numbers: int = 12000
    talk: int = len(TALK)
    more_talk: int = 14000
    words: int = 9000
    asides: int = 7
    digits: int = 120
    sentences: int = 4
    machine: int = 18
    machine_numbers: int = 5000
    machine_talk: int = 4000
    machine_words: int = 6000
    machine_digits: int = 150
    noises: int = 10000
    others: int = 30000
    rooms: int = 2500


@dataclass(frozen=True, kw_only=True)
class PhoneMaterial:
    """Clean clips, n of them, with what is said in each.

    Attributes:
        waves: All clips one after the other, 16 kHz, peak 0.5, silence cut from their ends; shape
            (total,).
        lengths: Samples of each clip, shape (n,).
        phones: Outputs of the network for each clip's phones.
        held: Whether its voice is held back from training, shape (n,).
        groups: What it is, for tables.
        speakers: Engine and voice of each.
        texts: What is said, in words.
    """

    waves: NDArray[np.int16]
    lengths: NDArray[np.int64]
    phones: tuple[tuple[int, ...], ...]
    held: NDArray[np.bool_]
    groups: NDArray[np.str_]
    speakers: NDArray[np.str_]
    texts: tuple[str, ...] = ()

    @property
    def starts(self) -> NDArray[np.int64]:
        """Where each clip begins, shape (n,)."""
        return np.asarray(np.cumsum(self.lengths) - self.lengths)


@dataclass(frozen=True, kw_only=True)
class ClipWorkshop(Workshop):
    """A workshop that makes clips and nothing of them.

    Attributes:
        device: A graphics processor that speaks with the natural voices, or None.
    """

    device: str | None = None

    def studio(self) -> Studio:
        """Return what makes clips."""
        kokoro = Kokoro(self.tables, device=self.device) if self.tables is not None else None
        return Studio(self.work / "clips", kokoro)

    def maker(self) -> Callable[[Job], object]:
        """Return what makes one job, or finds it made."""
        studio = self.studio()
        return lambda job: [studio.get(clip) for clip in job.clips]


def phones_of(text: str, lexicon: Lexicon) -> Spelling | None:
    """Return the phones of ``text``, each word's first pronunciation; None if one has none."""
    found: list[str] = []
    for word in normalise(text).split():
        ways = lexicon.of_word(word)
        if not ways:
            return None
        found += ways[0]
    return tuple(found)


def plan(
    phrases: Sequence[str],
    amounts: PhoneAmounts,
    seed: int,
    *,
    grammars: Path | None = None,
    held: bool = False,
    natural: bool = True,
) -> list[Job]:
    """Return every clip of a training, or of the judging where `held`.

    Numbers that are judged are not among those trained on.

    Args:
        phrases: The grammars' short phrases.
        amounts: How much is made.
        seed: Of all that is drawn by lot.
        grammars: Folder of the grammar files, if it is another.
        held: Whether this is to judge by.
        natural: Whether there are natural voices.

    Raises:
        CallerError: Fewer numbers can be said than are asked for.
    """
    ours = set(phrases)
    asides = [text for text in ASIDES if normalise(text) not in ours]
    count = amounts.numbers + _HELD_NUMBERS if amounts.numbers else 0
    drawn = spoken_numbers.draw(count, seed, folder=grammars)
    numbers = drawn[:_HELD_NUMBERS] if held else drawn[_HELD_NUMBERS:]
    numbers = [text for text in numbers if text not in ours]
    jobs: list[Job] = []

    def add(group: str, clips: Iterable[Clip], by: float) -> None:
        # Made in order up to the turn `by`: the phrases' later rounds come last.
        listed = [clip for clip in clips if clip.engine in {"kokoro", "espeak"}]
        jobs.extend(
            Job(kind="clip", takes=1, group=group, clips=(clip,), turn=by * number / len(listed))
            for number, clip in enumerate(listed)
        )

    def by_nature(group: str, texts: Sequence[str], times: int, by: float, first: int = 0) -> None:
        if natural:
            clips = plan_natural(texts, range(first, first + times), seed, held=held)
            add(f"{group}, natural", clips, by)

    def by_machine(group: str, texts: Sequence[str], each: int) -> None:
        if each and texts:
            add(f"{group}, eSpeak NG", plan_machine(texts, each, seed, held=held), 0.3)

    if held:
        by_nature("phrases", phrases, 1, 1.0)
        by_nature("numbers", numbers, 1, 1.0)
        by_nature("asides", asides[::2], 1, 1.0)
        by_machine("phrases", phrases[::2], 1)
        return jobs
    known = ours.union(map(normalise, TALK))
    more = talk.draw(amounts.more_talk, seed + 1) if amounts.more_talk else []
    more = [text for text in more if text not in known]
    words = talk.lone_words(max(amounts.words, amounts.machine_words), seed + 2)
    said = [text for text in TALK[: amounts.talk] if normalise(text) not in ours]
    by_nature("phrases", phrases, amounts.natural, 1.0)
    by_nature("numbers", numbers, 1, 0.5)
    by_nature("talk", said + more, 1, 0.7)
    by_nature("words", words[: amounts.words], 1, 0.6)
    by_nature("asides", asides, amounts.asides, 0.5)
    by_nature("digits", _DIGITS, amounts.digits, 0.8, first=_OTHER_ROUNDS)
    by_nature("sentences", [*SENTENCES, *own_prompts()], amounts.sentences, 0.8)
    by_machine("phrases", phrases, amounts.machine)
    by_machine("numbers", numbers[: amounts.machine_numbers], 1)
    by_machine("talk", more[: amounts.machine_talk], 1)
    by_machine("words", words[: amounts.machine_words], 1)
    by_machine("digits", _DIGITS, amounts.machine_digits)
    return _once(jobs)


def _once(jobs: Sequence[Job]) -> list[Job]:
    """The jobs without clips that come twice: a digit is a phrase too."""
    found: dict[str, Job] = {}
    for job in jobs:
        found.setdefault(job.clips[0].key, job)
    return list(found.values())


def gather(
    jobs: Sequence[tuple[Job, bool]],
    studio: Studio,
    lexicon: Lexicon,
    *,
    kept_only: bool = False,
    say: Callable[[str], None] = print,
) -> PhoneMaterial:
    """Make or fetch every clip.

    Left out are clips with a word that the lexicon lacks, and those too short for their phones.

    Args:
        jobs: Each with whether it is held back.
        studio: Where clips come from.
        lexicon: Pronunciations.
        kept_only: Leave out what needs new speech.
        say: Told what is left out.

    Raises:
        EngineError: Nothing could be made to train on, or nothing to judge by.
    """
    outputs = {phone: number for number, phone in enumerate(PHONES, start=1)}
    waves: list[NDArray[np.int16]] = []
    rows: list[tuple[tuple[int, ...], bool, str, str, str]] = []
    left_out: Counter[str] = Counter()
    for job, held in jobs:
        clip = job.clips[0]
        if kept_only and not studio.has(clip):
            continue
        spelling = phones_of(clip.text, lexicon)
        if spelling is None:
            left_out["clips with a word that the dictionary lacks"] += 1
            continue
        try:
            sound = studio.get(clip)
        except EngineError as wrong:
            left_out[f"clips that could not be made ({str(wrong).partition(' for ')[0]})"] += 1
            continue
        steps = sound.size / STEP_SAMPLES * _QUICKEST
        if not _SHORTEST <= sound.size < _LONGEST or steps <= _ROOM * len(spelling) + 2:
            left_out["clips too short or too long"] += 1
            continue
        waves.append(to_int16(sound * 32768))
        phones = tuple(outputs[phone] for phone in spelling)
        rows.append((phones, held, job.group, clip.speaker, normalise(clip.text)))
    for reason, times in left_out.items():
        say(f"Left out {times} {reason}.")
    if {row[1] for row in rows} != {False, True}:
        msg = (
            "Nothing could be made to train on, or nothing to judge by, for the reasons above. "
            "Install the extra 'train', or ask for more."
        )
        raise EngineError(msg)
    return PhoneMaterial(
        waves=np.concatenate(waves),
        lengths=np.array(list(map(len, waves)), np.int64),
        phones=tuple(row[0] for row in rows),
        held=np.array([row[1] for row in rows]),
        groups=np.array([row[2] for row in rows]),
        speakers=np.array([row[3] for row in rows]),
        texts=tuple(row[4] for row in rows),
    )


def make_material(
    shop: ClipWorkshop,
    phrases: Sequence[str],
    amounts: PhoneAmounts,
    *,
    grammars: Path,
    kept_only: bool = False,
    processes: int = 1,
) -> PhoneMaterial:
    """Plan, make and gather all clips, those to train on and those to judge by.

    Args:
        shop: Where they are made, with its seed.
        phrases: The grammars' short phrases.
        amounts: How much is made.
        grammars: Folder of JSGF files.
        kept_only: Leave out what needs new speech.
        processes: How many make clips at once.

    Raises:
        EngineError: Nothing could be made to train on, or nothing to judge by.
    """
    natural = shop.tables is not None
    jobs = [
        (job, held)
        for held in (False, True)
        for job in plan(phrases, amounts, shop.seed, grammars=grammars, held=held, natural=natural)
    ]
    if processes > 1 and not kept_only:
        make_all([job for job, _ in jobs], shop, processes)
    return gather(jobs, shop.studio(), Lexicon(), kept_only=kept_only)


def print_material(material: PhoneMaterial) -> None:
    """Print what is trained on and what is held back, by group and by voice."""
    for title, mine in (("Trained on", ~material.held), ("Held back", material.held)):
        minutes = material.lengths[mine].sum() / RATE_HZ / 60
        print(f"\n{title}: {int(mine.sum())} clips, {minutes:.1f} min, by group and by voice:")
        for group, count in sorted(Counter(material.groups[mine].tolist()).items()):
            print(f"  {group}\t{count}")
        speakers = (
            "kokoro:mixed voices" if "+" in s and s.startswith("kokoro") else s
            for s in material.speakers[mine].tolist()
        )
        for speaker, count in sorted(Counter(speakers).items()):
            print(f"  {speaker}\t{count}")
    print(f"\nNever used: the natural voices {', '.join(voices.UNTOUCHED)}.")
