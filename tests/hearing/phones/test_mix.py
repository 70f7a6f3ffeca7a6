"""Growing and mixing phone networks."""

from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import CallerError
from handsfree.hearing.phones import PhoneNetwork
from handsfree.hearing.training.phone_mix import grown, main, mixed
from handsfree.hearing.training.phone_model import Weights, read_weights, write_network

FRAMES = np.random.default_rng(1).uniform(25, 95, (61, 32)).astype(np.float32)


def _network(file: Path, seed: int, blocks: int = 2, channels: int = 12) -> Path:
    rng = np.random.default_rng(seed)

    def lot(*shape: int) -> np.ndarray:
        return rng.standard_normal(shape).astype(np.float32) * 0.2

    layers = [(lot(channels, 11), lot(channels, channels), lot(channels)) for _ in range(blocks)]
    whole = Weights(
        stem=(lot(channels, 32, 5), lot(channels)), blocks=layers, out=(lot(channels, 3), lot(3))
    )
    write_network(file, ("AA", "B"), whole)
    return file


def _answers(weights: Weights, file: Path) -> np.ndarray:
    write_network(file, ("AA", "B"), weights)
    return np.exp(PhoneNetwork(file)(FRAMES))


def test_a_grown_network_answers_nearly_as_before(tmp_path: Path) -> None:
    """New blocks lie among the old, which stay as they are."""
    before = read_weights(_network(tmp_path / "a.npz", 1, blocks=4))
    after = grown(before, 6)
    assert len(after.blocks) == 6
    kept = [b for b in after.blocks if any(np.array_equal(b[0], a[0]) for a in before.blocks)]
    assert len(kept) == 4
    old, new = (_answers(w, tmp_path / "b.npz") for w in (before, after))
    assert 0.0 < np.abs(new - old).max() < 0.1
    assert np.array_equal(after.blocks[1][1], grown(before, 6).blocks[1][1])  # seeded


@pytest.mark.parametrize("blocks", [3, 9])
def test_none_is_made_smaller_or_more_than_twice_as_deep(tmp_path: Path, blocks: int) -> None:
    """In one go, at least: growth is meant to be slight."""
    before = read_weights(_network(tmp_path / "a.npz", 1, blocks=4))
    with pytest.raises(CallerError, match="cannot be grown"):
        grown(before, blocks)


def test_the_mean_of_networks(tmp_path: Path) -> None:
    """By hand: three quarters of one weight and a quarter of the other."""
    one, two = (read_weights(_network(tmp_path / f"{seed}.npz", seed)) for seed in (1, 2))
    mean = mixed([(one, 0.75), (two, 0.25)])
    assert mean.blocks[1][1] == pytest.approx(0.75 * one.blocks[1][1] + 0.25 * two.blocks[1][1])
    assert mean.stem[0] == pytest.approx(0.75 * one.stem[0] + 0.25 * two.stem[0])
    assert mean.out[1] == pytest.approx(0.75 * one.out[1] + 0.25 * two.out[1])


def test_the_command_mixes_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The shallower is grown first; a network alone comes out as it went in."""
    one = _network(tmp_path / "1.npz", 1, blocks=2)
    two = _network(tmp_path / "2.npz", 2, blocks=3)
    out = tmp_path / "out.npz"
    assert main(["--out", str(out), f"{one}=0.5", f"{two}=0.5"]) == 0
    assert len(read_weights(out).blocks) == 3
    assert "2 networks, 3 blocks" in capsys.readouterr().out
    assert main(["--out", str(out), f"{one}=1"]) == 0
    assert np.array_equal(PhoneNetwork(out)(FRAMES), PhoneNetwork(one)(FRAMES))


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (["a.npz=0.5"], "make 0.5, not 1"),
        (["a.npz=0.5", "wide.npz=0.5"], "other channels"),
        (["a.npz"], "not NETWORK=SHARE"),
        (["none.npz=1"], "cannot be read"),
    ],
)
def test_what_cannot_be_mixed_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], parts: list[str], said: str
) -> None:
    """One line, no file."""
    _network(tmp_path / "a.npz", 1)
    _network(tmp_path / "wide.npz", 2, channels=14)
    out = tmp_path / "out.npz"
    assert main(["--out", str(out), *(str(tmp_path / part) for part in parts)]) != 0
    assert said in capsys.readouterr().err
    assert not out.exists()
