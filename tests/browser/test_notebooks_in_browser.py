"""The shipped notebooks as `conformation open` shows them: they start by themselves and answer."""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
from opened_notebook import opened

pytestmark = [pytest.mark.browser, pytest.mark.slow]
NAMES = ("measure-a-dog", "compare-a-litter", "follow-a-litter", "read-a-standard",
         "how-an-angle-comes-out-of-three-tapes")  # fmt: skip
WAIT = 60_000  # ms
forms = pytest.mark.parametrize("form", [(), ("--app",)], ids=["lab", "app"])


@contextmanager
def _shown(chromium, home: Path, *options: str, size=(1280, 720)) -> Iterator[object]:
    """Open a notebook by the command and in a page; nothing may be asked of another machine."""
    outside: list[str] = []
    faulty: list[str] = []
    with opened(home, *options) as (running, address):
        page = chromium.new_page(viewport={"width": size[0], "height": size[1]})
        page.on("request", lambda one: outside.append(one.url))
        page.on("console", lambda one: faulty.append(one.text))
        page.goto(address)
        page.wait_for_selector(".jupyter-widgets", timeout=WAIT)
        yield page
        page.close()
        running.send_signal(signal.SIGINT)
        assert running.wait(30) == 0
    here = re.compile(r"(https?|wss?)://127\.0\.0\.1[:/]|data:|blob:")
    assert [url for url in outside if not here.match(url)] == []
    assert [text for text in faulty if "failed to activate" in text] == []


def _pairs(page: object) -> str:
    return str(page.locator("svg desc", has_text="cm at the withers").first.text_content())


@forms
def test_a_litter_opens_by_itself_and_follows_its_choosers(chromium, tmp_path, form) -> None:
    with _shown(chromium, tmp_path, "compare-a-litter", *form) as page:
        page.wait_for_selector("svg desc >> text=withers", state="attached", timeout=WAIT)
        assert "Cob" in _pairs(page)
        toggle = page.locator(".conformation-toggles button", has_text="Cob").first
        assert toggle.bounding_box()["height"] >= 44
        toggle.click()
        page.wait_for_function(
            "() => ![...document.querySelectorAll('svg desc')].find("
            "one => one.textContent.includes('at the withers')).textContent.includes('Cob')"
        )
        page.locator("select").last.select_option("Chest depth to height")
        page.wait_for_selector("svg text >> text=Chest depth to height", timeout=WAIT)
        assert not page.locator("[role=alert]").count()


def test_an_impossible_triangle_is_said_and_a_possible_one_drawn_again(chromium, tmp_path) -> None:
    with _shown(chromium, tmp_path, "how-an-angle-comes-out-of-three-tapes") as page:
        page.wait_for_selector("svg text >> text=across 21.0 cm", timeout=WAIT)
        across = page.locator(".widget-slider", has_text="Top of blade to elbow")
        across.locator(".noUi-handle").press("End")
        page.wait_for_selector("[role=alert] >> text=triangle", timeout=WAIT)
        across.locator(".noUi-handle").press("Home")
        for _ in range(3):
            across.locator(".noUi-handle").press("PageUp")
        page.wait_for_selector("svg text >> text=/across/", timeout=WAIT)


@forms
def test_a_faulty_standard_is_told_by_key(chromium, tmp_path, form) -> None:
    with _shown(chromium, tmp_path, "read-a-standard", *form) as page:
        area = page.locator(".conformation-text textarea")
        area.wait_for(timeout=WAIT)
        area.fill(area.input_value().replace('class = "about"', 'class = "abuot"', 1))
        area.blur()
        page.get_by_role("button", name="Check").click()
        page.wait_for_selector("[role=alert] >> text=own.toml", timeout=WAIT)
        assert "class" in page.locator("[role=alert]").inner_text()


@forms
def test_a_litter_is_weighed_and_then_shown_and_its_sheet_handed_over(
    chromium, tmp_path, form
) -> None:
    with _shown(chromium, tmp_path, "follow-a-litter", *form) as page:
        page.wait_for_selector(".kl-new", timeout=WAIT)
        page.locator(".kl-new input").first.fill("Ash")
        page.locator(".kl-new input[type=date]").fill(str(date.today()))  # noqa: DTZ011
        page.locator(".kl-new input").first.press("Enter")
        page.wait_for_selector(".kl-puppies strong >> text=Ash", timeout=WAIT)
        page.get_by_role("button", name="Begin the round").click()
        page.locator(".kl-input").fill("0,255 kg")
        page.locator(".kl-input").press("Enter")
        page.wait_for_selector(".kl-said:visible >> text=Stored", timeout=WAIT)
        page.get_by_role("button", name="Show the litter").click()
        page.wait_for_selector("p >> text=in what was measured of Ash", timeout=WAIT)
        page.get_by_role("button", name="Make its sheet").click()
        with page.expect_download(timeout=WAIT) as handed:
            page.locator("a[download$='.pdf']").click(timeout=WAIT)
        assert Path(handed.value.path()).read_bytes().startswith(b"%PDF")
        assert not page.locator("[role=alert]:visible").count()


@pytest.mark.parametrize("name", NAMES)
def test_the_code_is_out_of_sight_and_can_be_opened(chromium, tmp_path, name) -> None:
    with _shown(chromium, tmp_path, name) as page:
        code = page.locator(".jp-CodeCell .cm-content:visible, .jp-InputPlaceholder:visible")
        assert code.count() == 0
        page.locator(".lm-MenuBar-itemLabel", has_text=re.compile("^View$")).click()
        page.locator(".lm-Menu-itemLabel", has_text=re.compile("^Expand All Code$")).click()
        page.wait_for_selector(".jp-CodeCell .cm-content:visible", timeout=WAIT)
