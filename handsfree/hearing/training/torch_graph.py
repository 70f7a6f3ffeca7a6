"""Runs an ONNX graph in PyTorch, so that a graphics processor can speak with the natural voices.

onnxruntime's wheel of the index knows processors only, and on one of them a clip takes half a
second or more. What the operators do is in ``torch_operators.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.training.torch_operators import Operators

__all__ = ["TorchGraph"]


@dataclass(frozen=True, kw_only=True)
class _Step:
    does: Callable[..., Any]
    sources: tuple[str, ...]
    targets: tuple[str, ...]
    options: Mapping[str, Any]
    spent: list[str] = field(default_factory=list)
    """Values that no later step needs."""


class TorchGraph:
    """A graph, its weights on a device.

    Args:
        torch: The module.
        model: The bytes of an ONNX file.
        device: As PyTorch names it.

    Raises:
        EngineError: The package onnx is missing, or the graph has an operator that isn't known.
    """

    def __init__(self, torch: Any, model: bytes, device: str) -> None:
        try:
            import onnx
        except ImportError as missing:
            msg = f"The package onnx is not installed here ({missing}). Run: pip install onnx"
            raise EngineError(msg) from None
        graph = onnx.load_from_string(model).graph
        to_array = onnx.numpy_helper.to_array
        self._torch = torch
        self._operators = Operators(torch, device)
        self._output = graph.output[0].name
        self._weights: dict[str, Any] = {"": None}  # an input left out has no name
        for one in graph.initializer:
            self._weights[one.name] = self._operators.tensor(to_array(one))
        self._steps: list[_Step] = []
        last: dict[str, _Step] = {}
        unknown: set[str] = set()
        for node in graph.node:
            does = self._operators.named(node.op_type)
            if does is None:
                unknown.add(node.op_type)
                continue
            options = {one.name: onnx.helper.get_attribute_value(one) for one in node.attribute}
            if "value" in options:
                options["value"] = to_array(options["value"])
            step = _Step(
                does=does, sources=tuple(node.input), targets=tuple(node.output), options=options
            )
            self._steps.append(step)
            last.update(dict.fromkeys(node.input, step))
        if unknown:
            msg = f"The network has operators not known here: {', '.join(sorted(unknown))}."
            raise EngineError(msg)
        for name, step in last.items():
            if name not in self._weights and name != self._output:
                step.spent.append(name)

    def __call__(self, inputs: Mapping[str, NDArray[Any]]) -> NDArray[np.float32]:
        """Return the first output for inputs by their names."""
        values = dict(self._weights)
        values.update((name, self._operators.tensor(value)) for name, value in inputs.items())
        with self._torch.inference_mode():
            for step in self._steps:
                found = step.does(*map(values.__getitem__, step.sources), **step.options)
                found = found if isinstance(found, tuple) else (found,)
                values.update(zip(step.targets, found, strict=False))
                for name in step.spent:
                    values.pop(name, None)
        result: NDArray[np.float32] = values[self._output].float().cpu().numpy()
        return result
