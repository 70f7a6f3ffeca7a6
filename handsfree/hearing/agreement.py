"""When two or three opinions on what was said are enough together, and when they stand against it.

A probability weighs all figures for everybody alike. But synthesised voices, on which it was
fitted, are spelt more exactly than people's. What is said here of the opinions side by side makes
up for it in quiet. In noise the probability was fitted to weigh them together.
"""

from __future__ import annotations

from handsfree.hearing.opinions import Opinions

__all__ = ["AGAINST", "BACKED", "are_against", "are_enough"]
__all__ += ["are_enough_for_number", "is_hardly_speech", "is_too_little"]

THREE_READ = 0.5
THREE_EAR, THREE_FIT = 0.25, -3.6
FAINT_EAR, FAINT_FIT = 0.1, -3.0
"""Shares, and nats a phone, from which three that agree are believed; a faint ear will do where the
phones are nearer. "Heel" as "pale" lay at -4.5. People's digits lie at -5 to 0,
synthesised voices' at -1 to 0. By all rules together 8 of 2,155 asides were accepted."""
TWO_READ, TWO_FIT = 0.8, -1.2
"""The same for reading and recogniser, whatever the ear hears. Beside dishes "almost there" was
recognised, and read at -1.7, as "almost white"."""
HEARD_EAR, HEARD_READ, HEARD_FIT = 0.5, 0.5, -2.7
"""The same for ear and reading, whatever is recognised."""
SURE_READ, SURE_FIT, EXACT_FIT = 0.97, -1.0, -0.5
"""The same for a reading that the ear backs, and for one that is recognised against the ear."""
PERFECT_FIT = -0.25
"""The same for a reading that no sound parts from its phrase, unless both others hear another: of
18 answers that were asked back 17 were right; of 1,269 recordings of people's talk and exclamations
one came so near."""
NUMBER_EAR, NUMBER_READ, NUMBER_FIT = 0.3, 0.5, -4.0
NUMBER_EAR_SAID, NUMBER_SAID_ABOVE_RIVALS, NUMBER_EAR_ALONE = 0.4, -5.0, 0.95
NUMBER_FAINT_EAR, NUMBER_FAINT_READ = 0.15, 0.1
NUMBER_CLEAR_BY, NUMBER_ABOVE_RIVALS = 1.5, -0.6
"""The same for numbers of one word: ear and reading; ear and recogniser; the ear alone; all three,
where no other comes near and nothing said to dogs is likelier."""
NUMBER_SURELY_READ, NUMBER_SURELY_CLEAR_BY = 0.8, 5.0
NUMBER_SURELY_ABOVE_RIVALS, NUMBER_EAR_OTHER = 1.5, 0.15
"""And for one that is read and recognised, where the ear hears no other: one person's "five" was
right three times so, and its share 0.04 to 0.09. All 215 recorded digits of which this holds are
right; of some 140 asides that were recognised as a number of one word it holds of one."""
ALONE_FIT = 0.0
"""The same for a reading alone: the ear, which is good in quiet, would mostly hear it too."""
LONG_PHONES, LONG_ABOVE_RIVALS, SHORT_ABOVE_RIVALS = 5, 9.0, 15.0
"""From this length on and so far above what is said to dogs a reading alone may be as far away as
one that the ear backs: beside dishes "pass me the towel" was "can't see that" by 5 nats. What is
shorter stands alone from the last figure on only."""
ALONE_EAR = 0.15
"""Share of the ear below which a reading that is not recognised stands alone. Of recorded people in
quiet 18 readings were accepted so that were none ("ow" as five and as eight, "grenade" as two), and
of answers 7 would have been."""
BACKED = 0.1
FEWEST_PHONES = 3
"""A reading alone of two phones is too little: clatter spells as much."""
AGAINST, AGAINST_EXACT = 0.5, 0.6
"""Share of the ear for another meaning with which no short phrase is believed; and, where the
recogniser says that too, no reading however exact."""
EAR_LEANS, EAR_OUTVOTED = 0.12, 0.5
"""Share of the ear from which it backs what is recognised against a reading, and share for the
reading from which it does not."""
HARDLY_NATS, HARDLY_EAR, HARDLY_READ, HARDLY_FIT = 2.0, 0.25, 0.95, -0.8
"""Clearness of the phones below which it may be a bark, and what is believed all the same: an ear's
share, or phones that fit what the recogniser says. In ten minutes of recorded dogs four barks were
accepted and 32 asked back; by this rule none and two. Of 768 answers in quiet it would take none
that were right."""


def are_enough(of: Opinions) -> bool:
    """Whether what the phones spell best may be believed in quiet whatever the figures' sum is."""
    ear_first = of.ear > of.ear_other
    if of.said and ear_first and of.read >= THREE_READ and _three_fit(of):
        return True
    sure = of.read >= SURE_READ and of.phones >= FEWEST_PHONES
    if of.said and sure and of.fit >= EXACT_FIT:
        return True
    if sure and of.fit >= PERFECT_FIT and of.above_rivals >= LONG_ABOVE_RIVALS:
        return not (of.said_other and of.ear_other >= AGAINST_EXACT)
    if of.ear_other >= AGAINST or _leans_away(of):
        return False
    if of.said and of.read >= TWO_READ and of.fit >= TWO_FIT:
        return True
    if of.ear >= HEARD_EAR and of.read >= HEARD_READ and of.fit >= HEARD_FIT:
        return True
    if is_too_little(of):
        return False
    alone = ALONE_FIT
    if of.phones >= LONG_PHONES and of.above_rivals >= LONG_ABOVE_RIVALS:
        alone = SURE_FIT
    return sure and of.fit >= (SURE_FIT if of.ear >= BACKED else alone)


def are_enough_for_number(of: Opinions) -> bool:
    """Whether two or three may be believed on a number of one word.

    Of people's digits that two opinions agreed on 308 of 312 were right. What is no number is
    mostly none to the recogniser: of 15 recorded exclamations and words that two opinions would
    have taken for one, it heard 9 as something else or as nothing.
    """
    if not of.said_number:
        return False
    if of.said and of.ear_other < NUMBER_EAR_OTHER and _is_surely_read(of):
        return True
    if of.ear > of.ear_other:
        if of.ear >= NUMBER_EAR_ALONE:
            return True
        if of.said and of.ear >= NUMBER_EAR_SAID and of.above_rivals >= NUMBER_SAID_ABOVE_RIVALS:
            return True
        if of.ear >= NUMBER_EAR and of.read >= NUMBER_READ and of.fit >= NUMBER_FIT:
            return True
    some = of.ear >= NUMBER_FAINT_EAR and of.read >= NUMBER_FAINT_READ
    clear = of.clear_by >= NUMBER_CLEAR_BY and of.above_rivals >= NUMBER_ABOVE_RIVALS
    return some and clear and of.fit >= NUMBER_FIT


def _is_surely_read(of: Opinions) -> bool:
    """Whether the phones of a number are near enough, and nothing else is like them."""
    if of.read < NUMBER_SURELY_READ or of.fit < NUMBER_FIT:
        return False
    above = of.above_rivals >= NUMBER_SURELY_ABOVE_RIVALS
    return above and of.clear_by >= NUMBER_SURELY_CLEAR_BY


def _three_fit(of: Opinions) -> bool:
    """Whether the phones of what all three say are near enough for the ear's share.

    "Fine" and "it's clean" mean the same, and are different sounds: who hears them does not agree.
    """
    if of.other_words and of.fit < TWO_FIT:
        return False
    if of.ear >= THREE_EAR:
        return of.fit >= THREE_FIT
    return of.ear >= FAINT_EAR and of.fit >= FAINT_FIT


def is_too_little(of: Opinions) -> bool:
    """Whether the phones of something short are all there is: the others would hear it."""
    if of.said or of.ear >= ALONE_EAR:
        return False
    is_long = of.phones >= LONG_PHONES
    return of.above_rivals < (LONG_ABOVE_RIVALS if is_long else SHORT_ABOVE_RIVALS)


def is_hardly_speech(of: Opinions) -> bool:
    """Whether it may be a bark: no phone is certain, and the ear does not hear a phrase in it."""
    if of.speech_nats >= HARDLY_NATS or of.ear >= HARDLY_EAR:
        return False
    return not (of.said and of.read >= HARDLY_READ and of.fit >= HARDLY_FIT)


def are_against(of: Opinions) -> bool:
    """Whether the recogniser says something else of ours, and the ear rather hears that too."""
    return not of.said and of.ear < EAR_OUTVOTED and _leans_away(of)


def _leans_away(of: Opinions) -> bool:
    return of.said_other and of.ear_other > of.ear and of.ear_other >= EAR_LEANS
