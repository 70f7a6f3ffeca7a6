"""The ear's embedding network in PyTorch, with the weights of the file that the program runs.

A chain of convolutions, in turn along the bands and along time, with leaky rectifiers cut off at a
small negative number, and pooling between (Lin and others, 2020, arXiv 2002.01322). So embeddings
are made for many sounds at once where a head is trained, and nothing is written down twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.ear.embedding import EMBEDDING_SIZE, MEL_BANDS
from handsfree.hearing.ear.tflite import network_file

__all__ = ["embedding_network", "embeddings", "tuned_file"]

_FLOAT32 = 0
_DATA = 4
"""Where a buffer's table tells of its bytes, by the schema of TensorFlow Lite."""


def embedding_network(torch: Any, file: Path | None = None) -> Any:
    """Return the network as a module of PyTorch: (batch, 1, frames, 32) to (batch, 96, windows, 1).

    Args:
        torch: The module.
        file: One that ``tuned_file`` has made; else the package's.

    Raises:
        EarUnavailable: The network's file is not on this machine.
        EngineError: The package tflite, which reads it, is missing, or the network has an operator
            that is not known here.
    """
    model, graph, steps = _read(file)
    layers: list[Any] = []
    for name, step in steps:
        values = [_constant(model, graph.Tensors(k)) for k in step.InputsAsNumpy()]
        if name == "PAD":
            (_, _), time, bands, _ = values[1].tolist()
            layers.append(torch.nn.ZeroPad2d((*bands, *time)))
        elif name == "CONV_2D":
            layers.append(_convolution(torch, values[1], values[2], first=len(layers) < 2))
        elif name == "LEAKY_RELU":
            layers.append(torch.nn.LeakyReLU(_slope(step)))
        elif name == "MAXIMUM":
            layers.append(torch.nn.Threshold(float(values[1]), float(values[1])))
        elif name == "MAX_POOL_2D":
            before, after = (
                graph.Tensors(k).ShapeAsNumpy()
                for k in (step.InputsAsNumpy()[0], step.OutputsAsNumpy()[0])
            )
            size = (int(before[1] // after[1]), int(before[2] // after[2]))
            layers.append(torch.nn.MaxPool2d(size, size))
        else:
            msg = f"The ear's network has an operator not known here: {name}."
            raise EngineError(msg)
    return torch.nn.Sequential(*layers)


def _read(file: Path | None = None) -> tuple[Any, Any, list[tuple[str, Any]]]:
    """Return the file's model, its graph, and its steps with the names of their operators."""
    try:
        import tflite
    except ImportError as missing:
        msg = f"The package tflite is not installed here ({missing}). Run: pip install tflite"
        raise EngineError(msg) from None
    content = (file or network_file("embedding_model")).read_bytes()
    model = tflite.Model.GetRootAsModel(content, 0)
    graph = model.Subgraphs(0)
    steps: list[tuple[str, Any]] = []
    for number in range(graph.OperatorsLength()):
        step = graph.Operators(number)
        code = model.OperatorCodes(step.OpcodeIndex())
        operator = max(code.BuiltinCode(), code.DeprecatedBuiltinCode())
        steps.append((tflite.opcode2name(operator), step))
    return model, graph, steps


def _slope(step: Any) -> float:
    """Return how steep a leaky rectifier is below nought."""
    import tflite

    table, options = step.BuiltinOptions(), tflite.LeakyReluOptions()
    options.Init(table.Bytes, table.Pos)
    return float(options.Alpha())


def _constant(model: Any, tensor: Any) -> NDArray[Any]:
    """Return a tensor's stored numbers; empty for what is computed."""
    stored = model.Buffers(tensor.Buffer()).DataAsNumpy()
    if isinstance(stored, int):  # nothing is stored
        return np.empty(0, np.float32)
    kind = np.float32 if tensor.Type() == _FLOAT32 else np.int32
    shape = tensor.ShapeAsNumpy()
    numbers: NDArray[Any] = np.asarray(stored).view(kind)
    return numbers.reshape(() if isinstance(shape, int) else shape)


def _convolution(
    torch: Any, weights: NDArray[np.float32], bias: NDArray[np.float32], *, first: bool
) -> Any:
    """Along the bands nothing gets lost, along time nothing is made up."""
    outputs, high, wide, inputs = weights.shape
    along_bands = wide // 2 if not first else 0  # the first one's edges are padded before it
    layer = torch.nn.Conv2d(inputs, outputs, (high, wide), padding=(0, along_bands))
    with torch.no_grad():
        layer.weight.copy_(torch.from_numpy(weights.transpose(0, 3, 1, 2).copy()))
        layer.bias.copy_(torch.from_numpy(bias.copy()))
    return layer


def embeddings(network: Any, frames: Any) -> Any:
    """Return embeddings of mel frames, as ``ear.embedding.Embedder.embed`` makes them.

    Args:
        network: As ``embedding_network`` gives it.
        frames: In dB, shape (batch, n, 32).

    Returns:
        Shape (batch, windows, 96), one window each 8 frames.
    """
    assert frames.shape[2] == MEL_BANDS
    found = network((frames / 10.0 + 2.0)[:, None])
    return found[..., 0].transpose(1, 2).reshape(len(frames), -1, EMBEDDING_SIZE)


def tuned_file(weights: Mapping[str, NDArray[np.float32]]) -> bytes:
    """Return the network's file with other weights in it, and nothing else changed.

    Args:
        weights: As the ``state_dict`` of ``embedding_network`` has them, in NumPy.

    Raises:
        EngineError: They are of another shape, or the package tflite is missing.
    """
    model, graph, steps = _read()
    content = bytearray(network_file("embedding_model").read_bytes())
    layers = sorted({int(name.partition(".")[0]) for name in weights})
    convolutions = [step for name, step in steps if name == "CONV_2D"]
    if len(layers) != len(convolutions):
        msg = f"Weights of {len(layers)} layers are given for a network of {len(convolutions)}."
        raise EngineError(msg)
    for layer, step in zip(layers, convolutions, strict=True):
        _, kernel, bias = (graph.Tensors(k) for k in step.InputsAsNumpy())
        pairs = (
            (kernel, weights[f"{layer}.weight"].transpose(0, 2, 3, 1)),
            (bias, weights[f"{layer}.bias"]),
        )
        for tensor, values in pairs:
            table = model.Buffers(tensor.Buffer())
            stored = np.ascontiguousarray(values, np.float32).tobytes()
            if len(stored) != table.DataLength():
                msg = f"The weights of layer {layer} are of another shape than the network's."
                raise EngineError(msg)
            begin = table._tab.Vector(table._tab.Offset(_DATA))
            content[begin : begin + len(stored)] = stored
    return bytes(content)
