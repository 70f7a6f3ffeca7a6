"""How the ear for noise is trained: all in PyTorch, with the network that the program runs.

PyTorch comes with the extra ``train`` alone: without it these tests are left out, and say so.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from handsfree.errors import DataError, EngineError
from handsfree.hearing.ear.embedding import Embedder, EmbeddingStream, Windows
from handsfree.hearing.ear.tflite import network_file
from handsfree.hearing.ear.utterance import FEATURES, utterance_features
from handsfree.hearing.training import espeak
from handsfree.hearing.training.clips import RATE_HZ, trim
from handsfree.hearing.training.ear_batches import (
    OTHER,
    EarBatches,
    features,
    labels_of,
    patches,
    with_pieces,
)
from handsfree.hearing.training.ear_fit import EarRecipe, MemberRecipe, examples, fit_ear
from handsfree.hearing.training.fit import Member, Standard, save_head
from handsfree.hearing.training.phone_batches import Batches, alone
from handsfree.hearing.training.phone_harm import NOISY, USUAL, Bank, Harm, fill_bank
from handsfree.hearing.training.phone_material import PhoneMaterial

torch: Any = pytest.importorskip("torch", reason="PyTorch comes with the extra 'train' alone")
pytest.importorskip("tflite", reason="tflite comes with the extra 'train' alone")

from handsfree.hearing.training.noise_ear import fitted_before  # noqa: E402
from handsfree.hearing.training.torch_embedding import (  # noqa: E402 - after what it needs
    embedding_network,
    embeddings,
    tuned_file,
)

TEXTS = ("pink", "stop", "a lump on the left", "who left the gate open again today")


@pytest.fixture(scope="module")
def bank() -> Bank:
    """Few sounds to do harm with."""
    return fill_bank(4, 12, 3, 1)


@pytest.fixture(scope="module")
def material() -> PhoneMaterial:
    """Four texts said twice by a synthesiser, the second time held back."""
    waves, texts = [], []
    for number, text in enumerate(TEXTS * 2):
        rate = 140 + 10 * number
        sound = trim(espeak.speak(text, "en", words_per_min=rate))
        sound = np.interp(  # to 16 kHz: what is said matters here, not how well
            np.arange(int(sound.size * RATE_HZ / espeak.SAMPLE_RATE_HZ)),
            np.arange(sound.size) * RATE_HZ / espeak.SAMPLE_RATE_HZ,
            sound,
        )
        waves.append((sound / np.abs(sound).max() * 16000).astype(np.int16))
        texts.append(text)
    many = len(waves)
    return PhoneMaterial(
        waves=np.concatenate(waves),
        lengths=np.array(list(map(len, waves))),
        phones=((),) * many,
        held=np.arange(many) >= len(TEXTS),
        groups=np.array(["phrases"] * many),
        speakers=np.array(["espeak:en"] * many),
        texts=tuple(texts),
    )


def test_the_network_is_the_programs_own() -> None:
    """Weights and shapes are read out of the file that the program runs."""
    rng = np.random.default_rng(0)
    frames = rng.uniform(25, 90, (172, 32)).astype(np.float32)
    with torch.no_grad():
        found = embeddings(embedding_network(torch), torch.from_numpy(frames)[None])[0].numpy()
    assert np.abs(found - Embedder().embed(frames)).max() < 1e-3


def test_a_tuned_file_runs_as_it_was_trained(tmp_path: Any) -> None:
    """TensorFlow Lite gives the same numbers as PyTorch for other weights, too."""
    network = embedding_network(torch)
    with torch.no_grad():
        for one in network.parameters():
            one.mul_(1.1)
    state = {name: one.numpy() for name, one in network.state_dict().items()}
    file = tmp_path / "tuned.tflite"
    file.write_bytes(tuned_file(state))
    frames = np.random.default_rng(1).uniform(25, 90, (172, 32)).astype(np.float32)
    with torch.no_grad():
        wanted = embeddings(network, torch.from_numpy(frames)[None])[0].numpy()
    found = Windows(file)(frames)
    assert np.abs(found - wanted).max() < 1e-3
    assert np.abs(found - Embedder().embed(frames)).max() > 1.0


def test_its_own_weights_change_nothing_and_others_are_refused() -> None:
    """Nothing but weights changes in the file."""
    state = {name: one.numpy() for name, one in embedding_network(torch).state_dict().items()}
    assert tuned_file(state) == network_file("embedding_model").read_bytes()
    with pytest.raises(EngineError, match="of 19 layers"):
        tuned_file({name: one for name, one in state.items() if not name.startswith("1.")})
    with pytest.raises(EngineError, match="another shape"):
        tuned_file({**state, "1.bias": np.zeros(3, np.float32)})


def test_features_are_the_programs_own(material: PhoneMaterial, bank: Bank) -> None:
    """A patch is cut, painted and levelled as the program does it."""
    batches = Batches(torch, material, bank, "cpu", 1)
    many = len(material.lengths)
    heard = batches.sounds(alone(np.arange(many)), harm=False)
    frames = patches(torch, batches.frames(heard.x), heard, torch.ones(many))
    seconds = (heard.end - heard.start).float() / RATE_HZ
    with torch.no_grad():
        found = features(torch, embedding_network(torch), frames, seconds).numpy()
    embedder = Embedder()
    for row, sound, start, end in zip(found, heard.x, heard.start, heard.end, strict=True):
        stream = EmbeddingStream(embedder)
        stream.feed(sound.numpy().astype(np.int16), 0)
        assert np.abs(row - utterance_features(stream, int(start), int(end))).max() < 0.01


def test_labels_are_phrases_also_in_two_parts() -> None:
    """Two clips with a pause may say a phrase together."""
    rows = np.array([[0, -1, 0], [1, -1, 0], [0, 1, 800], [1, 0, 800]])
    assert labels_of(rows, ("half", "past"), {"half": 1, "half past": 2}).tolist() == [1, 0, 2, 0]


def test_pieces_are_cut_out_of_what_is_no_phrase(material: PhoneMaterial) -> None:
    """Stretches of talk mean nothing."""
    cut = with_pieces(material, frozenset(TEXTS[:3]), 3, np.random.default_rng(0))
    assert len(cut.lengths) == len(material.lengths) + 3  # of one clip; the other is held back
    assert cut.texts[-3:] == ("", "", "")
    assert not cut.held[-3:].any()
    assert (cut.lengths[-3:] >= 0.45 * RATE_HZ).all()
    assert (cut.lengths[-3:] < 1.7 * RATE_HZ).all()
    piece = cut.waves[-cut.lengths[-1] :]
    assert abs(int(piece[0])) <= 1
    assert abs(int(piece[-1])) <= 1


def test_who_says_nothing_is_other(material: PhoneMaterial, bank: Bank) -> None:
    """Where the speech is taken out nothing was said."""
    batches = Batches(torch, material, bank, "cpu", 3)
    index = {text: number for number, text in enumerate(TEXTS, start=1)}
    ear = EarBatches(torch, material, batches, index, "cpu")
    rows = alone(np.zeros(400, np.int64))
    frames, seconds, labels = ear(rows)
    assert frames.shape == (400, 172, 32)
    assert torch.isfinite(frames).all()
    assert (seconds > 0.04).all()
    silent = int((labels == OTHER).sum())
    assert 10 < silent < 60  # seven in a hundred, by lot
    assert set(labels.tolist()) == {OTHER, 1}


def test_network_and_heads_learn(material: PhoneMaterial, bank: Bank) -> None:
    """The loss falls, and the network moves with it."""
    index = {text: number for number, text in enumerate(TEXTS[:3], start=1)}
    members = (MemberRecipe(), MemberRecipe(hidden=(16,), drop=0.1))
    told: list[str] = []
    recipe = EarRecipe(members=members, epochs=6)
    fitted = fit_ear(torch, material, bank, index, recipe, 5, "cpu", told.append)
    assert len(told) == 6
    losses = [[float(x) for x in line.rpartition("losses ")[2].rstrip(".").split(", ")]
              for line in told]  # fmt: skip
    assert losses[-1][0] < losses[0][0]
    assert fitted.network is not None
    begin = {name: one.numpy() for name, one in embedding_network(torch).state_dict().items()}
    assert any(np.abs(fitted.network[name] - one).max() > 1e-4 for name, one in begin.items())
    assert [w.shape for w, _ in fitted.members[1]] == [(FEATURES, 16), (16, 4)]
    held = examples(torch, material, bank, index, "cpu", 6, fitted.network)
    assert held.features.shape == (3 * len(TEXTS), FEATURES)
    assert held.harmed.tolist() == [False] * 4 + [True] * 8
    assert set(held.labels[:4].tolist()) == {0, 1, 2, 3}


def test_a_network_may_stay_as_it_is(material: PhoneMaterial, bank: Bank) -> None:
    """Then there is none to write."""
    index = {text: number for number, text in enumerate(TEXTS[:3], start=1)}
    told: list[str] = []
    recipe = replace(EarRecipe(), members=(MemberRecipe(),), epochs=1, network_step=0.0)
    assert fit_ear(torch, material, bank, index, recipe, 5, "cpu", told.append).network is None


def test_training_goes_on_from_what_was_written(
    material: PhoneMaterial, bank: Bank, tmp_path: Path
) -> None:
    """A step of next to nothing leaves the weights that were begun with; another form is told."""
    index = {text: number for number, text in enumerate(TEXTS[:3], start=1)}
    told: list[str] = []
    form = MemberRecipe(hidden=(16,), drop=EarRecipe().members[-1].drop)
    recipe = EarRecipe(members=(form,), epochs=1)
    first = fit_ear(torch, material, bank, index, recipe, 5, "cpu", told.append)
    assert first.network is not None
    (tmp_path / "noise_network.tflite").write_bytes(tuned_file(first.network))
    save_head(
        tmp_path / "noise_head.npz",
        TEXTS[:3],
        Standard(mean=first.mean, scale=first.scale),
        [Member(layers=list(first.members[0]))],
        temperature=1.0,
        closed_weight=1.0,
        notes="",
    )
    before, known = fitted_before(torch, tmp_path)
    assert known == form
    still = replace(recipe, members=(replace(form, step=0.0),), network_step=1e-12)
    again = fit_ear(torch, material, bank, index, still, 6, "cpu", told.append, begin=before)
    assert again.network is not None
    for name, one in first.network.items():
        assert np.abs(again.network[name] - one).max() < 1e-4, name
    for (weights, bias), (had, had_bias) in zip(again.members[0], first.members[0], strict=True):
        assert np.abs(weights - had).max() < 1e-3  # the file has half precision
        assert np.abs(bias - had_bias).max() < 1e-4
    other = replace(recipe, members=(MemberRecipe(hidden=(8,)),))
    with pytest.raises(EngineError, match="another form"):
        fit_ear(torch, material, bank, index, other, 6, "cpu", told.append, begin=before)
    file = tmp_path / "noise_network.tflite"
    for content in (b"", b"no network at all", file.read_bytes()[:400000]):
        file.write_bytes(content)
        with pytest.raises(DataError, match="network to begin with"):
            fitted_before(torch, tmp_path)
    file.unlink()
    with pytest.raises(DataError, match="network to begin with"):
        fitted_before(torch, tmp_path)


def test_noise_is_as_it_is_asked_for() -> None:
    """In a training for noise few are quiet, and the noise is stronger."""
    sounds = Bank(
        noises=np.random.default_rng(2).normal(0, 3000, 128000).astype(np.int16),
        others=np.ones(1600, np.int16),
        lengths=np.array([1600]),
        rooms=np.ones((1, 12000), np.float16),
    )
    speech = torch.from_numpy(sounds.noises)
    level = torch.full((600,), 1000.0)
    shares = {}
    for noisiness in (USUAL, NOISY):
        harm = Harm(torch, sounds, speech, "cpu", 3, noisiness)
        added = harm.noise(torch.zeros(600, 4000), level).pow(2).mean(1).sqrt()
        shares[noisiness] = float((added == 0).float().mean()), float((added > 400).float().mean())
    quiet, loud = shares[USUAL]
    assert abs(quiet - 0.3) < 0.07
    assert abs(shares[NOISY][0] - 0.08) < 0.05
    assert shares[NOISY][1] > 1.3 * loud
