"""The phone network: how well any phrase of any grammar spells what was said, phone by phone.

It shares the second ear's mel frames. `PhoneReader` reads one utterance; whether to believe what it
reads is decided in ``trust``.
"""

from handsfree.hearing.phones.lexicon import Lexicon
from handsfree.hearing.phones.network import PhoneNetwork, load_network
from handsfree.hearing.phones.reader import PhoneReader

__all__ = ["Lexicon", "PhoneNetwork", "PhoneReader", "load_network"]
