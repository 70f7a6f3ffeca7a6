"""One full-duplex stream, WAV files, and the sample clock."""

from handsfree.audio.device import (
    BLOCK_SAMPLES,
    SAMPLE_RATE,
    Block,
    DeviceInfo,
    Duplex,
    Samples,
)

__all__ = ["BLOCK_SAMPLES", "SAMPLE_RATE", "Block", "DeviceInfo", "Duplex", "Samples"]
