"""The two feature networks, run by the TensorFlow Lite library that lies beside them.

Both come from the package pyopen-wakeword: ``melspectrogram.tflite`` and ``embedding_model.tflite``
(Google's speech_embedding, arXiv 2002.01322, Apache-2.0). Its wake-word networks carry another
licence and are never opened here. The package itself is not imported: only its files are used.
"""

from __future__ import annotations

import ctypes
import importlib.util
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError

__all__ = ["EarUnavailable", "Network", "available", "network_file"]

_PACKAGE = "pyopen_wakeword"
_OK = 0


class EarUnavailable(EngineError):  # noqa: N818 - a state that is told, not only a fault
    """The second ear cannot work on this machine; hearing goes on without it and asks back more."""


def _home() -> Path:
    spec = importlib.util.find_spec(_PACKAGE)
    if spec is None or not spec.submodule_search_locations:
        raise EarUnavailable(
            "The second ear is missing: the package pyopen-wakeword is not installed here. "
            "The check runs without it and asks back more often; "
            "to have it, run: pip install pyopen-wakeword"
        )
    return Path(next(iter(spec.submodule_search_locations)))


def available() -> bool:
    """Whether the feature networks and their library are on this machine and load."""
    try:
        _library()
    except EarUnavailable:
        return False
    return all(network_file(name).is_file() for name in NETWORKS)


NETWORKS = ("melspectrogram", "embedding_model")


def network_file(name: str) -> Path:
    """Return where the network of this name lies.

    Raises:
        EarUnavailable: The package is missing.
    """
    return _home() / "models" / f"{name}.tflite"


@cache
def _library() -> Any:
    home = _home()
    path = next(iter(sorted((home / "lib").glob("*tensorflowlite_c.*"))), None)
    if path is None:
        raise EarUnavailable(
            f"The second ear is missing: no TensorFlow Lite library in {home / 'lib'}. "
            "Install pyopen-wakeword again; until then the check asks back more often."
        )
    try:
        lib = ctypes.CDLL(str(path))
    except OSError as error:
        raise EarUnavailable(
            f"The second ear does not work here: {path.name} does not load ({error}). "
            "The check runs without it and asks back more often."
        ) from error
    pointer, i32, size = ctypes.c_void_p, ctypes.c_int32, ctypes.c_size_t
    signatures: dict[str, tuple[Any, list[Any]]] = {
        "ModelCreateFromFile": (pointer, [ctypes.c_char_p]),
        "InterpreterOptionsCreate": (pointer, []),
        "InterpreterOptionsSetNumThreads": (None, [pointer, i32]),
        "InterpreterCreate": (pointer, [pointer, pointer]),
        "InterpreterAllocateTensors": (ctypes.c_int, [pointer]),
        "InterpreterInvoke": (ctypes.c_int, [pointer]),
        "InterpreterResizeInputTensor": (
            ctypes.c_int,
            [pointer, i32, ctypes.POINTER(i32), i32],
        ),
        "InterpreterGetInputTensor": (pointer, [pointer, i32]),
        "InterpreterGetOutputTensor": (pointer, [pointer, i32]),
        "TensorByteSize": (size, [pointer]),
        "TensorCopyFromBuffer": (ctypes.c_int, [pointer, pointer, size]),
        "TensorCopyToBuffer": (ctypes.c_int, [pointer, pointer, size]),
        "InterpreterDelete": (None, [pointer]),
        "InterpreterOptionsDelete": (None, [pointer]),
        "ModelDelete": (None, [pointer]),
    }
    for name, (result, arguments) in signatures.items():
        try:
            function = getattr(lib, f"TfLite{name}")
        except AttributeError as error:
            raise EarUnavailable(
                f"The second ear does not work here: {path.name} has no TfLite{name}. "
                "Install the version of pyopen-wakeword that pyproject.toml names."
            ) from error
        function.restype, function.argtypes = result, arguments
    return lib


class Network:
    """One network at one input shape; calls are not safe from two threads at once.

    Args:
        path: Its file.
        shape: Shape of the input, float32.

    Raises:
        EarUnavailable: The package, library or network is missing or refuses the shape.
    """

    def __init__(self, path: Path, shape: tuple[int, ...]) -> None:
        self._lib = _library()
        self._model = self._interpreter = None
        self._model = self._lib.TfLiteModelCreateFromFile(str(path).encode())
        if not self._model:
            raise EarUnavailable(
                f"The second ear is missing: {path} cannot be read. Install pyopen-wakeword again."
            )
        options = self._lib.TfLiteInterpreterOptionsCreate()
        self._lib.TfLiteInterpreterOptionsSetNumThreads(options, 1)
        self._interpreter = self._lib.TfLiteInterpreterCreate(self._model, options)
        self._lib.TfLiteInterpreterOptionsDelete(options)
        dims = (ctypes.c_int32 * len(shape))(*shape)
        self.shape = shape
        if (
            not self._interpreter
            or self._lib.TfLiteInterpreterResizeInputTensor(self._interpreter, 0, dims, len(shape))
            != _OK
            or self._lib.TfLiteInterpreterAllocateTensors(self._interpreter) != _OK
        ):
            raise EarUnavailable(
                f"The second ear does not work here: {path.name} refuses input of shape {shape}. "
                "Install the version of pyopen-wakeword that pyproject.toml names."
            )
        self._input = self._lib.TfLiteInterpreterGetInputTensor(self._interpreter, 0)
        self._output = self._lib.TfLiteInterpreterGetOutputTensor(self._interpreter, 0)

    def __call__(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Run once; the output comes flat."""
        data = np.ascontiguousarray(values, np.float32)
        if data.shape != self.shape:
            msg = f"input of shape {data.shape} where the network was made for {self.shape}"
            raise ValueError(msg)
        lib = self._lib
        lib.TfLiteTensorCopyFromBuffer(self._input, data.ctypes.data, data.nbytes)
        if lib.TfLiteInterpreterInvoke(self._interpreter) != _OK:
            raise EarUnavailable(
                "The second ear stopped: its network failed while running. "
                "The check goes on without it and asks back more often."
            )
        out = np.empty(lib.TfLiteTensorByteSize(self._output) // 4, np.float32)
        lib.TfLiteTensorCopyToBuffer(self._output, out.ctypes.data, out.nbytes)
        return out

    def __del__(self) -> None:
        if getattr(self, "_interpreter", None):
            self._lib.TfLiteInterpreterDelete(self._interpreter)
        if getattr(self, "_model", None):
            self._lib.TfLiteModelDelete(self._model)
