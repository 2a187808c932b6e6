"""The litter panel as a breeder meets it: puppies added, a round typed, a death noted and undone.

What is stored is read from the records file without the kit. 44 px is the size the project asks
of everything a finger touches (WCAG 2.2, 2.5.5: 44 CSS px).
"""

from __future__ import annotations

import re
import sqlite3
from datetime import date, timedelta

import pytest

pytestmark = pytest.mark.browser

WIDE, TABLET = (1280, 720), (820, 1180)
NAMES = ("Ash", "Birch", "Cedar", "Doe", "Elm", "Fir")
WHELPED = str(date.today() - timedelta(days=10))  # noqa: DTZ011  (the panel's own day)


def add(litter, *names: str) -> None:
    """Add puppies one after the other, by keyboard."""
    for name in names:
        form = litter.page.locator(".kl-new")
        form.locator("input").first.fill(name)
        form.locator("input[type=date]").fill(WHELPED)
        form.locator("input").first.press("Enter")
        litter.page.wait_for_selector(f".kl-puppies strong >> text={name}")


def begin(litter, *also: str) -> None:
    """Tick further measurements and begin the round; weight is ticked already."""
    for title in also:
        litter.page.locator(".kl-what .kl-tick", has_text=title).locator("input").check()
    litter.page.get_by_role("button", name="Begin the round").click()
    litter.page.wait_for_selector(".kl-round", state="visible")


def enter(litter, text: str) -> None:
    litter.page.locator(".kl-input").fill(text)
    litter.page.locator(".kl-input").press("Enter")


def said(litter, words: str) -> None:
    litter.page.wait_for_selector(f".kl-said:visible >> text={words}", timeout=20_000)


def stored(litter) -> list[tuple[str, str, str]]:
    """Who was read as what on which side, in order, without what was taken back."""
    with sqlite3.connect(f"file:{litter.records}?mode=ro", uri=True) as connection:
        query = """select d.name, raw, side from readings r join dogs d on d.id = r.dog_id
                   where not withdrawn and not exists
                   (select 1 from readings s where s.supersedes = r.id) order by r.number"""
        return list(connection.execute(query))


def died(litter) -> list[str]:
    with sqlite3.connect(f"file:{litter.records}?mode=ro", uri=True) as connection:
        return [row[0] for row in connection.execute("select died from dogs order by number")]


def test_a_round_of_six_typed_at_speed_is_all_in_the_file(litter) -> None:
    litter.picture("litter-empty", WIDE)
    add(litter, *NAMES)
    litter.picture("litter-choose", WIDE)
    litter.picture("litter-choose", TABLET)
    begin(litter, "Girth of chest")
    texts = ["255", "0,248 kg", "9 oz", "231", "240.5", "262 g"]
    texts += ["17", "16,5", "6 1/2 in", "16", "17", "16.5"]
    assert litter.page.locator(".kl-who").inner_text().startswith("Ash")
    for text in texts[:6]:
        enter(litter, text)
    litter.page.wait_for_selector(".kl-title >> text=Girth")
    litter.picture("litter-round", WIDE)
    litter.picture("litter-round", TABLET)
    for text in texts[6:]:
        enter(litter, text)
    litter.page.wait_for_selector(".kl-who >> text=The round is done.")
    said(litter, "Fir")
    assert [row[:2] for row in stored(litter)] == list(zip(NAMES * 2, texts, strict=True))


def test_both_sides_are_taken_while_the_puppy_is_in_hand(litter) -> None:
    add(litter, "Ash", "Birch")
    more = litter.page.locator("select[aria-label='Another measurement']")
    more.select_option("forearm_length")
    begin(litter)
    for text in ("255", "248", "4.5", "4.4", "4.2"):
        enter(litter, text)
    said(litter, "Birch, length of forearm, left")
    assert litter.page.locator(".kl-title").inner_text() == "Length of forearm, right"
    litter.picture("litter-sides", WIDE)
    enter(litter, "4,3")
    litter.page.wait_for_selector(".kl-who >> text=The round is done.")
    said(litter, "Birch, length of forearm, right")
    assert stored(litter)[2:] == [
        ("Ash", "4.5", "left"), ("Ash", "4.4", "right"), ("Birch", "4.2", "left"),
        ("Birch", "4,3", "right"),
    ]  # fmt: skip


def test_what_cannot_be_read_stays_in_the_field_and_undo_takes_back(litter) -> None:
    add(litter, "Ash", "Birch")
    begin(litter)
    enter(litter, "heavy")
    said(litter, "Not stored: Ash")
    assert litter.page.locator(".kl-input").input_value() == "heavy"
    assert litter.page.locator(".kl-who").inner_text().startswith("Ash")
    enter(litter, "255")
    said(litter, "Stored")
    litter.page.locator(".kl-input").press("Control+z")
    said(litter, "Taken back: Ash")
    assert stored(litter) == []
    assert litter.page.locator(".kl-who").inner_text().startswith("Ash")
    litter.page.locator(".kl-input").press("Alt+ArrowDown")
    litter.page.wait_for_function(
        "() => document.querySelector('.kl-who').innerText.startsWith('Birch')"
    )


def change(litter, name: str):
    """Open the particulars of a puppy."""
    litter.page.get_by_role("button", name=f"change {name}").click()
    litter.page.wait_for_selector(".kl-change")
    return litter.page.locator(".kl-change")


def test_a_death_is_noted_leaves_the_round_and_is_undone(litter) -> None:
    add(litter, "Ash", "Birch")
    form = change(litter, "Birch")
    litter.picture("litter-change", TABLET)
    form.get_by_role("button", name="Leave it").click()
    assert died(litter) == ["", ""]
    day = change(litter, "Birch").get_by_label("Died, if it has")
    day.fill(str(date.fromisoformat(WHELPED) - timedelta(days=1)))
    day.press("Enter")
    said(litter, "cannot have died before it was born")
    form = change(litter, "Birch")
    form.get_by_label("Died, if it has").fill(WHELPED)
    form.get_by_role("button", name="Save").click()
    litter.page.wait_for_selector(f".kl-lost >> text=Birch died on {WHELPED}")
    assert died(litter) == ["", WHELPED]
    assert litter.page.locator(".kl-puppies li").count() == 1
    litter.picture("litter-death-noted", WIDE)
    begin(litter)
    assert litter.page.locator(".kl-grid tbody tr").count() == 1
    litter.page.get_by_role("button", name="End the round").click()
    litter.page.get_by_role("button", name="undo: Birch lives").click()
    litter.page.wait_for_selector(".kl-puppies strong >> text=Birch")
    assert died(litter) == ["", ""]


def test_a_name_and_a_whelping_date_can_be_put_right(litter) -> None:
    add(litter, "Ash")
    form = change(litter, "Ash")
    form.get_by_label("Name").fill("Aspen")
    earlier = str(date.fromisoformat(WHELPED) - timedelta(days=1))
    form.get_by_label("Whelped").fill(earlier)
    form.get_by_label("Name").press("Enter")
    litter.page.wait_for_selector(".kl-puppies strong >> text=Aspen")
    with sqlite3.connect(f"file:{litter.records}?mode=ro", uri=True) as connection:
        assert list(connection.execute("select name, born from dogs")) == [("Aspen", earlier)]


def test_a_fall_is_told_at_once_and_says_what_to_do(litter) -> None:
    add(litter, "Ash")
    with sqlite3.connect(litter.records) as connection:
        (dog,) = connection.execute("select id from dogs").fetchone()
    begin(litter)
    enter(litter, "300")
    said(litter, "Stored")
    with sqlite3.connect(litter.records) as connection:  # as if it had been yesterday
        connection.execute("drop trigger readings_update")
        connection.execute(
            "update readings set time = ? where dog_id = ?",
            (f"{date.fromisoformat(WHELPED) + timedelta(days=9)}T08:00:00", dog),
        )
    litter.page.get_by_role("button", name="End the round").click()
    litter.page.get_by_role("button", name="Begin the round").click()
    enter(litter, "291")
    asked = litter.page.locator(".kl-asked")
    asked.wait_for(state="visible")
    assert "weight 291 g is 9 g below the previous day" in asked.inner_text()
    assert "Weigh again, then call your vet." in asked.inner_text()
    litter.picture("litter-fall", TABLET)


SMALL = """() => [...document.querySelectorAll('.kit-litter :is(button, select, .kl-tick,'
  + ' input:not([type=checkbox]))')].filter(one => one.offsetParent)
  .map(one => [one.innerText || one.ariaLabel, one.getBoundingClientRect().height])
  .filter(([, height]) => height < 44)"""
OVER = """() => { const own = document.querySelector('.kit-litter');
  const edge = own.getBoundingClientRect().right + 1;
  return [...own.querySelectorAll('*')].filter(one => one.offsetParent && !one.closest('.kl-grid')
    && one.getBoundingClientRect().right > edge).map(one => one.outerHTML.slice(0, 80)) }"""


CUT = """() => [...document.querySelectorAll('.kl-puppy strong')]
  .filter(one => one.scrollWidth > one.clientWidth || one.getBoundingClientRect().right
    > one.closest('.kl-puppy').querySelector(':scope > input').getBoundingClientRect().left)
  .map(one => one.textContent)"""


@pytest.mark.parametrize("size", [WIDE, TABLET], ids=["wide", "tablet"])
def test_everything_a_finger_touches_is_large_enough_and_nothing_is_cut_off(litter, size) -> None:
    litter.page.set_viewport_size({"width": size[0], "height": size[1]})
    add(litter, *NAMES)
    form = change(litter, "Fir")
    assert litter.page.evaluate(CUT) == []
    assert (litter.page.evaluate(SMALL), litter.page.evaluate(OVER)) == ([], [])
    form.get_by_role("button", name="Leave it").click()
    begin(litter, "Girth of chest")
    assert (litter.page.evaluate(SMALL), litter.page.evaluate(OVER)) == ([], [])


def test_a_dead_kernel_is_said_and_nothing_stored_is_lost(litter) -> None:
    add(litter, "Ash", "Birch")
    begin(litter)
    enter(litter, "255")
    said(litter, "Stored")
    litter.kill_kernel()
    litter.page.wait_for_selector(".kl-banner >> text=Nothing can be entered now", timeout=20_000)
    assert [row[1] for row in stored(litter)] == ["255"]
    assert litter.page.locator(".kl-input").is_disabled()


def test_an_entry_the_kit_never_answered_is_said_until_a_person_has_seen_it(litter) -> None:
    add(litter, "Ash", "Birch")
    begin(litter)
    litter.stop_kernel()
    enter(litter, "255")
    litter.page.wait_for_selector(".kl-banner >> text=Nothing can be entered now", timeout=20_000)
    litter.kill_kernel()
    banner = litter.page.locator(".kl-banner")
    for _ in range(2):  # loaded again without a word, it is said again
        litter.open()
        banner.wait_for(state="visible", timeout=20_000)
        assert "Ash, weight" in banner.inner_text()
        assert "“255”" in banner.inner_text()
    banner.get_by_role("button", name="I have seen it").click()
    assert banner.is_hidden()
    litter.open()
    litter.page.wait_for_timeout(500)
    assert banner.is_hidden()


def test_the_whole_round_goes_by_keyboard_in_an_order_that_makes_sense(litter) -> None:
    add(litter, "Ash", "Birch")
    begin(litter)
    enter(litter, "255")
    assert litter.page.evaluate("document.activeElement.className") == "kl-input"
    litter.page.keyboard.press("Tab")
    names = []
    for _ in range(4):
        names.append(litter.page.evaluate("document.activeElement.innerText"))
        litter.page.keyboard.press("Tab")
    assert names == ["Store", "Take back", "Skip", "End the round"]
    assert re.search("Birch", litter.page.locator(".kl-who").inner_text())
