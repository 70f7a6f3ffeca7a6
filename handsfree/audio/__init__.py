"""One full-duplex stream, WAV files, and the sample clock.

The live stream stands apart in `handsfree.audio.live`, so that nothing here needs a sound library.
"""

from handsfree.audio.device import (
    BLOCK_SAMPLES,
    SAMPLE_RATE,
    Block,
    DeviceInfo,
    Duplex,
    Samples,
)
from handsfree.audio.filein import FileDuplex
from handsfree.audio.mixer import Mixer
from handsfree.audio.virtual import RoomNoise, VirtualDuplex
from handsfree.audio.wav import DialogueWriter, read_wav, write_wav

__all__ = [
    "BLOCK_SAMPLES",
    "SAMPLE_RATE",
    "Block",
    "DeviceInfo",
    "DialogueWriter",
    "Duplex",
    "FileDuplex",
    "Mixer",
    "RoomNoise",
    "Samples",
    "VirtualDuplex",
    "read_wav",
    "write_wav",
]
