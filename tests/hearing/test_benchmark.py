"""The hearing benchmark: manifests, bad input, and that it counts what came out."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from benchmarks import _evidence, replay
from benchmarks import hearing as benchmark
from benchmarks._chain import Room, covering, listenings, play
from benchmarks._levels import a_weighted, a_weighting_db, rms
from benchmarks._manifest import plain_text, read_manifest, read_sound
from handsfree.errors import DataError
from handsfree.hearing import Listening, Outcome, engines
from handsfree.hearing.listener import Hearing
from handsfree.hearing.standin import ScriptedEar, ScriptedRecogniser
from handsfree.protocol.loader import load
from handsfree.speaking.espeak import Pyttsx3Synthesiser

RATE = 16_000


def _vowel(seconds: float = 0.4, rate: int = RATE) -> NDArray[np.float64]:
    t = np.arange(int(seconds * rate)) / rate
    voice = sum(np.sin(2 * np.pi * 130 * k * t) / k for k in range(1, 25))
    return np.asarray(0.2 * voice / np.abs(voice).max())


def _manifest(folder: Path, rows: list[tuple[str, str, str]], *, extra: str = "") -> Path:
    for file, _, _ in rows:
        if not (folder / file).exists() and "missing" not in file:
            soundfile.write(folder / file, _vowel(), RATE)
    lines = ["file\tkind\ttext" + ("\t" + extra if extra else "")]
    lines += ["\t".join(row) + ("\tx" if extra else "") for row in rows]
    path = folder / "manifest.tsv"
    path.write_text("\n".join(lines) + "\n")
    return path


def test_columns_and_kinds_of_others_are_left_alone(tmp_path: Path) -> None:
    """What the benchmark does not know it neither uses nor stumbles over."""
    path = _manifest(
        tmp_path,
        [("a.wav", "answer", "It's pink!"), ("b.wav", "timing", "press"), ("c.wav", "noise", "")],
        extra="colour",
    )
    entries, other = read_manifest(path)
    assert [(e.kind, e.text) for e in entries] == [("answer", "it's pink"), ("noise", "")]
    assert other == {"timing": 1}


def test_any_rate_and_channels_are_read(tmp_path: Path) -> None:
    """WAV and FLAC at any rate come out at the program's rate, at their level."""
    for rate, name in ((8000, "a.wav"), (44_100, "b.flac"), (16_000, "c.flac")):
        sound = np.column_stack([_vowel(0.5, rate)] * 2)
        soundfile.write(tmp_path / name, sound, rate)
        read = read_sound(tmp_path / name)
        assert len(read) == pytest.approx(0.5 * RATE, abs=2)
        assert np.abs(read.astype(np.int32)).max() == pytest.approx(0.2 * 32768, rel=0.05)


@pytest.mark.parametrize(
    ("content", "code", "said"),
    [
        ("file\tkind\ttext\nmissing.wav\tanswer\tpink\n", 5, "line 2: there is no file missing"),
        ("file\ttext\na.wav\tpink\n", 5, "lacks the column kind"),
        ("file\tkind\ttext\n", 2, "Nothing was measured"),
        (None, 5, "cannot be read"),
    ],
)
def test_a_manifest_that_cannot_be_used_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str | None, code: int, said: str
) -> None:
    """No traceback: the line or the column is named, and the exit code is not 0."""
    path = tmp_path / "m.tsv"
    if content is not None:
        path.write_text(content)
    assert benchmark.main(["--manifest", str(path)]) == code
    assert said in capsys.readouterr().err


def test_a_corrupt_recording_is_told_and_never_accepted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The run goes on without it, counts it, and ends with another exit code than 0."""
    (tmp_path / "broken.flac").write_bytes(b"fLaC" + bytes(200))
    path = _manifest(tmp_path, [("broken.flac", "answer", "pink"), ("ok.wav", "odd", "")])
    assert benchmark.main(["--manifest", str(path), "--json"]) == 5
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert told["unreadable"] == ["broken.flac"]
    assert told["answers"]["n"] == 0
    assert "broken.flac cannot be read" in err
    assert "kind 'odd' are left alone" in err


def test_an_answer_is_tried_where_its_words_can_be_said() -> None:
    """At most five places, each of whose grammars covers the text; commands come last."""
    known = listenings(load())
    rng = np.random.default_rng(1)
    places = covering("pink", None, known, rng)
    assert 0 < len(places) <= 5
    assert all(known[place].grammars for place in places)
    assert covering("skip", None, known, rng)
    assert covering("xyzzy", None, known, rng) == []
    assert covering("pink", "mouth.gum_colour", known, rng) == ["mouth.gum_colour"]
    with pytest.raises(DataError, match=r"mouth\.feathers"):
        covering("pink", "mouth.feathers", known, rng)


def test_what_comes_out_is_what_is_counted() -> None:
    """Right, wrong, asked back and ignored are told apart by the verdict on the true meaning."""
    sound = np.rint(_vowel() * 32768).astype(np.int16)
    listening = Listening(grammars=("gum_colour",))
    for heard, share, outcome in (("pink", 0.99, Outcome.ACCEPT), ("pink", 0.0, Outcome.IGNORE)):
        hearing = Hearing(ScriptedRecogniser([heard]), ScriptedEar([(heard, share)]))
        played = play(hearing, listening, sound, Room(), np.random.default_rng(1))
        assert [v.outcome for v in played.verdicts] == [outcome]
        assert (played.accepted is not None) is (outcome is Outcome.ACCEPT)
        if played.gap_s is not None:
            assert 0.0 < played.gap_s < 5.0


def test_noise_is_mixed_at_the_level_asked_for() -> None:
    """At 10 dB the noise has a tenth of the speech's power, before, during and after it."""
    sound = np.rint(_vowel(1.0) * 32768).astype(np.int16)
    noise = np.random.default_rng(3).normal(0, 900, RATE).astype(np.int16)
    room = Room(hiss=0.0, noise=noise, snr_db=10.0)
    mixed, begin = room.around(sound, np.random.default_rng(2))
    power = float(np.mean(np.square(mixed[:begin].astype(np.float64))))
    speech = float(np.mean(np.square(sound.astype(np.float64))))
    assert 10 * np.log10(speech / power) == pytest.approx(10.0, abs=0.7)


def test_weighting_a_is_the_standards() -> None:
    """IEC 61672-1, the table of weighting A at nominal frequencies (from memory), to 0.1 dB."""
    hertz = 1000.0 * 10.0 ** (0.3 * np.arange(-5, 4))  # exact midbands of the nominal ones
    wanted = [-39.4, -26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1]
    assert a_weighting_db(hertz) == pytest.approx(wanted, abs=0.1)
    tone = np.sin(2 * np.pi * 125.0 * np.arange(RATE) / RATE)
    assert 20 * np.log10(rms(a_weighted(tone)) / rms(tone)) == pytest.approx(-16.1, abs=0.2)
    assert not a_weighted(np.zeros(0)).size
    assert not a_weighted(np.ones(1)).any()


def test_noise_is_mixed_at_the_level_that_ears_hear() -> None:
    """A voice of 125 Hz alone is 16 dB softer to ears than to a meter: so much less is mixed in."""
    sound = np.rint(8000 * np.sin(2 * np.pi * 125.0 * np.arange(RATE) / RATE)).astype(np.int16)
    noise = np.rint(900 * np.sin(2 * np.pi * 1000.0 * np.arange(RATE) / RATE)).astype(np.int16)
    room = Room(hiss=0.0, noise=noise, snr_db=0.0, as_heard=True)
    mixed, begin = room.around(sound, np.random.default_rng(2))
    assert 20 * np.log10(rms(sound) / rms(mixed[:begin])) == pytest.approx(16.1, abs=0.3)


def test_text_is_compared_as_a_recogniser_writes_it() -> None:
    """Case and punctuation are no difference; apostrophes belong to words."""
    assert plain_text("No, don't lick!") == "no don't lick"
    assert plain_text("It's PINK.") == "it's pink"


def test_a_distant_voice_is_softer_and_rings_on() -> None:
    """Two metres away in a room: still there after the recording's end, and as far down as told."""
    sound = (np.concatenate([_vowel(), np.zeros(10)]) * 32767).astype(np.int16)
    rng = np.random.default_rng(4)
    near, begin = Room(hiss=0.0).around(sound, rng)
    far, begin_far = Room(hiss=0.0, distance_m=2.0).around(sound, rng)
    assert begin == begin_far
    end = begin + len(sound)
    assert np.abs(near[end : end + 800]).max() == 0
    assert np.abs(far[end : end + 800].astype(int)).max() > 50
    assert 1000 < np.sqrt(np.mean(far[begin:end].astype(float) ** 2)) < 2200


def test_kept_evidence_is_judged_as_it_was_when_played(tmp_path: Path) -> None:
    """A rule tuned on kept evidence is tuned on what the chain really hears."""
    synthesiser = Pyttsx3Synthesiser()
    try:
        for text in ("pink", "pale"):
            sound = synthesiser.render(text, rate_wpm=160)
            soundfile.write(tmp_path / f"{text}.wav", sound, RATE)
    finally:
        synthesiser.close()
    manifest = _manifest(tmp_path, [("pink.wav", "answer", "pink"), ("pale.wav", "answer", "pale")])
    out = tmp_path / "kept"
    assert replay.main(["keep", "--manifest", str(manifest), "--out", str(out)]) == 0
    kept = _evidence.read(out)
    assert [one.text for one in kept] == ["pink", "pale"]
    hearing = engines.build()
    known = listenings(load())
    for number, one in enumerate(kept):
        rng = np.random.default_rng((1, number))
        (place,) = covering(one.text, None, known, rng)[:1]
        assert place == one.place
        sound = read_sound(tmp_path / one.name)
        played = play(hearing, known[place], sound, Room(), rng)
        outcome, verdict = _evidence.judged(one)
        assert verdict is not None
        assert verdict.best is not None
        assert played.accepted is not None
        assert played.accepted.best is not None
        assert outcome == "right"
        assert verdict.best.meaning == played.accepted.best.meaning
        assert verdict.best.probability == pytest.approx(played.accepted.best.probability, abs=0.02)


def test_evidence_that_cannot_be_read_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file of another kind is named, and what makes one."""
    (tmp_path / "x").write_text("no pickle")
    assert replay.main(["tally", str(tmp_path / "x")]) == DataError.exit_code
    assert "replay keep" in capsys.readouterr().err
