"""The phone network: its runner, its scores, its search, and what it makes of speech."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from handsfree.errors import DataError, EngineError
from handsfree.hearing import grammar, phones
from handsfree.hearing.ear.embedding import EmbeddingStream
from handsfree.hearing.grammar import Grammar, ListeningGrammar, compose
from handsfree.hearing.phones import (
    Lexicon,
    PhoneNetwork,
    PhoneReader,
    load_network,
    load_noise_network,
)
from handsfree.hearing.phones.ctc import IMPOSSIBLE, free_score, sequence_scores
from handsfree.hearing.phones.graph import PhoneGraph
from handsfree.hearing.phones.network import check_noise_network
from handsfree.hearing.phones.rivals import RIVALS
from handsfree.hearing.training import espeak, sounds
from handsfree.hearing.training.clips import trim
from handsfree.hearing.verdict import Listening, MeaningKind


def _log_probs(frames: int, outputs: int, seed: int) -> NDArray[np.float32]:
    logits = np.random.default_rng(seed).standard_normal((frames, outputs)) * 2.0
    return np.asarray(logits - np.log(np.exp(logits).sum(axis=1, keepdims=True)), np.float32)


def _collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    """Repeats merged, then blanks taken out: the map B of Graves and others, 2006."""
    return tuple(label for label, _ in itertools.groupby(path) if label)


@pytest.mark.parametrize("seed", range(4))
def test_a_sequences_score_is_the_sum_over_all_its_paths(seed: int) -> None:
    """Graves and others, 2006, equation 3, by listing every path of a short sound."""
    log_probs = _log_probs(5, 4, seed)
    totals: dict[tuple[int, ...], float] = {}
    for path in itertools.product(range(4), repeat=5):
        chance = float(np.exp(sum(log_probs[t, label] for t, label in enumerate(path))))
        totals[_collapsed(path)] = totals.get(_collapsed(path), 0.0) + chance
    wanted = [(1,), (1, 1), (2, 3, 2), (3, 3, 3), (1, 2, 3, 1)]
    scores = sequence_scores(log_probs, wanted)
    assert scores == pytest.approx([np.log(totals[sequence]) for sequence in wanted], abs=1e-5)
    assert sum(totals.values()) == pytest.approx(1.0, abs=1e-5)


def test_more_phones_than_frames_cannot_be() -> None:
    """Three times the same phone needs two blanks between: five frames at least."""
    assert sequence_scores(_log_probs(4, 3, 0), [(1, 1, 1)])[0] <= IMPOSSIBLE / 2
    assert sequence_scores(_log_probs(0, 3, 0), [(1,)])[0] == IMPOSSIBLE


def test_no_single_path_beats_the_free_one() -> None:
    """The free score is the likeliest path's, so one path's phones are never likelier alone."""
    log_probs = _log_probs(6, 3, 1)
    paths = itertools.product(range(3), repeat=6)
    best = max(sum(float(log_probs[t, k]) for t, k in enumerate(path)) for path in paths)
    assert free_score(log_probs) == pytest.approx(best, abs=1e-4)


NUMBERS = "public <n> = (one {+1} | two {+2} | eight {+8}) [point {point} (five {.5} | two {.2})];"


def _graph(text: str) -> tuple[Grammar, PhoneGraph, dict[str, int], Lexicon]:
    small = Grammar(f"#JSGF V1.0;\ngrammar small;\n{text}\n", name="small")
    lexicon = Lexicon()
    phones = sorted({p for w in small.words() for way in lexicon.of_word(w) for p in way})
    outputs = {phone: number for number, phone in enumerate(phones, start=1)}
    return small, PhoneGraph(small.word_graph, lexicon, outputs), outputs, lexicon


@pytest.mark.parametrize("seed", range(6))
def test_the_search_finds_what_scoring_every_phrase_finds(seed: int) -> None:
    """The likeliest path over the graph is the likeliest single path of any phrase."""
    small, graph, outputs, lexicon = _graph(NUMBERS)
    rng = np.random.default_rng(seed)
    phrases = [words for words, _ in small.listed(MeaningKind.ANSWER)]
    said = phrases[int(rng.integers(len(phrases)))]
    path: list[int] = [0, 0]
    for phone in lexicon.ways(said)[0]:
        path += [outputs[phone]] * int(rng.integers(1, 3)) + [0] * int(rng.integers(0, 2))
    logits = rng.standard_normal((len(path), len(outputs) + 1))
    logits[np.arange(len(path)), path] += 6.0
    log_probs = np.asarray(logits - np.log(np.exp(logits).sum(1, keepdims=True)), np.float32)
    assert graph.best(log_probs) == said
    sequences = [
        (words, tuple(outputs[p] for p in way)) for words in phrases for way in lexicon.ways(words)
    ]
    scores = sequence_scores(log_probs, [sequence for _, sequence in sequences])
    assert sequences[int(scores.argmax())][0] == said


def test_neighbours_differ_by_one_word_and_may_be_said() -> None:
    """One other word, one more, one less; only what the grammar allows."""
    small, graph, _, _ = _graph(NUMBERS)
    near = graph.neighbours(("two", "point", "five"))
    assert {("eight", "point", "five"), ("two", "point", "two")} <= set(near)
    assert ("two", "point") not in near
    assert all(small.meaning(words, MeaningKind.ANSWER) for words in near)


def test_too_short_a_sound_spells_nothing() -> None:
    """No frames, or fewer than the shortest word has phones."""
    _, graph, outputs, _ = _graph(NUMBERS)
    assert graph.best(_log_probs(0, len(outputs) + 1, 0)) == ()
    assert graph.best(_log_probs(1, len(outputs) + 1, 0)) == ()


def test_the_word_graph_says_what_the_grammar_says() -> None:
    """Merged states lose no phrase and add none: every way through the smallest graph is listed."""
    for name in ("press", "confirm", "ribs", "gum_colour"):
        told = grammar.load(name)
        graph = told.word_graph

        def through(state: int, said: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
            if state in graph.ends:  # noqa: B023 - used up within the loop
                yield said
            for word, after in graph.steps[state].items():  # noqa: B023
                yield from through(after, (*said, word))

        listed = {words for words, _ in told.listed(MeaningKind.ANSWER)}
        assert set(through(0, ())) == listed


def test_words_are_pronounced_as_the_dictionary_says() -> None:
    """CMU Pronouncing Dictionary, entries "eight" and "weight" (it is in PocketSphinx's wheel)."""
    lexicon = Lexicon()
    assert lexicon.of_word("eight") == (("EY", "T"),)
    assert ("W", "EY", "T") in lexicon.of_word("weight")
    assert lexicon.of_word("qwrtz") == ()
    assert lexicon.ways(("eight", "qwrtz")) == ()
    assert lexicon.ways(("one", "eight"))[0] == ("W", "AH", "N", "EY", "T")


def test_every_word_of_a_long_phrase_is_tried_otherwise(tmp_path: Path) -> None:
    """Three words of two ways make eight; the usual one, and each word otherwise, are among six."""
    file = tmp_path / "words.dict"
    file.write_text("a AH\na(2) EY\nb B\nb(2) P\nc K\nc(2) S\n")
    lexicon = Lexicon(file, {})
    assert lexicon.ways(("a", "b")) == (("AH", "B"), ("AH", "P"), ("EY", "B"), ("EY", "P"))
    usual, *others = lexicon.ways(("a", "b", "c"))
    assert usual == ("AH", "B", "K")
    assert others == [("EY", "B", "K"), ("AH", "P", "K"), ("AH", "B", "S")]


def test_every_word_of_the_dictionary_is_found(tmp_path: Path) -> None:
    """First, last and further pronunciations, by bisection."""
    file = tmp_path / "some.dict"
    file.write_text("a AH\na(2) EY\nab AE B\nb B IY\nzoo Z UW\n", encoding="utf-8")
    lexicon = Lexicon(file, more={"b": ("B EH",)})
    assert lexicon.of_word("a") == (("AH",), ("EY",))
    assert lexicon.of_word("ab") == (("AE", "B"),)
    assert lexicon.of_word("b") == (("B", "IY"), ("B", "EH"))
    assert lexicon.of_word("zoo") == (("Z", "UW"),)
    assert lexicon.of_word("zz") == lexicon.of_word("") == ()


def test_a_missing_or_empty_dictionary_is_told(tmp_path: Path) -> None:
    """A clear line, no traceback of the library."""
    with pytest.raises(EngineError, match="cannot be read"):
        Lexicon(tmp_path / "none.dict")
    (tmp_path / "empty.dict").touch()
    with pytest.raises(EngineError, match="cannot be read"):
        Lexicon(tmp_path / "empty.dict")


def test_every_word_of_the_grammars_has_phones() -> None:
    """A word without phones could be said and never be read."""
    lexicon = Lexicon()
    words: set[str] = set()
    for file in sorted(grammar.grammar_dir().glob("*.jsgf")):
        words |= grammar.load(file.stem).words()
    assert sorted(word for word in words if not lexicon.of_word(word)) == []


def test_the_runner_gives_what_the_trainer_gave() -> None:
    """One utterance's output as PyTorch 2.14 computed it, convolutions and batch norms apart."""
    with np.load(Path(__file__).with_name("worked_example.npz")) as example:
        found = load_network()(example["frames"].astype(np.float32) / 2.0)
        assert found.shape == example["log_probs"].shape
        likely = example["log_probs"] > np.log(0.01)
        assert np.abs(found - example["log_probs"])[likely].max() < 0.1
        assert (found.argmax(axis=1) == example["log_probs"].argmax(axis=1)).all()


def test_outputs_are_probabilities_every_20_ms() -> None:
    """Rows sum to one, an odd number of frames and one frame among them."""
    for count in (1, 2, 7, 40):
        frames = np.full((count, 32), 40.0, np.float32)
        out = load_network()(frames)
        assert out.shape == (-(-count // 2), len(load_network().phones) + 1)
        assert np.exp(out).sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    with pytest.raises(ValueError, match="32 bands"):
        load_network()(np.zeros((4, 31), np.float32))


def test_a_broken_network_is_told(tmp_path: Path) -> None:
    """Missing, no archive, another form."""
    (tmp_path / "broken.npz").write_bytes(b"PK\x03\x04 nothing")
    np.savez(tmp_path / "other.npz", form="another")
    for name in ("missing.npz", "broken.npz", "other.npz"):
        with pytest.raises(DataError, match="phone network"):
            PhoneNetwork(tmp_path / name)


def test_a_broken_network_for_noise_is_told_at_the_start(tmp_path: Path) -> None:
    """It is read only when a room is noisy, which would be too late to tell."""
    check_noise_network()
    shipped = Path(phones.__file__).with_name("noise_network.npz").read_bytes()
    (tmp_path / "short.npz").write_bytes(shipped[: len(shipped) // 2])
    middle = len(shipped) // 2
    (tmp_path / "bent.npz").write_bytes(shipped[:middle] + bytes(64) + shipped[middle + 64 :])
    for name in ("missing.npz", "short.npz", "bent.npz"):
        with pytest.raises(DataError, match=f"phone network {name}"):
            check_noise_network(tmp_path / name)


def test_both_networks_spell_the_same_phones() -> None:
    """What is spelt once serves both, and both fill as many weights."""
    quiet, noise = load_network(), load_noise_network()
    assert quiet.phones == noise.phones
    assert len(quiet.blocks) == len(noise.blocks)
    assert any((a != b).any() for a, b in zip(quiet.stem, noise.stem, strict=True))


def _stream(text: str, voice: str) -> tuple[EmbeddingStream, int, int]:
    sound = trim(resample_poly(espeak.speak(text, voice), 320, 441))
    sound = sound * 0.3 / np.abs(sound).max()
    out = np.concatenate([np.zeros(16000), sound, np.zeros(8000)])
    out += np.random.default_rng(1).standard_normal(out.size) * 30 / 32768
    stream = EmbeddingStream()
    stream.feed((out * 32767).astype(np.int16), 0)
    return stream, 16000, 16000 + sound.size


@pytest.mark.parametrize(
    "text", ["fourteen point five kilos", "thirty eight point six", "a hundred and two", "pink"]
)
def test_speech_is_read(text: str) -> None:
    """A synthetic voice, long numbers that no list could hold."""
    stream, start, end = _stream(text, "en+m3")
    name = "weight" if "kilos" in text else "temperature" if "point" in text else "integer"
    if text == "pink":
        name = "gum_colour"
    open_now = compose(Listening(grammars=(name,)))
    read = PhoneReader(stream).read(start, end, open_now)
    assert read.ranked[0].words == text
    assert read.shares[read.ranked[0].meaning] > 0.5
    assert sum(read.shares.values()) == pytest.approx(1.0)


def test_what_is_not_among_the_open_phrases_fits_badly() -> None:
    """Forced into "pink" or "pale", talk to the dog is far from the free reading; "pink" is not."""
    open_now = compose(Listening(grammars=("gum_colour",)))
    fits: dict[str, float] = {}
    for text in ("pink", "who is a good girl then"):
        stream, start, end = _stream(text, "en+f2")
        read = PhoneReader(stream).read(start, end, open_now)
        fits[text] = read.ranked[0].score - read.free
    assert fits["pink"] > -8.0
    assert fits["who is a good girl then"] < -20.0


@pytest.mark.parametrize("voice", ["en+m3", "en+f2"])
def test_what_is_said_to_a_dog_takes_its_share(voice: str) -> None:
    """Of all numbers "sit" is likest to six; "six" keeps its share beside it."""
    open_now = compose(Listening(grammars=("integer",)))
    shares: dict[str, float] = {}
    for text in ("sit", "six"):
        stream, start, end = _stream(text, voice)
        read = PhoneReader(stream).read(start, end, open_now)
        meaning = open_now.meaning("six")
        assert meaning is not None
        shares[text] = read.shares[meaning]
        assert sum(read.shares.values()) <= 1.0 + 1e-9
    assert shares["sit"] < 0.5 < shares["six"]


def test_what_means_something_now_is_no_rival() -> None:
    """Quiet and calm are said to dogs, and answers to how it behaves."""
    open_now = compose(Listening(grammars=("attitude",)))
    assert open_now.meaning("quiet") is not None
    stream, start, end = _stream("quiet", "en+m3")
    read = PhoneReader(stream).read(start, end, open_now)
    answers = sum(open_now.meaning(words) is not None for words in RIVALS)
    assert answers > 0
    assert len(read.rivals) == len(RIVALS) - answers
    assert read.shares[read.ranked[0].meaning] > 0.5


def test_every_rival_has_phones() -> None:
    """One that the dictionary lacks would stand against nothing."""
    lexicon = Lexicon()
    assert [words for words in RIVALS if not lexicon.ways(words)] == []
    assert len(set(RIVALS)) == len(RIVALS)


class _Told(PhoneNetwork):
    """Counts how often it is asked."""

    def __init__(self, of: PhoneNetwork) -> None:
        self.__dict__.update(of.__dict__)
        self.asked = 0

    def __call__(self, frames: NDArray[np.float32]) -> NDArray[np.float32]:
        self.asked += 1
        return super().__call__(frames)


def test_in_noise_the_network_that_learnt_noise_is_asked() -> None:
    """From 10 dB above the room on the other one, and nothing of one is taken for the other's."""
    quiet, noise = _Told(load_network()), _Told(load_noise_network())
    open_now = compose(Listening(grammars=("gum_colour",)))
    stream, start, end = _stream("pink", "en+m3")
    reader = PhoneReader(stream, network=quiet, noise_network=noise)
    reader.read(start, end, open_now)
    reader.read(start, end, open_now, snr_db=10.0)
    assert (quiet.asked, noise.asked) == (1, 0)
    assert reader.read(start, end, open_now, snr_db=9.9).ranked[0].words == "pink"
    assert reader.spoken(start, end, snr_db=3.0) is not None
    assert (quiet.asked, noise.asked) == (1, 1)
    reader.spoken(start, end, snr_db=30.0)
    assert (quiet.asked, noise.asked) == (2, 1)


class _Fixed(PhoneNetwork):
    """Hears the same, whatever sounds: rather nothing, and perhaps the phones of "pale"."""

    def __init__(self, of: PhoneNetwork) -> None:
        self.__dict__.update(of.__dict__)

    def __call__(self, frames: NDArray[np.float32]) -> NDArray[np.float32]:
        out = np.full((-(-len(frames) // 2), len(self.phones) + 1), 1e-4, np.float32)
        spelt = [self.phones.index(phone) + 1 for phone in ("P", "EY", "L")]
        for step, phone in zip((10, 14, 18), spelt, strict=True):
            out[step, phone] = 0.3
        out[:, 0] = 1.0 - out[:, 1:].sum(axis=1)
        return np.log(out)


def test_in_noise_a_phone_that_is_rather_none_counts_more() -> None:
    """By hand: 0.3 to 0.7 becomes 0.3 to 0.7 / e, thrice; steps without a phone hardly change."""
    open_now = compose(Listening(grammars=("gum_colour",)))
    stream, start, end = _stream("pale", "en+m3")
    network = _Fixed(load_network())
    reader = PhoneReader(stream, network=network, noise_network=network)
    meaning = open_now.meaning("pale")
    assert meaning is not None
    quiet = reader.read(start, end, open_now).of(meaning)
    noisy = reader.read(start, end, open_now, snr_db=0.0).of(meaning)
    assert quiet is not None
    assert noisy is not None
    gained = 3 * math.log((0.3 / (0.3 + 0.7 / math.e)) / 0.3)
    assert noisy.score - quiet.score == pytest.approx(gained, abs=0.3)


def _in_kitchen(text: str, voice: str, seed: int) -> tuple[EmbeddingStream, int, int]:
    """Speech 5 dB below water and clatter."""
    sound = trim(resample_poly(espeak.speak(text, voice), 320, 441))
    out = np.concatenate([np.zeros(16000), sound, np.zeros(8000)])
    bed = sounds.kitchen(np.random.default_rng(seed), out.size)
    out += bed * np.sqrt(np.mean(sound**2) / np.mean(bed**2)) * 10 ** (5 / 20)
    stream = EmbeddingStream()
    stream.feed((out * 0.3 / np.abs(out).max() * 32767).astype(np.int16), 0)
    return stream, 16000, 16000 + sound.size


def test_the_network_that_learnt_noise_is_surer_in_it() -> None:
    """What is said has a larger share, by the mean logarithm, a proper score (Good, 1952)."""
    open_now = compose(Listening(grammars=("gum_colour",)))
    texts = ("pink", "pale", "white", "yellow", "blue", "brown", "looks pale", "it's pink")
    voices = ("en+m3", "en+f2", "en-us", "en+m7", "en-gb-scotland")
    score = {True: 0.0, False: 0.0}
    for seed, (text, voice) in enumerate(itertools.product(texts, voices)):
        stream, start, end = _in_kitchen(text, voice, seed)
        meaning = open_now.meaning(text)
        assert meaning is not None
        reader = PhoneReader(stream)
        for noisy in score:
            read = reader.read(start, end, open_now, snr_db=-5.0 if noisy else 30.0)
            score[noisy] += math.log(max(read.shares[meaning], 1e-4)) / 40
    assert score[True] > score[False] + 0.05, score


def test_a_silent_stream_is_read_as_nothing() -> None:
    """No frames are known yet: every meaning is impossible, and nothing breaks."""
    open_now: ListeningGrammar = compose(Listening(grammars=("integer",)))
    read = PhoneReader(EmbeddingStream()).read(0, 1600, open_now, ("five",))
    assert all(spelt.score <= IMPOSSIBLE / 2 for spelt in read.ranked)
