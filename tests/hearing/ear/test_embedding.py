"""The stream of embeddings: the same numbers however sound is cut, and nothing across a gap."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import (
    EMBEDDING_SIZE,
    HOP_FRAMES,
    WINDOW_FRAMES,
    WINDOW_SAMPLES,
    Embedder,
    EmbeddingStream,
    available,
)


def _sound(seconds: float, seed: int = 3) -> NDArray[np.int16]:
    """Loud and near-silent stretches by turns, so that any dependence on cuts would show."""
    rng = np.random.default_rng(seed)
    count = int(16000 * seconds)
    loudness = np.repeat(rng.choice([1.0, 30.0, 3000.0], count // 1600 + 1), 1600)[:count]
    sound = rng.standard_normal(count) * loudness
    return np.asarray(sound, np.int16)


def test_the_networks_are_here() -> None:
    """The package with the networks is one of the program's own dependencies, so it loads."""
    assert available()


def test_streaming_equals_batch_however_the_sound_is_cut() -> None:
    """Blocks of any length give the very embeddings that the whole sound gives."""
    embedder = Embedder()
    sound = _sound(4.0)
    whole = embedder.embed(embedder.frames(sound))
    for sizes in ([320], [1, 7, 4000, 161], [1280]):
        stream = EmbeddingStream(embedder)
        at = turn = 0
        while at < sound.size:
            size = sizes[turn % len(sizes)]
            stream.feed(sound[at : at + size], 500 + at)
            at, turn = at + size, turn + 1
        streamed = stream.embeddings(500, stream.end)
        assert streamed.vectors.shape == whole.shape
        np.testing.assert_allclose(streamed.vectors, whole, atol=2e-3)
        assert streamed.centres[0] == 500 + WINDOW_SAMPLES // 2


def test_one_pass_equals_window_by_window() -> None:
    """A long stretch in one pass gives each window the numbers that it has alone."""
    embedder = Embedder()
    frames = embedder.frames(_sound(2.0))
    together = embedder.embed(frames)
    alone = [
        embedder.embed(frames[first : first + WINDOW_FRAMES])[0]
        for first in range(0, len(frames) - WINDOW_FRAMES + 1, HOP_FRAMES)
    ]
    assert together.shape == (len(alone), EMBEDDING_SIZE)
    np.testing.assert_allclose(together, np.array(alone), atol=2e-3)


def test_a_gap_in_the_stream_forgets_what_came_before() -> None:
    """No window spans lost sound."""
    stream = EmbeddingStream()
    stream.feed(_sound(2.0), 0)
    stream.feed(_sound(1.0), 40000)
    assert stream.begin == 40000
    assert stream.end == 56000
    found = stream.embeddings(0, 56000)
    assert found.centres.min() >= 40000 + WINDOW_SAMPLES // 2


def test_old_sound_leaves_the_ring() -> None:
    """Frames older than the ring holds read as unknown, recent ones as known."""
    stream = EmbeddingStream(keep_s=1.0)
    stream.feed(_sound(3.0), 0)
    _, old = stream.frames(0, 20)
    _, recent = stream.frames(stream.end - 8000, 20)
    assert not old.any()
    assert recent.all()


def test_a_block_of_another_kind_is_refused() -> None:
    """Float samples are a mistake of the caller, told at once."""
    with pytest.raises(ValueError, match="int16"):
        EmbeddingStream().feed(np.zeros(10), 0)  # type: ignore[arg-type]
