"""What people say to dogs, in words: each stands against the phrases that sound like it.

"Sit" is nearly "six" and nearly "skip". The phone network spells anything, so these are scored like
what may be answered, and take their share. Usual words of dog training and of the house; common
practice, no source. What a grammar gives a meaning is no rival while it is open.
"""

from __future__ import annotations

from handsfree.hearing.grammar import Phrase

__all__ = ["RIVALS"]

_SAID = """
sit, sit down, sit up, sit still, stay, stay there, stay here, down, lie down, get down, get off
off, come, come here, come on, come along, over here, heel, walk on, wait there, stand, stand still
stand up, up, up you get, up you come, over, turn round, turn around, roll over, paw, other paw
shake, give, give it, give me, give paw, drop, drop it, leave, leave it, let go, take it, fetch
find it, bring it, get it, get out, in you go, on your bed, go to bed, basket, speak, hush, quiet
enough, that's enough, stop it, stop that, no biting, no licking, don't lick, don't bite, good boy
good girl, good dog, who's a good boy, who's a good girl, clever girl, clever boy, well done
there there, there we go, there you go, almost there, nearly there, easy, steady, gently, calm
calm down, settle, settle down, relax, careful, hold still, keep still, show me, let me see, look
look at me, watch me, hold his head, hold her head, open wide, biscuit, cookie, treat, treats
dinner, walk, bless you, poor boy, poor girl, silly boy, silly girl, hello you, right then
okay then, go on then, come on then, what's that, what is it, who's that
"""

RIVALS: tuple[Phrase, ...] = tuple(
    tuple(one.split()) for line in _SAID.strip().split("\n") for one in line.split(",")
)
