"""Operators of ONNX in PyTorch, as far as the natural voices' network has them.

After the ONNX operator specification and, for those of the domain com.microsoft, onnxruntime's
"contrib operators"; of each the options that this network uses. Weights kept in 8 bits are brought
to float32, and what only serves sums in 8 bits is left out: the sound is not onnxruntime's to the
bit, but freer of rounding.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError

__all__ = ["Operators"]

_DTYPES = {1: "float32", 6: "int64", 7: "int64", 9: "bool", 10: "float32", 11: "float32"}
_TO_THE_END = 2**31 - 1
_TINY = 1e-12

_METHODS = {
    "Add": "add",
    "And": "logical_and",
    "Atan": "atan",
    "Cos": "cos",
    "Equal": "eq",
    "Exp": "exp",
    "Floor": "floor",
    "Greater": "gt",
    "GreaterOrEqual": "ge",
    "Less": "lt",
    "MatMul": "matmul",
    "Mul": "mul",
    "Pow": "pow",
    "Round": "round",
    "Sigmoid": "sigmoid",
    "Sin": "sin",
    "Sqrt": "sqrt",
    "Sub": "sub",
    "Tanh": "tanh",
    "Where": "where",
}
"""Operators without options that PyTorch has by another name."""


class Operators:
    """What each operator does to tensors.

    Args:
        torch: The module.
        device: As PyTorch names it. Whole numbers stay on the processor: they are mostly shapes.
    """

    def __init__(self, torch: Any, device: str) -> None:
        self._torch, self._device = torch, device
        self._one, self._nought = (make((), device=device) for make in (torch.ones, torch.zeros))
        self._angle_0 = torch.tensor([_TINY, 0.0], device=device)
        self._layers: dict[int, Any] = {}

    def named(self, operator: str) -> Callable[..., Any] | None:
        """Return what does the operator of ONNX of this name; None where it isn't known."""
        if operator in _METHODS:
            does = getattr(self._torch, _METHODS[operator])
            return lambda *tensors: does(*self._together(*tensors))
        name = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", operator).lower()
        found: Callable[..., Any] | None = getattr(self, f"_{name}", None)
        return found

    def tensor(self, array: NDArray[Any]) -> Any:
        """Return an array as the operators take it; weights of 8 bits as float32."""
        found = self._torch.from_numpy(np.array(array))
        if array.dtype.kind == "b":
            return found
        if array.dtype.kind == "f" or array.dtype.itemsize == 1:
            return found.float().to(self._device)
        return found.long()

    def _together(self, *tensors: Any) -> tuple[Any, ...]:
        if all(one.device == tensors[0].device for one in tensors):
            return tensors
        return tuple(one.to(self._device) for one in tensors)

    # Arithmetic, element by element.

    def _div(self, a: Any, b: Any) -> Any:
        a, b = self._together(a, b)
        if a.dtype.is_floating_point:
            return a / b
        return self._torch.div(a, b, rounding_mode="trunc")

    def _clip(self, x: Any, least: Any = None, most: Any = None) -> Any:
        return x.clamp(
            None if least is None else least.item(), None if most is None else most.item()
        )

    def _cast(self, x: Any, to: int, **_: Any) -> Any:
        found = x.to(getattr(self._torch, _DTYPES[to]))
        return found.to(self._device) if found.dtype.is_floating_point else found

    def _leaky_relu(self, x: Any, alpha: float) -> Any:
        return self._torch.nn.functional.leaky_relu(x, alpha)

    def _fast_gelu(self, x: Any, bias: Any = None) -> Any:
        x = x if bias is None else x + bias
        return self._torch.nn.functional.gelu(x, approximate="tanh")

    def _softmax(self, x: Any, axis: int) -> Any:
        return x.softmax(axis)

    # Shapes.

    def _shape(self, x: Any, start: int = 0, end: int | None = None) -> Any:
        return self._torch.tensor(x.shape[start:end])

    def _gather(self, x: Any, index: Any, axis: int = 0) -> Any:
        index = index.to(x.device)
        index = self._torch.where(index < 0, index + x.shape[axis], index)
        found = x.index_select(axis, index.reshape(-1))
        return found.reshape((*x.shape[:axis], *index.shape, *x.shape[axis + 1 :]))

    def _split(self, x: Any, sizes: Any, axis: int = 0) -> Any:
        return x.split(sizes.tolist(), axis)

    def _unsqueeze(self, x: Any, axes: Any) -> Any:
        rank = x.dim() + axes.numel()
        for axis in sorted(a % rank for a in axes.reshape(-1).tolist()):
            x = x.unsqueeze(axis)
        return x

    def _squeeze(self, x: Any, axes: Any) -> Any:
        return x.squeeze(tuple(axes.tolist()))

    def _transpose(self, x: Any, perm: list[int]) -> Any:
        return x.permute(perm)

    def _concat(self, *parts: Any, axis: int) -> Any:
        return self._torch.cat(self._together(*parts), axis)

    def _slice(self, x: Any, begins: Any, ends: Any, axes: Any = None, steps: Any = None) -> Any:
        axes = self._torch.arange(len(begins)) if axes is None else axes
        steps = self._torch.ones_like(begins) if steps is None else steps
        for begin, end, axis, step in zip(
            *(one.tolist() for one in (begins, ends, axes, steps)), strict=True
        ):
            places = range(x.shape[axis])[
                slice(begin, None if abs(end) >= _TO_THE_END else end, step)
            ]
            if step == 1:
                x = x.narrow(axis, places.start, len(places))
            else:
                x = x.index_select(axis, self._torch.tensor(list(places), device=x.device))
        return x

    def _constant_of_shape(self, shape: Any, value: NDArray[Any]) -> Any:
        filled = self._torch.full(tuple(shape.tolist()), value.item())
        return filled.to(self._device) if filled.dtype.is_floating_point else filled

    def _expand(self, x: Any, shape: Any) -> Any:
        return x.expand(self._torch.broadcast_shapes(x.shape, tuple(shape.tolist())))

    def _reshape(self, x: Any, shape: Any, allowzero: int = 0) -> Any:
        wanted = [
            x.shape[n] if size == 0 and not allowzero else size
            for n, size in enumerate(shape.tolist())
        ]
        return x.reshape(wanted)

    def _range(self, begin: Any, end: Any, step: Any) -> Any:
        found = self._torch.arange(begin.item(), end.item(), step.item())
        return found.to(self._device) if found.dtype.is_floating_point else found

    def _non_zero(self, x: Any) -> Any:
        return x.nonzero().T

    def _scatter_nd(self, x: Any, indices: Any, updates: Any, reduction: bytes = b"none") -> Any:
        del reduction  # none
        x, indices, updates = self._together(x, indices, updates)
        x = x.clone()
        x[tuple(indices.unbind(-1))] = updates
        return x

    def _pad(self, x: Any, pads: Any, mode: bytes) -> Any:
        rank = x.dim()
        sizes = pads.tolist()
        flat: list[int] = []
        for axis in reversed(range(rank)):
            flat += [sizes[axis], sizes[axis + rank]]
        while len(flat) > 2 and flat[-2:] == [0, 0]:
            flat = flat[:-2]
        added = rank == 1
        x = x[None] if added else x
        x = self._torch.nn.functional.pad(x, flat, mode=mode.decode())
        return x[0] if added else x

    def _resize(self, x: Any, roi: Any, scales: Any, **options: Any) -> Any:
        del roi
        if options["mode"] == b"nearest":
            for axis, scale in enumerate(scales.tolist()):
                if scale != 1:
                    size = int(x.shape[axis] * scale)
                    place = (self._torch.arange(size, device=x.device) / scale).long()
                    x = x.index_select(axis, place.clamp(max=x.shape[axis] - 1))
            return x
        half = options["coordinate_transformation_mode"] == b"half_pixel"
        if options["mode"] != b"linear" or not half or x.dim() != 3:
            msg = f"The network resizes in a way that is not known here: {options}."
            raise EngineError(msg)
        return self._torch.nn.functional.interpolate(
            x,
            scale_factor=scales.tolist()[-1],
            mode="linear",
            align_corners=False,
            recompute_scale_factor=False,
        )

    # Sums.

    def _reduce_sum(self, x: Any, axes: Any, keepdims: int = 1, **_: Any) -> Any:
        return x.sum(tuple(axes.tolist()), keepdim=bool(keepdims))

    def _reduce_mean(self, x: Any, axes: Any, keepdims: int = 1, **_: Any) -> Any:
        return x.mean(tuple(axes.tolist()), keepdim=bool(keepdims))

    def _cum_sum(self, x: Any, axis: Any, **_: Any) -> Any:
        return x.cumsum(int(axis.item()))

    def _fused_mat_mul(self, a: Any, b: Any, **options: Any) -> Any:
        a = a.transpose(-1, -2) if options["transA"] else a
        b = b.transpose(-1, -2) if options["transB"] else b
        return a @ b * options["alpha"]

    def _layer_normalization(
        self, x: Any, weight: Any, bias: Any, axis: int, epsilon: float = 1e-5, **_: Any
    ) -> Any:
        return self._torch.nn.functional.layer_norm(x, x.shape[axis:], weight, bias, epsilon)

    def _skip_layer_normalization(
        self, x: Any, skip: Any, weight: Any, bias: Any, epsilon: float
    ) -> Any:
        return self._torch.nn.functional.layer_norm(x + skip, x.shape[-1:], weight, bias, epsilon)

    # Eight bits, undone.

    def _dynamic_quantize_linear(self, x: Any) -> Any:
        return x, self._one, self._nought

    def _dequantize_linear(self, x: Any, scale: Any, nought: Any) -> Any:
        return (x - nought) * scale

    def _plain(self, weight: Any, nought: Any) -> Any:
        if nought.numel() == 1:
            return weight - nought
        return weight - nought.reshape(-1, *([1] * (weight.dim() - 1)))

    def _mat_mul_integer(self, a: Any, b: Any, a_nought: Any, b_nought: Any) -> Any:
        del a_nought
        return a @ (b - b_nought)

    def _conv_integer(self, x: Any, weight: Any, x_nought: Any, nought: Any, **options: Any) -> Any:
        del x_nought
        return self._conv(x, self._plain(weight, nought), None, **options)

    def _conv(self, x: Any, weight: Any, bias: Any = None, **options: Any) -> Any:
        pads = options["pads"]
        rank = len(pads) // 2
        if pads[:rank] != pads[rank:]:
            flat = [p for axis in reversed(range(rank)) for p in (pads[axis], pads[axis + rank])]
            x, pads = self._torch.nn.functional.pad(x, flat), [0] * rank
        does = (self._torch.nn.functional.conv1d, self._torch.nn.functional.conv2d)[rank - 1]
        return does(
            x,
            weight,
            bias,
            stride=options["strides"],
            padding=pads[:rank],
            dilation=options["dilations"],
            groups=options["group"],
        )

    def _conv_transpose(self, x: Any, weight: Any, bias: Any = None, **options: Any) -> Any:
        return self._torch.nn.functional.conv_transpose1d(
            x,
            weight,
            bias,
            stride=options["strides"],
            padding=options["pads"][:1],
            output_padding=options.get("output_padding", [0]),
            groups=options["group"],
            dilation=options["dilations"],
        )

    def _dynamic_quantize_lstm(
        self,
        x: Any,
        w: Any,
        r: Any,
        b: Any,
        lengths: Any,
        h: Any,
        c: Any,
        peepholes: Any,
        w_scale: Any,
        w_nought: Any,
        r_scale: Any,
        r_nought: Any,
        **options: Any,
    ) -> Any:
        del lengths, peepholes
        hidden = options["hidden_size"]
        ways = 2 if options["direction"] == b"bidirectional" else 1
        key = id(w)
        if key not in self._layers:
            layer = self._torch.nn.LSTM(x.shape[-1], hidden, bidirectional=ways == 2)
            layer = layer.to(self._device)
            order = self._torch.tensor([0, 2, 3, 1])  # input, output, forget, cell -> i, f, g, o

            def gates(matrix: Any) -> Any:
                return matrix.reshape(4, hidden, *matrix.shape[1:])[order].flatten(0, 1)

            def scaled(weight: Any, scale: Any, nought: Any, way: int) -> Any:
                matrix = weight[way]
                one, none = (part.reshape(ways, -1)[way] for part in (scale, nought))
                return gates(((matrix - none) * one).T)

            for way, ending in zip(range(ways), ("", "_reverse"), strict=False):
                for name, value in (
                    ("weight_ih_l0", scaled(w, w_scale, w_nought, way)),
                    ("weight_hh_l0", scaled(r, r_scale, r_nought, way)),
                    ("bias_ih_l0", gates(b[way][: 4 * hidden])),
                    ("bias_hh_l0", gates(b[way][4 * hidden :])),
                ):
                    getattr(layer, name + ending).data.copy_(value)
            layer.flatten_parameters()
            self._layers[key] = layer
        out, (last, cell) = self._layers[key](x, (h, c))
        steps, batch, _ = out.shape
        return out.reshape(steps, batch, ways, hidden).transpose(1, 2), last, cell

    def _stft(self, x: Any, step: Any, window: Any, length: Any, onesided: int) -> Any:
        del onesided
        frames = x.reshape(x.shape[0], -1).unfold(1, int(length.item()), int(step.item()))
        spectrum = self._torch.view_as_real(self._torch.fft.rfft(frames * window))
        # Silence has no angle; that of a tiny real part is nought.
        return self._torch.where(spectrum.any(-1, keepdim=True), spectrum, self._angle_0)
