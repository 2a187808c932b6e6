"""What the teaching notebooks are put together from."""

from __future__ import annotations

import base64
import math
import re
from pathlib import Path
from xml.etree import ElementTree

import ipywidgets as widgets
import pytest

from kit.drawing.budget import budget
from kit.drawing.differences import NOT_TOLD, TOLD, differences
from kit.drawing.joint import joint
from kit.drawing.litter import litter
from kit.drawing.moved import moved
from kit.drawing.scene import Circle, Group, Line, Scene, Segment, Style, Text
from kit.drawing.scene import Path as Curve
from kit.drawing.spread import spread
from kit.drawing.svg import to_svg
from kit.panels.lessons.demo import SEXES, demo_dog, demo_dogs, figure_of
from kit.panels.lessons.findings import findings_in_sentences, report_button
from kit.panels.lessons.litter import USUAL, pairs_in, shared_traits, trait_table
from kit.panels.lessons.live import Toggles, button, choice, live, several, slider
from kit.panels.lessons.page import as_html, download, notice, table
from kit.panels.lessons.standards import (
    about,
    clause_table,
    own_standard,
    standards_by_title,
    with_clauses_in,
    words,
)
from kit.quantities.errors import DataFileError, GeometryError
from kit.standards.own import read_with_words, save_standard, standard_from_text, standard_text
from kit.standards.standard import load_standard, shipped_standards
from kit.traits.three_tapes import angle_from_tapes, distance_across, two_ways

TERRIER = "common-practice-terrier"


def _is_one_svg(scene: Scene) -> str:
    svg = to_svg(scene)
    assert ElementTree.fromstring(svg).tag.endswith("svg")  # noqa: S314  (our own text)
    assert "nan" not in svg
    return svg


# Three tapes


@pytest.mark.parametrize(("angle", "error"), [(110, 3.8), (145, 8.0), (160, 14.1)])
def test_the_straight_line_rule_gives_the_known_figures(angle: float, error: float) -> None:
    """By hand: 20 cm bones, 0.5 cm a tape; (c² + 2 (a − b cos γ)²)½ · 0.5 / (a b sin γ)."""
    lengths = (20.0, 20.0, distance_across(20, 20, angle))
    turned = math.radians(angle)
    by_hand = 0.5 / (20 * 20 * math.sin(turned)) * math.sqrt(
        lengths[2] ** 2 + 2 * (20 - 20 * math.cos(turned)) ** 2
    )  # fmt: skip
    found = two_ways(lengths, (0.5, 0.5, 0.5))
    assert found.value == pytest.approx(angle)
    assert math.degrees(by_hand) == pytest.approx(error, abs=0.05)


def test_a_right_angle_stands_on_three_four_five() -> None:
    assert distance_across(3, 4, 90) == pytest.approx(5)
    assert angle_from_tapes((3, 4, 5), (0.01, 0.01, 0.01)).value == pytest.approx(90)


def test_tapes_that_close_no_triangle_are_said() -> None:
    with pytest.raises(GeometryError, match="triangle"):
        angle_from_tapes((10, 10, 25), (0.5, 0.5, 0.5))


def test_where_most_draws_close_no_triangle_nothing_is_claimed() -> None:
    row = two_ways((8, 8, distance_across(8, 8, 178)), (2, 2, 2))
    assert row.drawn is None
    assert "nothing can be said" in _is_one_svg(spread([row]))


def test_pictures_of_the_joint_say_its_figure() -> None:
    lengths = (20.0, 18.0, distance_across(20, 18, 120))
    estimate = angle_from_tapes(lengths, (0.5, 0.5, 0.5))
    assert "120°" in _is_one_svg(joint(estimate, lengths))
    shares = [int(part) for part in re.findall(r">(\d+) %<", _is_one_svg(budget(estimate)))]
    assert len(shares) == 3
    assert sum(shares) == pytest.approx(100, abs=2)
    row = two_ways(lengths, (0.5, 0.5, 0.5))
    assert row.drawn is not None
    assert f"± {row.uncertainty:.1f}°" in _is_one_svg(spread([row]))


# Litters


def test_moving_shifts_every_point_alike() -> None:
    look = Style("coat")
    shape = Curve((0, 0), (Segment((1, 1)), Segment((2, 2), (3, 3), (4, 4))), look, closed=True)
    parts = (Circle((5, 5), 1, look), Line((6, 6), (7, 7), look), Text((8, 8), "x"))
    group, alone = moved((Group(parts, shape), shape), (10, -1))
    assert isinstance(group, Group)
    assert isinstance(alone, Curve)
    assert group.clip is not None
    assert alone.start == (10, -1)
    assert alone.segments == (Segment((11, 0)), Segment((12, 1), (13, 2), (14, 3)))
    assert group.clip.segments is alone.segments
    circle, line, text = group.primitives
    assert (circle.centre, line.start, line.end, text.at) == (  # type: ignore[union-attr]
        (15, 4), (16, 5), (17, 6), (18, 7))  # fmt: skip


def test_dogs_of_a_litter_stand_on_one_scale() -> None:
    """The names stand in the order given, the heights in cm as the readings say."""
    dogs = demo_dogs()
    svg = _is_one_svg(litter({name: figure_of(dog) for name, dog in dogs.items()}))
    assert re.findall(r">(\w+)</text>\n<text[^>]*>[\d.]+ cm at the withers", svg) == list(SEXES)


def test_without_a_dog_the_picture_says_so() -> None:
    assert "Choose a dog" in _is_one_svg(litter({}))
    assert "two dogs" in _is_one_svg(differences([]))


def test_the_long_dog_is_told_from_the_others_by_its_length() -> None:
    """data/README.md: Bryony was built too long; nothing much is wrong with Alder."""
    dogs = demo_dogs()
    pairs = pairs_in(dogs, "length_to_height_from_prosternum")
    assert len(pairs) == 15
    with_bryony = [pair for pair in pairs if "Bryony" in (pair.first, pair.second)]
    assert all(pair.first == "Bryony" and pair.can_be_told for pair in with_bryony)
    svg = _is_one_svg(differences(pairs))
    told = sum(pair.can_be_told for pair in pairs)
    assert svg.count(f">{TOLD}<") == told
    assert svg.count(f">{NOT_TOLD}<") == 15 - told


def test_the_table_of_a_litter_has_every_dog_and_says_what_is_missing() -> None:
    dogs = demo_dogs()
    assert set(USUAL) <= set(shared_traits(dogs).values())
    shown = trait_table(dogs, ["tail_to_hock", *USUAL])
    assert all(name in shown for name in dogs)
    assert "not measured" in shown
    assert "Choose" in trait_table({}, USUAL)


# Standards


def test_every_shipped_standard_can_be_read() -> None:
    assert set(standards_by_title().values()) == set(shipped_standards())
    for name in shipped_standards():
        standard = load_standard(name)
        assert clause_table(standard).count("<tr>") == len(standard.clauses) + 1
        assert str(len(standard.clauses)) in about(standard)


def test_a_wider_reading_of_a_word_moves_its_limits_alone() -> None:
    usual = {clause.number: clause for clause in load_standard(TERRIER).clauses}
    wide = read_with_words(TERRIER, words(10, 8, 2, 12))
    for clause in wide.clauses:
        before = usual[clause.number]
        if clause.wording == "about" and clause.target is not None and clause.low is not None:
            half = 8 if clause.trait.endswith("angle") else abs(clause.target) * 0.10
            assert clause.target - clause.low == pytest.approx(half)
        elif clause.trait == "length_to_height_from_prosternum":
            assert (clause.low, clause.high) == pytest.approx((1.02, 1.12))
        elif clause.wording not in {"about", "slightly"}:
            assert clause == before
    assert {c.wording for c in with_clauses_in(wide, ("about",)).clauses} == {"about"}


def test_a_faulty_standard_is_named_and_not_saved(tmp_path: Path) -> None:
    faulty = standard_text(TERRIER).replace('trait = "neck_to_head"', 'trait = "neck_to_haed"', 1)
    with pytest.raises(DataFileError, match=r"mine\.toml.*trait.*neck_to_head"):
        save_standard(faulty, tmp_path, "mine.toml")
    assert not list(tmp_path.iterdir())


def test_a_sound_standard_is_saved_and_read_back(tmp_path: Path) -> None:
    path = save_standard(standard_text(TERRIER), tmp_path / "new", "mine.toml")
    assert load_standard(path) == load_standard(TERRIER)


@pytest.mark.parametrize("name", ["../mine.toml", "mine", "", "a/b.toml", ".toml"])
def test_a_name_that_leaves_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(DataFileError, match="name"):
        save_standard(standard_text(TERRIER), tmp_path, name)


def test_the_form_checks_and_saves(tmp_path: Path) -> None:
    _, text, row, place = own_standard(tmp_path).children
    check, name, save = row.children
    text.value = text.value.replace('class = "about"', 'class = "abuot"', 1)
    name.value = "club.toml"
    check.click()
    assert 'role="alert"' in place.value
    assert "club.toml" in place.value
    assert "abuot" in place.value
    text.value = standard_text(TERRIER)
    check.click()
    assert "Nothing wrong" in place.value
    save.click()
    assert standard_from_text((tmp_path / "club.toml").read_text(encoding="utf-8")).clauses


# Pages


def test_a_fault_in_a_callback_is_shown() -> None:
    def fails(value: float) -> str:
        raise DataFileError("no such dog") if value > 5 else ZeroDivisionError("by nothing")

    knob = slider("Value", 1, 0, 10)
    _, place = live(fails, value=knob).children
    assert "ZeroDivisionError: by nothing" in place.value
    knob.value = 7
    assert "no such dog" in place.value
    assert 'role="alert"' in place.value


def test_controls_are_made_once_and_large_enough_for_a_finger() -> None:
    made = [slider("a", 1, 0, 2), choice("b", ["x", "y"]), button("c", lambda: "", widgets.HTML())]
    assert all(int(one.layout.height.removesuffix("px")) >= 44 for one in made)
    box = live(lambda a: str(a), a=made[0])
    shown = box.children[1]
    made[0].value = 1.5
    assert box.children[1] is shown
    assert shown.value == "1.5"


def test_toggles_name_what_is_in() -> None:
    chosen = Toggles(["A", "B", "C"])
    assert chosen.value == ("A", "B", "C")
    chosen.toggles[1].value = False
    assert chosen.value == ("A", "C")
    assert several("t", {"One": "1", "Two": "2"}, ["2"]).value == ("2",)


def test_text_in_a_page_is_never_markup() -> None:
    hostile = "<img src=x onerror=alert(1)>"
    for made in (notice(hostile), table([hostile], [[hostile]]),
                 download(b"", hostile, "text/plain", hostile)):  # fmt: skip
        assert "<img" not in made
    scene = Scene(10, 10, (Text((0, 0), hostile),), hostile)
    assert "<img" not in as_html([scene, notice(hostile)])


@pytest.mark.slow
def test_the_findings_are_said_and_the_report_is_handed_over() -> None:
    alder = demo_dog("Alder", load_standard(TERRIER))
    said = findings_in_sentences(alder)
    assert "Undecided" in said
    made, place = report_button(alder).children
    made.click()
    links = dict(re.findall(r'download="([^"]+)"[^>]*href="data:[^,]+,([^"]+)"', place.value))
    assert base64.b64decode(links["Alder.pdf"]).startswith(b"%PDF")
    assert b"</html>" in base64.b64decode(links["Alder.html"])
