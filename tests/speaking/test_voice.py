"""Sentences, the cache of rendered prompts, and the pace of the voice."""

import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.audio.device import Samples
from handsfree.errors import CallerError, EngineError
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.hum import HumSynthesiser
from handsfree.speaking.sentences import split_sentences
from handsfree.speaking.voice import Voice

LONG = (
    "Lift the lip on one side, look at the gum above the big tooth, press it with a finger until "
    "it turns white, let go, and watch how long the pink takes to come back"
)


@pytest.mark.parametrize(
    "text, sentences",
    [
        ("", ()),
        (" \n ", ()),
        ("One.", ("One.",)),
        ("Gums pale. Right?", ("Gums pale.", "Right?")),
        ("He weighs 12.4 kilograms. Right?", ("He weighs 12.4 kilograms.", "Right?")),
        ("Call Dr. Marsh now! Do not wait.", ("Call Dr. Marsh now!", "Do not wait.")),
        ("No. Say it again.", ("No.", "Say it again.")),
        ("Ticks, e.g. on the ears. Any?", ("Ticks, e.g. on the ears.", "Any?")),
        ('She said "stop." Then it went on.', ('She said "stop."', "Then it went on.")),
        ("First line\nsecond line", ("First line", "second line")),
        ("Wait... what? …", ("Wait...", "what?")),
        ("two   spaces\tand a tab.", ("two spaces and a tab.",)),
        (
            LONG,
            (
                "Lift the lip on one side, look at the gum above the big tooth,",
                "press it with a finger until it turns white, let go, and watch how long the pink "
                "takes to come back",
            ),
        ),
        ("word " * 40, (" ".join(["word"] * 40),)),
    ],
)
def test_a_text_is_cut_where_a_listener_may_break_in(text: str, sentences: tuple[str, ...]) -> None:
    """Sentences end where they end, not in numbers or abbreviations; long ones are cut again."""
    assert split_sentences(text) == sentences


@given(st.text(alphabet="ab1 .,;!?\n-\"'", max_size=200))
def test_no_word_is_lost_or_moved(text: str) -> None:
    """Whatever the text, its letters and digits come out whole and in order."""
    spoken = "".join(split_sentences(text))
    assert [c for c in spoken if c.isalnum()] == [c for c in text if c.isalnum()]


def test_a_kept_prompt_is_not_rendered_again() -> None:
    """Same text, rate and voice: same samples; another rate or voice is another prompt."""
    hum = HumSynthesiser()
    cache = PromptCache(hum)
    first = cache.get("gums", rate_wpm=170)
    assert cache.get("gums", rate_wpm=170) is first
    assert len(cache.get("gums", rate_wpm=300)) < len(first)
    assert not np.array_equal(cache.get("gums", rate_wpm=170, voice="high"), first)
    assert hum.rendered == ["gums"] * 3
    with pytest.raises(ValueError, match="read-only"):
        first[0] = 1
    cache.close()


def test_the_least_recently_used_prompt_goes_first() -> None:
    """Memory is bounded; what was used last stays."""
    hum = HumSynthesiser()
    cache = PromptCache(hum, capacity_s=1.0)  # "one" to "three" take 0.35 s each
    for text in ("one", "two", "one", "three", "one", "two"):
        cache.get(text, rate_wpm=170)
    assert hum.rendered == ["one", "two", "three", "two"]
    cache.close()


class _Held(HumSynthesiser):
    """A hum that waits at each rendering until it is let go, to fix the order of things."""

    def __init__(self) -> None:
        super().__init__()
        self.gate = threading.Semaphore(0)
        self.begun = threading.Semaphore(0)

    def render(self, text: str, *, rate_wpm: int, voice: str | None = None) -> Samples:
        self.begun.release()
        assert self.gate.acquire(timeout=10)
        return super().render(text, rate_wpm=rate_wpm, voice=voice)


def test_what_is_asked_for_goes_before_what_was_ordered() -> None:
    """A reply waits for at most one rendering that was ordered ahead."""
    held = _Held()
    cache = PromptCache(held)
    cache.render_ahead(["a", "b", "c"], rate_wpm=170)
    assert held.begun.acquire(timeout=10)  # "a" is being rendered
    got: list[Samples] = []
    asking = threading.Thread(target=lambda: got.append(cache.get("now", rate_wpm=170)))
    asking.start()
    while not cache._urgent:
        pass
    held.gate.release(2)
    asking.join(timeout=10)
    assert held.rendered == ["a", "now"]
    assert len(got) == 1
    held.gate.release(2)
    cache.get("c", rate_wpm=170)
    assert held.rendered == ["a", "now", "b", "c"]
    cache.close()


def test_what_was_ordered_is_there_when_asked_for() -> None:
    """Orders are rendered once, in their order, without anyone waiting."""
    hum = HumSynthesiser()
    cache = PromptCache(hum)
    cache.render_ahead(["a", "b", "a"], rate_wpm=170)
    cache.get("b", rate_wpm=170)
    cache.get("a", rate_wpm=170)
    assert sorted(hum.rendered) == ["a", "b"]
    cache.close()


def test_a_text_that_fails_is_told_to_whoever_asks() -> None:
    """An order that fails is passed over; asking for it is an error, and the voice works on."""
    hum = HumSynthesiser()
    hum.broken.add("bad")
    cache = PromptCache(hum)
    cache.render_ahead(["bad", "good"], rate_wpm=170)
    assert len(cache.get("good", rate_wpm=170))
    for _ in range(2):
        with pytest.raises(EngineError, match="bad"):
            cache.get("bad", rate_wpm=170)
    hum.broken.clear()
    assert len(cache.get("bad", rate_wpm=170))
    cache.close()


def test_a_closed_cache_gives_what_it_has_and_no_more() -> None:
    """Closing twice is harmless; asking for something new afterwards is a clear error."""
    cache = PromptCache(HumSynthesiser())
    cache.get("kept", rate_wpm=170)
    cache.close()
    cache.close()
    assert len(cache.get("kept", rate_wpm=170))
    cache.render_ahead(["later"], rate_wpm=170)
    with pytest.raises(EngineError, match="closed"):
        cache.get("new", rate_wpm=170)


def test_without_rendering_ahead_the_order_is_that_of_asking() -> None:
    """A rehearsal repeats itself: orders change nothing."""
    hum = HumSynthesiser()
    voice = Voice(hum, ahead=False)
    voice.render_ahead(["a", "b"])
    voice.get("c")
    voice.get("a")
    assert hum.rendered == ["c", "a"]
    voice.close()


def test_the_pace_has_steps_and_ends() -> None:
    """Slower and faster say whether there was room; the sound follows."""
    voice = Voice(HumSynthesiser(), rate_wpm=170)
    normal = len(voice.get("six words that take a while"))
    assert voice.slower()
    assert voice.rate_wpm == 160
    assert not voice.slower()
    assert len(voice.get("six words that take a while")) > normal
    paces = []
    while voice.faster():
        paces.append(voice.rate_wpm)
    assert paces == [180, 200, 220, 240, 260, 280, 300]
    assert len(voice.get("six words that take a while")) < normal
    voice.close()


@pytest.mark.parametrize("rate", [0, 159, 301])
def test_a_pace_out_of_reach_is_refused(rate: int) -> None:
    """A setting that cannot be is named with what can."""
    with pytest.raises(CallerError, match="160 to 300"):
        Voice(HumSynthesiser(), rate_wpm=rate)


def test_orders_are_cut_into_sentences() -> None:
    """What is rendered ahead is what will be asked for."""
    hum = HumSynthesiser()
    voice = Voice(hum)
    voice.render_ahead(["Gums pale. Right?"])
    for sentence in voice.sentences("Gums pale. Right?"):
        voice.get(sentence)
    assert hum.rendered == ["Gums pale.", "Right?"]
    voice.close()
