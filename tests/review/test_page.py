"""The pages as text: what stands on them, in which order, and that nothing in them can do harm."""

from __future__ import annotations

import base64
import hashlib
import re
from datetime import date, timedelta

import pytest
from moved_clock import MovedClock

from handsfree.protocol.loader import load
from handsfree.records import Dog, Store
from handsfree.review.bands import band_for
from handsfree.review.charts import Chart, Point
from handsfree.review.figure import Mark, figure, spot_of
from handsfree.review.gather import gather
from handsfree.review.overview import gather_all
from handsfree.review.page import overview_page, report_page
from handsfree.review.wording import LEVEL_WORDS
from review.conftest import TODAY, Row, check

NASTY = ("<script>alert(1)</script>", "=cmd()", "🐕‍🦺 Ünï", "כלב طيب", "x" * 200, "\"'><b>&amp;")


def _text(store: Store, dog: Dog, on: date = TODAY) -> str:
    return report_page(gather(store, dog.id, on))


def test_sections_come_in_the_order_of_their_use(store: Store, bramble: Dog) -> None:
    """What to do, what changed, numbers, places, charts, answers, ways, cautions."""
    found = re.findall(r"<h2 id=\"(\w+)\"", _text(store, bramble))
    order = ["doing", "changed", "card", "care", "where", "numbers", "regions", "taken"]
    assert found == [*order, "cautions"]


def test_each_need_has_its_reason_and_source(store: Store, bramble: Dog) -> None:
    """Every row that fired stands there with what led to it and where it comes from."""
    report = gather(store, bramble.id, TODAY)
    assert [need.level for need in report.needs] == sorted(
        (need.level for need in report.needs),
        key=["now", "same_day", "days", "next_visit", "watch"].index,
    )
    assert all(need.because and need.source for need in report.needs)
    assert any("Left ear red" in need.because for need in report.needs)


def test_nothing_not_observed_is_called_usual(store: Store, bramble: Dog) -> None:
    """What the dog refused and what was skipped stand there with why; so do regions not asked."""
    report = gather(store, bramble.id, TODAY)
    teats = next(part for part in report.regions if part.id == "mammary")
    assert teats.sum == "1 not observed"
    assert teats.lines[0].value == "not observed: the dog would not have it"
    assert "moving about" in report.not_asked
    assert "so nothing is known of it today" in _text(store, bramble)


def test_a_dog_without_a_check_has_a_page(store: Store) -> None:
    """No check: the page says so, and claims nothing."""
    text = _text(store, store.dogs.add("Sorrel"))
    assert "There is no check of this dog yet" in text
    assert "Nothing found" not in text


def test_one_check_has_nothing_to_compare(store: Store, clock: MovedClock) -> None:
    """After a first check the page says that there is nothing to compare with."""
    dog = store.dogs.add("Sorrel")
    check(store, dog, [("weight.kg", None, 12.0, "kg")])
    text = _text(store, dog, clock.now.date())
    assert "This is the first check" in text
    assert "1 reading; the last is 12 kg, taken today; too few readings" in text.replace("\n", " ")


def test_an_unfinished_check_is_told_as_such(store: Store, clock: MovedClock) -> None:
    """A check that was broken off is judged on what it has, and the page says so."""
    dog = store.dogs.add("Sorrel")
    check(store, dog, [("ears.look", "left", "red", None)], finish=None)
    text = _text(store, dog, clock.now.date())
    assert "The check was not finished" in text
    assert "needed to say that all is well" in text


def test_what_was_told_then_is_told_if_it_differs(store: Store, clock: MovedClock) -> None:
    """A stored result of another level is not hidden by today's rules."""
    dog = store.dogs.add("Sorrel")
    exam_id = check(store, dog, [("ears.look", "left", "red", None)])
    store.results.keep(exam_id, rules="older", level="watch", body={"fired": []})
    assert "When the check ended it came to: watch." in _text(store, dog, clock.now.date())


def test_pounds_are_shown_where_they_are_chosen(store: Store, bramble: Dog) -> None:
    """With imperial units weights, temperatures and lumps are shown in them everywhere."""
    store.settings.set("units", "imperial")
    report = gather(store, bramble.id, TODAY)
    units = {chart.title: chart.unit for chart in report.charts}
    assert units["Weight"] == "lb"
    assert units["Temperature"] == "°F"
    temperature = next(chart for chart in report.charts if chart.title == "Temperature")
    assert temperature.points[-1].value == pytest.approx(102.74)
    assert (temperature.band_low, temperature.band_high) == pytest.approx((99.86, 103.1))
    told = " ".join([*report.changes, *(need.because for need in report.needs)])
    assert "49.4 lb, was 52 lb" in told
    assert "102.7 °F" in told
    assert " kg" not in told
    assert "°C" not in told


@pytest.mark.parametrize("name", NASTY)
def test_what_people_enter_is_text(store: Store, clock: MovedClock, name: str) -> None:
    """No entered text becomes markup, on either page; no script, no other host, no inline style."""
    dog = store.dogs.add(name, breed=name, owner=name, looks=name, known=(name,), handling=name)
    store.lumps.add(dog.id, name, vet_result=name)
    rows: list[Row] = [("ears.look", "left", "red", None), ("lumps.known", "lump1", "same", None)]
    check(store, dog, rows)
    for text in (_text(store, dog), overview_page(gather_all(store, TODAY))):
        assert name not in text or not set(name) & set("<>&\"'")
        assert "<b>" not in text
        assert "alert(1)</script>" not in text
        assert not re.search(r"(src|href)=\"(?!#|data:image/)", text)
        assert not re.search(r"<[^>]+\s(style|on\w+)=", text)


def test_the_policy_names_the_page_s_own_style(store: Store, bramble: Dog) -> None:
    """The digest in the policy is that of the style in the page (W3C CSP level 3)."""
    for text, tag in (
        (_text(store, bramble), "style"),
        (overview_page(gather_all(store, TODAY)), "style"),
        (overview_page(gather_all(store, TODAY)), "script"),
    ):
        match = re.search(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        assert match is not None
        digest = base64.b64encode(hashlib.sha256(match[1].encode()).digest()).decode()
        assert f"'sha256-{digest}'" in text.replace("&#39;", "'").replace("&#43;", "+")
        assert "default-src 'none'" in text


def test_the_overview_is_sorted_by_urgency(store: Store, bramble: Dog, clock: MovedClock) -> None:
    """The most urgent dog first; then those that were never judged, by name."""
    well = store.dogs.add("Aster")
    check(store, well, [("ears.look", "left", "clean", None)])
    store.dogs.add("Zinnia")
    store.dogs.add("Clover")
    names = [row.name for row in gather_all(store, TODAY).rows]
    assert names == ["Bramble", "Aster", "Clover", "Zinnia"]


def test_the_overview_and_the_page_agree_on_care(store: Store, bramble: Dog) -> None:
    """What is due next is the same by the quick way and by reading the whole past."""
    from handsfree.judging.care import calendar
    from handsfree.judging.gather import care_facts, history_of
    from handsfree.review.dues import dues_of

    quick = dues_of(store, bramble.id, TODAY)
    whole = calendar(
        store.subject(bramble.id, TODAY),
        history_of(store, bramble.id),
        care_facts(store, bramble.id),
        TODAY,
    )
    assert quick == whole


def test_the_quick_past_is_the_whole_past(store: Store, bramble: Dog, clock: MovedClock) -> None:
    """Reading values alone judges as reading every finding does, weights by hand included."""
    from handsfree.judging.gather import history_of
    from handsfree.judging.past import Past
    from handsfree.review.earlier import past_before

    store.weights.enter(bramble.id, 23.0, at=clock.now - timedelta(days=40))
    last = store.exams.of_dog(bramble.id, limit=1)[0]
    quick = past_before(store, last, store.exams.days(bramble.id))
    whole = Past.of(history_of(store, bramble.id, before=last.id))
    assert quick.exams == whole.exams
    for item, side in {(a.item, a.side) for a in store.exams.answers(last.id)}:
        assert quick.of_item(item, side) == whole.of_item(item, side)


def test_many_readings_keep_their_uncertainty() -> None:
    """A long series is a line with an area about it, and every value stays in the chart."""
    points = tuple(
        Point(on=TODAY + timedelta(days=n), value=1.5 + n % 3 / 10, low=1.0, high=2.0)
        for n in range(100)
    )
    chart = Chart(key="c", title="Refill", unit="s", points=points)
    assert 'class="cloud"' in chart.svg
    assert chart.svg.count('class="dot"') == 1


@pytest.mark.parametrize("value", [0.0, 0.001, 1e6])
def test_a_single_or_flat_series_is_drawn(value: float) -> None:
    """One value, no spread, zero and very large values each give a drawing without error."""
    one = Chart(key="c", title="X", unit="kg", points=(Point(on=TODAY, value=value),))
    assert "nan" not in one.svg
    flat = Chart(
        key="c",
        title="X",
        unit="kg",
        points=tuple(Point(on=TODAY + timedelta(days=n), value=value) for n in range(4)),
    )
    assert "nan" not in flat.svg


def test_bands_have_sources_that_are_listed(store: Store, bramble: Dog) -> None:
    """Each band names a source of the check's files; a puppy has none."""
    sources = load().sources
    subject = store.subject(bramble.id, TODAY)
    items = ("breaths.rate", "heart.rate", "temperature.degrees", "mouth.refill")
    for item in items:
        band = band_for(item, subject)
        assert band is not None
        assert band.source in sources
    pup = store.dogs.add("Pip", birth=TODAY - timedelta(days=60))
    assert all(band_for(item, store.subject(pup.id, TODAY)) is None for item in items)
    assert band_for("weight.kg", subject) is None


def test_every_finding_on_the_body_has_a_spot() -> None:
    """Each region of the body has a place in the figure, on the side that was named."""
    protocol = load()
    nowhere = {"kennel", "now", "noticed", "history", "watch", "lumps"}
    for region in protocol.regions.values():
        for question in region.question:
            for side in question.sides or (None,):
                spot = spot_of(f"{region.id}.{question.id}", side)
                if spot is None:
                    assert region.id in nowhere
                else:
                    assert spot[1] == (re.findall("left|right", side or "") or [""])[0]
                    figure([Mark(number=1, spot=spot[0], side=spot[1])])


def test_every_place_of_a_lump_has_a_spot() -> None:
    """Whatever place the grammar offers for a lump stands somewhere in the figure."""
    question = load().question("lumps.new_place")
    for place in question.values:
        spot = spot_of("lumps.known", None, f"the left {place.replace('_', ' ')}")
        assert spot is not None, place
        assert spot[1] == "left"


def test_marks_do_not_hide_each_other() -> None:
    """Twelve marks on one spot are drawn in twelve places."""
    marks = [Mark(number=n, spot="ear", side="left") for n in range(1, 13)]
    left = str(figure(marks)).split("</figure>")[0]
    places = re.findall(r'class="find" x="(\d+)" y="(\d+)"', left)
    assert len(places) == len(set(places)) == 12


WEIGHED: list[Row] = [("weight.scale", None, "platform", None), ("weight.kg", None, 12.4, "kg")]


def test_a_lone_measurement_is_shown_as_one(store: Store, clock: MovedClock) -> None:
    """The page says that only this was measured, and that there is no check."""
    dog = store.dogs.add("Sorrel")
    clock.now = clock.now.replace(month=11, day=20)
    check(store, dog, WEIGHED, routine="measure_weight")
    report = gather(store, dog.id, TODAY)
    assert (report.level, report.vital_missing, report.not_asked) == ("none_found", "", ())
    text = _text(store, dog)
    assert "Only this was measured: the weight." in text
    assert "There is no check of this dog yet." in text
    assert "Not enough" not in text
    assert "not looked at" not in text.lower()


def test_a_lone_measurement_does_not_hide_the_last_check(store: Store, bramble: Dog) -> None:
    """The page tells what the check before it came to; the overview keeps its level."""
    before = gather(store, bramble.id, TODAY)
    (row,) = gather_all(store, TODAY).rows
    check(store, bramble, [("weight.kg", None, 22.4, "kg")], routine="measure_weight")
    report = gather(store, bramble.id, TODAY)
    assert report.alone[0] == "Only this was measured: the weight."
    assert report.alone[-1].startswith("The last check, ")
    assert report.alone[-1].endswith(f"came to: {LEVEL_WORDS[before.level]}.")
    (after,) = gather_all(store, TODAY).rows
    assert (after.level, after.open_matters) == (row.level, row.open_matters)


def test_a_measured_fever_counts_in_the_overview(store: Store, bramble: Dog) -> None:
    """A measurement that set something off stands there as a check would."""
    fever: list[Row] = [
        ("temperature.site", None, "rectal", None),
        ("temperature.degrees", None, 41.2, "Cel"),
    ]
    check(store, bramble, fever, routine="measure_temperature")
    (row,) = gather_all(store, TODAY).rows
    assert row.level == "now"
