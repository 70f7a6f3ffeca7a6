"""The phone network: its runner, its scores, its search, and what it makes of speech."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from handsfree.errors import DataError, EngineError
from handsfree.hearing import grammar
from handsfree.hearing.ear.embedding import EmbeddingStream
from handsfree.hearing.grammar import Grammar, ListeningGrammar, compose
from handsfree.hearing.phones import Lexicon, PhoneNetwork, PhoneReader, load_network
from handsfree.hearing.phones.ctc import IMPOSSIBLE, free_score, sequence_scores
from handsfree.hearing.phones.graph import PhoneGraph
from handsfree.hearing.phones.network import BLANK
from handsfree.hearing.phones.rivals import RIVALS
from handsfree.hearing.training import espeak
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


def test_a_silent_stream_is_read_as_nothing() -> None:
    """No frames are known yet: every meaning is impossible, and nothing breaks."""
    open_now: ListeningGrammar = compose(Listening(grammars=("integer",)))
    read = PhoneReader(EmbeddingStream()).read(0, 1600, open_now, ("five",))
    assert all(spelt.score <= IMPOSSIBLE / 2 for spelt in read.ranked)


class _Faint:
    """A network that hears "seven" clearly, and a "-ty" after it three times in ten."""

    phones = load_network().phones

    def __call__(self, frames: NDArray[np.float32]) -> NDArray[np.float32]:
        sizes = np.full((-(-len(frames) // 2), 1 + len(self.phones)), 1e-4)
        sizes[:, BLANK] = 1.0
        for step, (phone, size) in enumerate(
            [("S", 1.0), ("EH", 1.0), ("V", 1.0), ("AH", 1.0), ("N", 1.0), ("T", 0.3), ("IY", 0.3)]
        ):
            at = 1 + self.phones.index(phone)
            sizes[10 + 2 * step, [BLANK, at]] = 1.001 - size, size
        return np.asarray(np.log(sizes / sizes.sum(axis=1, keepdims=True)), np.float32)


@pytest.mark.parametrize(
    ("snr_db", "words"), [(math.inf, "seven"), (16.0, "seven"), (12.0, "seventy"), (0.0, "seventy")]
)
def test_in_noise_a_faint_phone_is_rather_missed_than_made_up(snr_db: float, words: str) -> None:
    """The same sound, in quiet and in noise; where speech ends does not change with it."""
    stream, start, end = _stream("seven", "en+m3")
    open_now = compose(Listening(grammars=("integer",)))
    reader = PhoneReader(stream, network=cast(PhoneNetwork, _Faint()))
    read = reader.read(start, end, open_now, snr_db=snr_db)
    assert read.ranked[0].words == words
    assert read.speech_nats == pytest.approx(reader.read(start, end, open_now).speech_nats)
