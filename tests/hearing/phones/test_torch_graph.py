"""ONNX graphs in PyTorch, against the ONNX project's own reference evaluator.

PyTorch and onnx come with the extra ``train`` alone: without them these tests are left out, and say
so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest

from handsfree.errors import EngineError
from handsfree.hearing.training.torch_graph import TorchGraph

torch: Any = pytest.importorskip("torch", reason="PyTorch comes with the extra 'train' alone")
onnx: Any = pytest.importorskip("onnx", reason="onnx comes with the extra 'train' alone")
reference: Any = pytest.importorskip("onnx.reference", reason="it comes with onnx")

_RNG = np.random.default_rng(7)
_X = _RNG.normal(0, 1, (2, 6, 40)).astype(np.float32)
_WHOLE = np.array([5, -3, 2, 9], np.int64)


def _node(operator: str, inputs: Sequence[str], **options: Any) -> Any:
    return onnx.helper.make_node(operator, inputs, ["y"], **options)


def _model(nodes: Sequence[Any], weights: Mapping[str, Any], inputs: Sequence[str]) -> Any:
    graph = onnx.helper.make_graph(
        nodes,
        "g",
        [onnx.helper.make_tensor_value_info(name, 1, None) for name in inputs],
        [onnx.helper.make_tensor_value_info("y", 1, None)],
        [onnx.numpy_helper.from_array(np.asarray(v), k) for k, v in weights.items()],
    )
    return onnx.helper.make_model(graph, opset_imports=[onnx.helper.make_opsetid("", 20)])


def _ours(model: Any, feeds: Mapping[str, Any]) -> Any:
    return TorchGraph(torch, model.SerializeToString(), "cpu")(feeds)


_CASES: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    ("Add", "x b", {"b": _X[:, :1]}, {}),
    ("Div", "x b", {"b": np.float32(3)}, {}),
    ("Pow", "x b", {"b": np.float32(2)}, {}),
    ("Atan", "x", {}, {}),
    ("LeakyRelu", "x", {}, {"alpha": 0.2}),
    ("Softmax", "x", {}, {"axis": -1}),
    ("Clip", "x a b", {"a": np.float32(-0.5), "b": np.float32(0.3)}, {}),
    ("Gather", "x i", {"i": np.array([[3, -1], [0, 2]])}, {"axis": 1}),
    ("Transpose", "x", {}, {"perm": [2, 0, 1]}),
    ("Unsqueeze", "x a", {"a": np.array([0, 3])}, {}),
    ("Concat", "x b", {"b": _X[:, :2]}, {"axis": 1}),
    ("Slice", "x a b c d", dict(zip("abcd", ([1], [-2], [2], [3]), strict=True)), {}),
    ("Slice", "x a b c d", dict(zip("abcd", ([-1], [-(2**63)], [2], [-1]), strict=True)), {}),
    ("Reshape", "x s", {"s": np.array([0, 3, -1])}, {}),
    ("Expand", "b s", {"b": _X[:, :1], "s": np.array([2, 4, 1])}, {}),
    ("ReduceMean", "x a", {"a": np.array([2])}, {"keepdims": 1}),
    ("ReduceSum", "x a", {"a": np.array([-1])}, {"keepdims": 0}),
    ("CumSum", "x a", {"a": np.int64(2)}, {}),
    ("LayerNormalization", "x b c", {"b": _X[0, 0], "c": _X[0, 1]}, {"axis": -1}),
    (
        "Pad",
        "x a",
        {"a": np.array([0, 0, 3, 0, 0, 2])},
        {"mode": "reflect"},
    ),
    (
        "Conv",
        "x w b",
        {"w": _RNG.normal(0, 1, (4, 3, 5)).astype(np.float32), "b": _X[0, 0, :4]},
        {"pads": [4, 2], "strides": [2], "dilations": [1], "group": 2, "kernel_shape": [5]},
    ),
    (
        "ConvTranspose",
        "x w",
        {"w": _RNG.normal(0, 1, (6, 1, 3)).astype(np.float32)},
        {
            "pads": [1, 1],
            "strides": [2],
            "dilations": [1],
            "group": 6,
            "output_padding": [1],
            "kernel_shape": [3],
        },
    ),
    (
        "Resize",
        "x  s",
        {"s": np.array([1, 1, 2.5], np.float32)},
        {
            "mode": "nearest",
            "coordinate_transformation_mode": "asymmetric",
            "nearest_mode": "floor",
        },
    ),
    (
        "Resize",
        "x  s",
        {"s": np.array([1, 1, 4], np.float32)},
        {"mode": "linear", "coordinate_transformation_mode": "half_pixel"},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("operator", "inputs", "weights", "options"), _CASES)
def test_an_operator_does_what_the_reference_does(
    operator: str, inputs: str, weights: dict[str, Any], options: dict[str, Any]
) -> None:
    """Within rounding of onnx.reference.ReferenceEvaluator."""
    weights = {k: np.asarray(v) for k, v in weights.items()}
    names = inputs.split(" ")
    model = _model([_node(operator, names, **options)], weights, ["x"])
    feeds = {"x": _X}
    wanted = reference.ReferenceEvaluator(model).run(None, feeds)[0]
    found = _ours(model, feeds)
    assert found.shape == wanted.shape
    assert np.allclose(found, wanted, atol=1e-4)


def test_whole_numbers_are_divided_towards_nought() -> None:
    """As the specification of Div says."""
    model = _model([_node("Div", ["a", "b"])], {"a": _WHOLE, "b": np.int64(2)}, [])
    assert _ours(model, {}).tolist() == [2, -1, 1, 4]


def test_sums_in_eight_bits_become_plain_sums() -> None:
    """A matrix in 8 bits, 0.1 (w - 3), times x: within what 8 bits of x could tell at best."""
    weights = _RNG.integers(-90, 90, (40, 5)).astype(np.int8)
    nodes = [
        onnx.helper.make_node("DynamicQuantizeLinear", ["x"], ["q", "s", "z"]),
        onnx.helper.make_node("MatMulInteger", ["q", "w", "z", "n"], ["p"]),
        onnx.helper.make_node("Cast", ["p"], ["f"], to=1),
        onnx.helper.make_node("Mul", ["f", "s"], ["g"]),
        onnx.helper.make_node("Mul", ["g", "k"], ["y"]),
    ]
    scales = {"w": weights, "n": np.int8(3), "k": np.float32(0.1)}
    model = _model(nodes, scales, ["x"])
    found = _ours(model, {"x": _X})
    exact = _X @ (0.1 * (weights.astype(np.float32) - 3))
    assert np.allclose(found, exact, rtol=1e-4, atol=1e-3)
    rounded = reference.ReferenceEvaluator(model).run(None, {"x": _X})[0]
    assert np.corrcoef(found.ravel(), rounded.ravel())[0, 1] > 0.999


def test_a_recurrent_layer_in_eight_bits_is_the_reference_s_in_floats() -> None:
    """Gates in ONNX's order, both ways; the float operator LSTM of the specification beside it."""
    size, hidden, steps = 6, 4, 9
    w = _RNG.integers(-100, 100, (2, size, 4 * hidden)).astype(np.int8)
    r = _RNG.integers(-100, 100, (2, hidden, 4 * hidden)).astype(np.int8)
    b = _RNG.normal(0, 0.3, (2, 8 * hidden)).astype(np.float32)
    scale, none = np.array([0.006, 0.004], np.float32), np.array([2, -1], np.int8)
    start = np.zeros((2, 1, hidden), np.float32)
    x = _RNG.normal(0, 1, (steps, 1, size)).astype(np.float32)
    way = {"direction": "bidirectional", "hidden_size": hidden}
    names = ["x", "w", "r", "b", "", "h", "c", "", "ws", "wz", "rs", "rz"]
    node = onnx.helper.make_node("DynamicQuantizeLSTM", names, ["y"], domain="com.microsoft", **way)
    eight = {"w": w, "r": r, "b": b, "h": start, "c": start}
    eight |= {"ws": scale, "wz": none, "rs": scale, "rz": none}
    found = TorchGraph(torch, _model([node], eight, ["x"]).SerializeToString(), "cpu")({"x": x})

    def plain(weights: Any) -> Any:
        return ((weights - none[:, None, None]) * scale[:, None, None]).transpose(0, 2, 1)

    floats = {"w": plain(w), "r": plain(r), "b": b, "h": start, "c": start}
    model = _model(
        [_node("LSTM", ["x", "w", "r", "b", "", "h", "c"], **way)],
        {k: v.astype(np.float32) for k, v in floats.items()},
        ["x"],
    )
    wanted = reference.ReferenceEvaluator(model).run(None, {"x": x})[0]
    assert found.shape == wanted.shape == (steps, 2, 1, hidden)
    assert np.allclose(found, wanted, atol=1e-4)


def test_silence_has_no_angle_but_a_spectrum() -> None:
    """A sine's short-time spectrum is NumPy's; silence has a tiny real part instead of noughts."""
    sine = np.sin(2 * np.pi * 0.1 * np.arange(60)).astype(np.float32)
    sound = np.concatenate([np.zeros(40, np.float32), sine])[None, :, None]
    window = np.hanning(20).astype(np.float32)
    node = _node("STFT", ["x", "s", "w", "n"], onesided=1)
    weights = {"s": np.int64(5), "w": window, "n": np.int64(20)}
    found = _ours(_model([node], weights, ["x"]), {"x": sound})
    assert found.shape == (1, 17, 11, 2)
    assert (found[0, :5, :, 0] > 0).all()
    assert not found[0, :5, :, 1].any()
    wanted = np.fft.rfft(sound[0, 50:70, 0] * window)
    assert np.allclose(found[0, 10] @ [1, 1j], wanted, atol=1e-4)


def test_what_is_not_known_is_named() -> None:
    """Not at the first clip but when the graph is read."""
    with pytest.raises(EngineError, match="Hardmax"):
        _ours(_model([_node("Hardmax", ["x"])], {}, ["x"]), {"x": _X})
