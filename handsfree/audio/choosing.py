"""Which sound devices there are, which one is meant, and how it can be opened.

The only module besides `handsfree.audio.live` that touches sounddevice, and it imports it late:
importing starts PortAudio, which takes time and fails where there is none.
"""

from __future__ import annotations

import contextlib
import ctypes
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

from handsfree.audio.device import SAMPLE_RATE, DeviceInfo, Samples
from handsfree.audio.resample import resample, to_int16
from handsfree.errors import CallerError, DeviceError

__all__ = [
    "Route",
    "find_device",
    "library",
    "list_devices",
    "plan_route",
    "play_once",
    "refresh_devices",
    "within",
]

_T = TypeVar("_T")

_LATENCY_S = 0.1
"""Asked of PortAudio: its own default is short enough to crackle on Linux."""

_OTHER_RATES = (48_000, 44_100, 32_000, 96_000, 22_050, 8_000)
"""Tried when a device does not do SAMPLE_RATE; all make whole blocks of 20 ms."""

_quiet: list[Any] = []
"""Keeps the handler that silences ALSA alive."""


@dataclass(frozen=True, kw_only=True)
class Route:
    """A pair of devices and a way in which both can be opened."""

    microphone: int
    loudspeaker: int
    names: tuple[str, str]
    rate: int
    channels_in: int
    channels_out: int
    latency_s: float = _LATENCY_S

    @property
    def block(self) -> int:
        """Device samples in 20 ms."""
        return self.rate // 50

    def describe(self) -> str:
        """Name both devices, for people."""
        microphone, loudspeaker = self.names
        if microphone == loudspeaker:
            return f"The sound device {microphone!r}"
        return f"The microphone {microphone!r} with the loudspeaker {loudspeaker!r}"


def within(seconds: float, call: Callable[[], _T]) -> tuple[_T | None, Exception | None]:
    """Run ``call`` in a thread of its own; return its result and error, or neither if it hangs.

    A sound driver whose device is gone may never return: the thread is then left behind.
    """
    outcome: list[tuple[_T | None, Exception | None]] = []

    def run() -> None:
        try:
            outcome.append((call(), None))
        except Exception as error:  # noqa: BLE001 - handed to the caller
            outcome.append((None, error))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(seconds)
    return outcome[0] if outcome else (None, None)


@cache
def library() -> Any:
    """Return the sounddevice module.

    Raises:
        DeviceError: It or the PortAudio library is missing.
    """
    try:
        import sounddevice
    except ImportError as error:
        raise DeviceError(
            "The package sounddevice is missing, so there is no sound; install handsfree again, "
            "or check by keys with --typed."
        ) from error
    except OSError as error:
        raise DeviceError(
            "The PortAudio library is missing, so there is no sound; install it (on Debian and "
            "Ubuntu: the package libportaudio2), or check by keys with --typed."
        ) from error
    _silence_alsa()
    return sounddevice


def _silence_alsa() -> None:
    """Keep ALSA from printing on its own: a screen reader would read that aloud."""
    if not sys.platform.startswith("linux"):
        return
    handler = ctypes.CFUNCTYPE(
        None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p
    )(lambda *_: None)
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL("libasound.so.2").snd_lib_error_set_handler(handler)
        _quiet.append(handler)


@contextlib.contextmanager
def _portaudio(doing: str) -> Iterator[Any]:
    sounddevice = library()
    try:
        yield sounddevice
    except (sounddevice.PortAudioError, ValueError) as error:
        raise DeviceError(
            f"The sound system failed while {doing} ({error}); check that it runs, "
            "or check by keys with --typed."
        ) from error


def list_devices() -> list[DeviceInfo]:
    """Return all sound devices that were there at the start or at the last refresh.

    Raises:
        DeviceError: There is no sound system.
    """
    with _portaudio("listing devices") as sounddevice:
        hosts = sounddevice.query_hostapis()
        defaults = {sounddevice.default.device[0], sounddevice.default.device[1]}
        return [
            DeviceInfo(
                index=device["index"],
                name=f"{device['name']} ({hosts[device['hostapi']]['name']})",
                inputs=device["max_input_channels"],
                outputs=device["max_output_channels"],
                default=device["index"] in defaults,
            )
            for device in sounddevice.query_devices()
        ]


def refresh_devices() -> None:
    """Have PortAudio look for devices anew: it never does so by itself.

    No stream may be open, since this ends PortAudio and starts it again.

    Raises:
        DeviceError: There is no sound system.
    """
    with _portaudio("looking for devices") as sounddevice:
        done, error = within(5.0, lambda: (sounddevice._terminate(), sounddevice._initialize()))
        if error is not None or done is None:
            raise ValueError(str(error or "it does not answer"))


def find_device(wanted: int | str | None, *, output: bool) -> DeviceInfo:
    """Return the device meant by an index, a part of its name, or None for the default.

    Raises:
        CallerError: None fits, or several do.
        DeviceError: There is no device of this kind at all.
    """
    kind = "loudspeaker" if output else "microphone"
    usable = [device for device in list_devices() if (device.outputs if output else device.inputs)]
    if not usable:
        raise DeviceError(
            f"No {kind} was found; plug one in and try again, or check by keys with --typed."
        )
    if wanted is None:
        index = library().default.device[1 if output else 0]
        return next((device for device in usable if device.index == index), usable[0])
    text = str(wanted).strip().lower()
    if text.isdigit():
        fitting = [device for device in usable if device.index == int(text)]
    else:
        fitting = [device for device in usable if device.name.lower() == text] or [
            device for device in usable if text in device.name.lower()
        ]
    if len(fitting) == 1:
        return fitting[0]
    offered = "; ".join(f"{device.index}: {device.name}" for device in fitting or usable)
    what = "more than one fits" if fitting else "none is called so"
    raise CallerError(f"Of the {kind}s for {str(wanted)!r}, {what}; choose one of {offered}.")


def plan_route(microphone: int | str | None, loudspeaker: int | str | None) -> Route:
    """Return how these two can be opened as one stream, at SAMPLE_RATE if they can.

    Raises:
        CallerError: As `find_device`.
        DeviceError: As `find_device`, or they have no rate in common.
    """
    source = find_device(microphone, output=False)
    sink = find_device(loudspeaker, output=True)
    sounddevice = library()
    usual = round(sounddevice.query_devices(source.index)["default_samplerate"])
    rates = dict.fromkeys((SAMPLE_RATE, usual, *_OTHER_RATES))
    for rate in rates:
        if rate % 50:
            continue
        for channels_in in sorted({1, min(2, source.inputs)}):
            for channels_out in sorted({1, min(2, sink.outputs)}):
                if _opens(source.index, channels_in, rate, output=False) and _opens(
                    sink.index, channels_out, rate, output=True
                ):
                    return Route(
                        microphone=source.index,
                        loudspeaker=sink.index,
                        names=(source.name, sink.name),
                        rate=rate,
                        channels_in=channels_in,
                        channels_out=channels_out,
                    )
    raise DeviceError(
        f"The microphone {source.name!r} and the loudspeaker {sink.name!r} cannot be opened at "
        "any rate they share; close other programs that use them, or choose another pair."
    )


def _opens(index: int, channels: int, rate: int, *, output: bool) -> bool:
    sounddevice = library()
    check = sounddevice.check_output_settings if output else sounddevice.check_input_settings
    try:
        check(device=index, channels=channels, dtype="int16", samplerate=rate)
    except (sounddevice.PortAudioError, ValueError):
        return False
    return True


def play_once(loudspeaker: int | str | None, samples: Samples) -> None:
    """Play ``samples`` on one device and wait: for choosing a loudspeaker by ear.

    Raises:
        CallerError: As `find_device`.
        DeviceError: The device cannot be opened, or hangs.
    """
    sink = find_device(loudspeaker, output=True)
    sounddevice = library()
    usual = round(sounddevice.query_devices(sink.index)["default_samplerate"])
    rate = SAMPLE_RATE if _opens(sink.index, 1, SAMPLE_RATE, output=True) else usual
    sound = to_int16(resample(samples, SAMPLE_RATE, rate))

    def play() -> bool:
        with sounddevice.OutputStream(
            samplerate=rate, device=sink.index, channels=1, dtype="int16", latency=_LATENCY_S
        ) as stream:
            stream.write(sound[:, None])
        return True

    done, error = within(len(samples) / SAMPLE_RATE + 5.0, play)
    if not done:
        reason = str(error) if error is not None else "it does not answer"
        raise DeviceError(
            f"The loudspeaker {sink.name!r} cannot be played on ({reason}); choose another."
        )
