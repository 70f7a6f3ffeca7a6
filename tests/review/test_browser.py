"""The pages in a real browser: Chromium, without network.

Needs Debian's chromium and chromium-driver; where they are missing these tests are reported as not
run, except under CI, where they fail. Accessibility is judged by axe-core (Deque) against WCAG 2.2
AA (W3C Recommendation, 5 October 2023).
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from datetime import date
from importlib.metadata import files
from pathlib import Path
from typing import Any

import pytest
from moved_clock import MovedClock
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from handsfree.records import Store
from handsfree.review.gather import gather
from handsfree.review.overview import gather_all
from handsfree.review.page import overview_page, report_page
from review.conftest import TODAY, check, fill

pytestmark = pytest.mark.browser

NASTY = ("<script>document.title='run'</script>", "=cmd()", "🐕‍🦺 Ünï", "כלב طيب", "x" * 200)
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[webdriver.Chrome]:
    """Yield a headless Chromium whose every request would be refused and is counted."""
    binary, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if binary is None or driver is None:
        reason = "needs Debian's packages chromium, chromium-driver (.ci/run installs them)"
        if os.environ.get("CI", "").lower() in ("1", "true"):
            pytest.fail(reason)
        pytest.skip(reason)
    options = webdriver.ChromeOptions()
    options.binary_location = binary
    profile = tmp_path_factory.mktemp("chromium")
    for argument in (
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--disable-background-networking",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    opened = webdriver.Chrome(options=options, service=Service(driver))
    opened.execute_cdp_cmd(
        "Network.emulateNetworkConditions",
        {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0},
    )
    yield opened
    opened.quit()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Write the pages once: a full dog, one without a check, nasty names, the overview."""
    folder = tmp_path_factory.mktemp("pages")
    clock = MovedClock()
    with Store.open(folder / "data", clock=clock) as store:
        dog = fill(store, clock)
        photo = _png()
        store.photos.add(
            dog.id, item="ears.look", side="left", kind="image/png", width=8, height=8, data=photo
        )
        texts = {"full": report_page(gather(store, dog.id, TODAY))}
        empty = store.dogs.add("Sorrel")
        texts["empty"] = report_page(gather(store, empty.id, TODAY))
        for number, name in enumerate(NASTY):
            nasty = store.dogs.add(name, breed=name, owner=name, known=(name,))
            store.lumps.add(nasty.id, name)
            check(store, nasty, [("ears.look", "left", "red", None)])
            texts[f"nasty{number}"] = report_page(gather(store, nasty.id, TODAY))
        texts["all"] = overview_page(gather_all(store, TODAY))
    written = {}
    for name, text in texts.items():
        written[name] = folder / f"{name}.html"
        written[name].write_text(text, encoding="utf-8")
    return written


def _png() -> bytes:
    import io

    from PIL import Image

    file = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(file, "PNG")
    return file.getvalue()


def _log(browser: webdriver.Chrome, kind: str) -> list[dict[str, Any]]:
    """Return what was logged since it was last asked for."""
    return list(browser.get_log(kind))  # type: ignore[no-untyped-call]  # has no types


def _size(browser: webdriver.Chrome, width: int, height: int = 900) -> None:
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )


def _scheme(browser: webdriver.Chrome, scheme: str) -> None:
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )


def _axe() -> str:
    (script,) = [f for f in files("selenium-axe-python") or () if f.name == "axe.min.js"]
    return Path(str(script.locate())).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "scheme", "width"),
    [
        ("full", "light", 1280),
        ("full", "light", 360),
        ("full", "dark", 1280),
        ("full", "dark", 360),
        ("empty", "light", 360),
        ("nasty0", "dark", 1280),
        ("all", "light", 1280),
        ("all", "dark", 360),
    ],
)
def test_axe_finds_nothing(
    browser: webdriver.Chrome, pages: dict[str, Path], name: str, scheme: str, width: int
) -> None:
    """axe-core reports no violation at WCAG 2.2 AA, wide and narrow, light and dark."""
    _size(browser, width)
    _scheme(browser, scheme)
    browser.get(pages[name].as_uri())
    browser.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    browser.execute_script(_axe())
    found: dict[str, Any] = browser.execute_async_script(
        "const done = arguments[1]; axe.run(document, {runOnly: arguments[0]}).then(done)", WCAG
    )
    told = [(v["id"], [node["target"] for node in v["nodes"]][:3]) for v in found["violations"]]
    assert told == []
    assert len(found["passes"]) > 10


@pytest.mark.parametrize("name", ["full", "empty", "nasty0", "nasty3", "nasty4", "all"])
def test_nothing_is_asked_of_any_network(
    browser: webdriver.Chrome, pages: dict[str, Path], name: str
) -> None:
    """Opened from disk with the network off, the page asks for its own file alone and is well."""
    _log(browser, "performance")
    _log(browser, "browser")
    browser.get(pages[name].as_uri())
    messages = [json.loads(one["message"])["message"] for one in _log(browser, "performance")]
    asked = [
        message["params"]["request"]["url"]
        for message in messages
        if message["method"] == "Network.requestWillBeSent"
    ]
    assert [url for url in asked if not url.startswith("data:")] == [pages[name].as_uri()]
    assert _log(browser, "browser") == []  # no breach of its own policy, no error


@pytest.mark.parametrize("number", range(len(NASTY)))
def test_any_name_is_shown_whole_and_harmless(
    browser: webdriver.Chrome, pages: dict[str, Path], number: int
) -> None:
    """A name is text and only text, all of it, and never widens the page."""
    _size(browser, 360)
    browser.get(pages[f"nasty{number}"].as_uri())
    assert browser.title == f"{NASTY[number]}: health check, {TODAY.isoformat()}"
    assert browser.find_element(By.TAG_NAME, "h1").text == NASTY[number]
    assert browser.find_elements(By.TAG_NAME, "script") == []
    assert _overhang(browser) == 0


def _overhang(browser: webdriver.Chrome) -> int:
    return int(
        browser.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
    )


@pytest.mark.parametrize("name", ["full", "all"])
def test_it_reflows_at_four_hundred_per_cent(
    browser: webdriver.Chrome, pages: dict[str, Path], name: str
) -> None:
    """At 320 pixels, which is 1280 at 400 %, nothing stands outside (WCAG 1.4.10)."""
    _size(browser, 320, 256)
    browser.get(pages[name].as_uri())
    assert _overhang(browser) == 0
    over = browser.execute_script(
        "return [...document.querySelectorAll('main *')].filter(e => "
        "e.getBoundingClientRect().right > 321 && !e.closest('.scroll')).length"
    )
    assert over == 0


def test_keys_alone_reach_everything(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    """Tab visits every link and every table of values, and each opens by Enter."""
    _size(browser, 1280)
    browser.get(pages["full"].as_uri())
    wanted = browser.execute_script("return document.querySelectorAll('a, summary').length")
    body = browser.find_element(By.TAG_NAME, "body")
    seen = set()
    for _ in range(wanted + 2):
        browser.switch_to.active_element.send_keys(Keys.TAB)
        focused = browser.switch_to.active_element
        if focused == body:
            break
        seen.add(focused.id)
        if focused.tag_name == "summary":
            ring = focused.value_of_css_property("outline-style")
            assert ring == "solid"
    assert len(seen) == wanted
    summary = browser.find_element(By.TAG_NAME, "summary")
    summary.send_keys(Keys.ENTER)
    assert summary.find_element(By.XPATH, "..").get_attribute("open") is not None


def test_charts_show_what_is_stored(browser: webdriver.Chrome, pages: dict[str, Path]) -> None:
    """Values read back from the page, as table and as places in the drawing, are the records'."""
    _size(browser, 1280)
    browser.get(pages["full"].as_uri())
    rows = browser.execute_script(
        "return [...document.querySelectorAll('#cweight-h ~ details tbody tr')]"
        ".map(r => [r.cells[0].textContent, r.cells[1].textContent])"
    )
    stored = (22.4, 23.6, 23.9, 24.1, 23.8, 24.0, 23.9)
    assert [float(value) for _, value in rows] == list(stored)
    assert rows[0][0] == date(2026, 11, 4).isoformat()
    dots = browser.execute_script(
        "return [...document.querySelectorAll('#cweight-h ~ svg .dot')]"
        ".map(d => +d.getAttribute('cy'))"
    )
    grid = browser.execute_script(
        "return [...document.querySelectorAll('#cweight-h ~ svg .tick.end')]"
        ".map(t => [+t.textContent, +t.getAttribute('y') - 4]).filter(t => !isNaN(t[0]))"
    )
    (low, low_y), (high, high_y) = grid[0], grid[-1]
    drawn = [low + (y - low_y) * (high - low) / (high_y - low_y) for y in dots]
    assert drawn == pytest.approx(stored[::-1], abs=0.01)


def test_the_overview_is_complete_without_script_and_sorts_with_it(
    browser: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    """Most urgent first without script; with it a search and sorting by name, by keys alone."""
    _size(browser, 1280)
    url = pages["all"].as_uri()
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    browser.get(url)
    rows = browser.find_elements(By.CSS_SELECTOR, "#dogs tbody tr")
    names = [row.find_element(By.TAG_NAME, "bdi").text for row in rows]
    assert names[0] == "Bramble"
    assert {*names} == {"Bramble", "Sorrel", *NASTY}
    assert not browser.find_element(By.CLASS_NAME, "tools").is_displayed()
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    browser.get(url)
    search = browser.find_element(By.ID, "search")
    search.send_keys("SORR")
    shown = [
        r for r in browser.find_elements(By.CSS_SELECTOR, "#dogs tbody tr") if r.is_displayed()
    ]
    assert len(shown) == 1
    assert browser.find_element(By.ID, "count").text == "1 of 7 dogs"
    search.send_keys(Keys.BACKSPACE * 4)
    button = browser.find_element(By.CSS_SELECTOR, "#dogs thead button")
    button.send_keys(Keys.ENTER)
    first = browser.find_element(By.CSS_SELECTOR, "#dogs thead th").get_attribute("aria-sort")
    assert first == "ascending"
    names = [e.text for e in browser.find_elements(By.CSS_SELECTOR, "#dogs tbody bdi")]
    assert names.index("Bramble") < names.index("Sorrel")
    button.send_keys(Keys.ENTER)
    names = [e.text for e in browser.find_elements(By.CSS_SELECTOR, "#dogs tbody bdi")]
    assert names.index("Bramble") > names.index("Sorrel")


def test_the_first_printed_page_serves_alone(
    browser: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    """On A4 what needs doing, what changed and the last numbers end before the first break."""
    _size(browser, 688, 1000)  # A4 less its margins, at 96 pixels an inch
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    browser.get(pages["full"].as_uri())
    end = browser.execute_script(
        "return document.querySelector('.first').getBoundingClientRect().bottom + scrollY"
    )
    headings = [h.text for h in browser.find_elements(By.CSS_SELECTOR, ".first h2")]
    after = browser.find_element(By.CLASS_NAME, "first").value_of_css_property("break-after")
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert headings == ["What needs doing", "What changed", "Last numbers"]
    assert after == "page"
    assert end < 1017  # 297 mm less twice 14 mm
