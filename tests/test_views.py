"""Front, rear and top views, ghosts, ellipses and pairs: true to scale, simple, on the floor."""

import subprocess
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.image import imread
from plausible_dogs import crossings, random_breadths, random_readings, sharpest_turn
from real_browser import chromium_or_skip
from scipy import stats

from kit.drawing.across import read_views, views
from kit.drawing.canvas import save
from kit.drawing.ellipses import FACTOR, LABEL, semi_axes
from kit.drawing.four_views import four_views
from kit.drawing.ghost import aligned
from kit.drawing.halves import Halves
from kit.drawing.layout import Layout
from kit.drawing.outline import Form, outline
from kit.drawing.pairs import Named, overlaid, side_by_side
from kit.drawing.scene import Line, Path, Text
from kit.drawing.side_view import side_view
from kit.drawing.spline import flatten
from kit.drawing.standards_sheet import standards_sheet
from kit.drawing.svg import to_svg
from kit.drawing.views import (
    CAPTION,
    Look,
    _hind_legs,
    _pads,
    front_view,
    rear_view,
    top_view,
)
from kit.figure.breadths import breadths_of, neutral_breadths
from kit.figure.observations import observations, reading_at
from kit.figure.placement import place
from kit.figure.template import template
from kit.quantities.errors import DataFileError, GeometryError
from kit.standards.standard import load_standard, shipped_standards
from kit.standards.target import target_figure

SVG = "{http://www.w3.org/2000/svg}"
MEASURED = {
    "height_at_withers": 50.0,
    "shoulder_breadth": 17.0,
    "rib_breadth": 18.0,
    "loin_breadth": 11.0,
    "hip_breadth": 16.0,
    "elbow_spread": 16.0,
    "front_foot_spread": 15.0,
    "hock_spread": 14.0,
    "rear_foot_spread": 15.5,
    "skull_breadth": 11.0,
}


def plausible(seed):
    readings = random_readings(seed)
    return place(readings | random_breadths(seed, readings["height_at_withers"]))


def check_side(seed):
    figure = plausible(seed)
    drawn = outline(figure)
    assert np.isfinite(drawn).all()
    assert crossings(drawn) == 0
    assert drawn[:, 1].min() == 0.0
    # Where the tail leaves the rump a dog has a corner; nothing else is sharper than it.
    assert sharpest_turn(drawn) < 110
    steps = np.hypot(*(np.roll(drawn, -1, axis=0) - drawn).T)
    assert steps.max() < 0.08 * figure.size


def check_across(seed):
    figure = plausible(seed)
    for name in ("front", "rear", "above"):
        drawn = Halves.of(figure, name).outline.drawn()
        assert np.isfinite(drawn).all()
        assert crossings(drawn) == 0, name
        assert sharpest_turn(drawn) < 100, name
        axis = 1 if name == "above" else 0
        assert drawn[:, axis].max() == pytest.approx(-drawn[:, axis].min())
        if name != "above":
            assert drawn[:, 1].min() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("start", range(0, 100, 25))
def test_a_hundred_plausible_dogs_are_simple_from_the_side(start):
    for seed in range(start, start + 25):
        check_side(seed)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(100, 1000, 100))
def test_a_thousand_plausible_dogs_are_simple_from_the_side(start):
    for seed in range(start, start + 100):
        check_side(seed)


@pytest.mark.parametrize("start", range(0, 40, 20))
def test_plausible_dogs_are_simple_from_the_other_sides(start):
    for seed in range(start, start + 20):
        check_across(seed)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(40, 200, 40))
def test_two_hundred_plausible_dogs_are_simple_from_the_other_sides(start):
    for seed in range(start, start + 40):
        check_across(seed)


@pytest.mark.parametrize("name", shipped_standards())
def test_every_target_is_a_simple_outline_on_the_floor_from_every_side(name):
    figure = target_figure(load_standard(name), 50.0, "dog")
    drawn = outline(figure)
    assert crossings(drawn) == 0
    assert drawn[:, 1].min() == 0.0
    for view in ("front", "rear", "above"):
        assert crossings(Halves.of(figure, view).outline.drawn()) == 0


def widest(drawn, low, high, axis=0):
    """Greatest breadth between two heights, or places along the body, of an outline in cm."""
    along = drawn[:, 1 - axis]
    return 2 * drawn[(along >= low) & (along <= high)][:, axis].max()


def test_breadths_are_drawn_as_they_were_read():
    figure = place(MEASURED)
    front, rear, above = (Halves.of(figure, name).outline.drawn(24) for name in
                          ("front", "rear", "above"))  # fmt: skip
    elbow, hock = figure["elbow"][1], figure["point_of_hock"][1]
    # Splines run a little beyond their points: 3 % is what the eye does not see.
    assert widest(front, 0, 0.05 * 50) == pytest.approx(15.0, rel=0.03)
    assert widest(front, elbow - 1, elbow + 0.5) == pytest.approx(16.0, rel=0.03)
    assert widest(front, 0.6 * 50, 0.75 * 50) == pytest.approx(17.0, rel=0.03)
    assert widest(rear, 0, 0.05 * 50) == pytest.approx(15.5, rel=0.03)
    assert widest(rear, hock - 1, hock + 0.5) == pytest.approx(14.0, rel=0.03)
    assert widest(rear, 0.55 * 50, 0.8 * 50) == pytest.approx(16.0, rel=0.03)
    assert widest(above, *sorted((figure["last_rib"][0], 0.0)), axis=1) == pytest.approx(
        18.0, rel=0.03
    )
    assert widest(above, figure["stop"][0] - 8, figure["stop"][0], axis=1) == pytest.approx(
        11.0, rel=0.03
    )


@pytest.mark.parametrize("offset", [-6.0, 0.0, 4.0, 9.0])
def test_hind_feet_seen_from_above_hang_on_a_leg(offset):
    from matplotlib.path import Path as Region

    figure = place(MEASURED | {"rear_toe_offset": offset})
    look = Look(Halves.of(figure, "above"), Layout(900, 500, 10, (400, 250), (-40, 40), 10))
    body = Region(look.halves.outline.drawn())
    for leg, pad in zip(_hind_legs(look), list(_pads(look))[2:], strict=True):
        whole = flatten(leg, 8)
        assert crossings(whole) == 0
        leg_region, foot = Region(whole), flatten(pad, 8)
        assert body.contains_points(whole).any()
        assert leg_region.contains_point(foot.mean(axis=0))


def test_unread_breadths_keep_with_the_read_ones():
    plain, broad = (
        breadths_of(place({"height_at_withers": 50.0, "rib_breadth": 50 * 0.34 * part}))
        for part in (1.0, 1.25)
    )
    assert broad["loin_breadth"] == pytest.approx(1.25 * plain["loin_breadth"])
    assert broad["elbow_spread"] == pytest.approx(1.25 * plain["elbow_spread"])
    assert broad["skull_breadth"] == pytest.approx(plain["skull_breadth"])
    assert broad.read == {"rib_breadth"}


def test_ribs_follow_girth_and_depth_like_an_ellipse():
    # Circle (identity): girth pi d; Euler's approximation of an ellipse is exact there. A chest as
    # broad as the deep part the tape runs round is drawn broader than a flat one of the same depth.
    flat, round_ = (
        breadths_of(place({"height_at_withers": 50.0, "chest_girth": girth}))["rib_breadth"]
        for girth in (55.0, 68.0)
    )
    neutral = breadths_of(place({"height_at_withers": 50.0, "chest_girth": 60.0}))
    assert flat < neutral["rib_breadth"] < round_
    assert neutral["rib_breadth"] == pytest.approx(0.34 * 50, rel=0.01)


def test_neutral_breadths_meet_the_rules_of_thumb():
    # Common practice (no source), domain notes: chest no broader than deep, slightly wider across
    # the shoulders than the hips, loin narrower than hips, feet under elbows and hocks.
    values = {key: one.value for key, one in neutral_breadths().lengths.items()}
    at = template().points
    assert values["chest_breadth"] < values["rib_breadth"] < at["withers"][1] - at["brisket"][1]
    assert 1.0 < values["shoulder_breadth"] / values["hip_breadth"] < 1.1
    assert values["loin_breadth"] < values["hip_breadth"]
    for feet, joints in (
        ("front_foot_spread", "elbow_spread"),
        ("rear_foot_spread", "hock_spread"),
    ):
        assert abs(values[feet] / values[joints] - 1) < 0.1


def test_a_turned_out_foot_is_seen_broader_and_keeps_its_outside():
    straight, out = (
        Halves.of(place(MEASURED | {"front_foot_turnout": turn}), "front").foot_reach()
        for turn in (0.0, 25.0)
    )
    assert straight[1] == out[1] == pytest.approx(7.5)
    assert out[1] - out[0] > 1.2 * (straight[1] - straight[0])


@pytest.mark.parametrize("draw", [front_view, rear_view, top_view, four_views])
def test_views_say_what_was_not_read(draw):
    assert CAPTION in to_svg(draw(place({"height_at_withers": 50.0})))
    points = {key: (50 * x, 50 * y) for key, (x, y) in template().points.items()}
    full = {key: reading_at(seen, points) for key, seen in observations().items()}
    full |= {key: 50 * one.value for key, one in neutral_breadths().lengths.items()}
    full |= {"front_foot_turnout": 2.0, "rear_foot_turnout": 0.0}
    assert CAPTION not in to_svg(draw(place(full)))


def test_four_views_stand_on_one_scale():
    figure = place(MEASURED)
    scene = four_views(figure)
    bodies = [part for part in scene.primitives if isinstance(part, Path) and part.closed
              and part.style.fill == "coat" and len(part.segments) > 50]  # fmt: skip
    side, front, rear, above = (np.array([piece.end for piece in body.segments]) for body in bodies)
    floor = side[:, 1].max()
    assert front[:, 1].max() == rear[:, 1].max() == pytest.approx(floor)
    scale = np.ptp(side[:, 1]) / outline(figure, 1)[:, 1].max()
    spread = front[front[:, 1] > floor - 0.05 * 50 * scale][:, 0]
    assert np.ptp(spread) / scale == pytest.approx(15.0, rel=0.03)
    assert np.ptp(above[:, 1]) / scale == pytest.approx(18.0, rel=0.03)
    assert above[:, 0].max() == pytest.approx(side[:, 0].max(), abs=0.02 * 50 * scale)


@pytest.mark.parametrize("align", ["withers", "elbow", "point_of_buttock"])
def test_a_ghost_shares_floor_scale_and_one_point(align):
    figure, ghost = plausible(3), target_figure(load_standard("boxer-fci"), 50.0)
    form, other = Form.of(figure), Form.of(ghost)
    layout = Layout.fit(form, 1100, 760)
    stands = aligned(form, other, layout, align)
    assert stands.scale == layout.scale
    assert stands.origin[1] == layout.origin[1]
    assert stands.at(other.points[align])[0] == pytest.approx(layout.at(form.points[align])[0])


def test_a_ghost_of_the_dog_itself_lies_on_it():
    figure = plausible(5)
    scene = side_view(figure, ghost=figure, ghost_label="the same dog")
    dashed = [part for part in scene.primitives if isinstance(part, Path) and part.closed
              and part.style.stroke == "plumb"]  # fmt: skip
    body = next(part for part in scene.primitives if isinstance(part, Path)
                and part.style.fill == "coat")  # fmt: skip
    for mine, theirs in zip(body.segments, dashed[0].segments, strict=True):
        assert mine.end == pytest.approx(theirs.end)
    assert "the same dog" in to_svg(scene)


def test_a_longer_ghost_still_fits_the_picture():
    ghost = target_figure(load_standard("dachshund-fci"), 50.0)
    scene = side_view(place({"height_at_withers": 50.0}), ghost=ghost, width=900, height=600)
    for part in scene.primitives:
        if isinstance(part, Path):
            for piece in part.segments:
                assert -1 <= piece.end[0] <= 901
                assert -1 <= piece.end[1] <= 601


def test_an_unknown_alignment_is_refused():
    with pytest.raises(GeometryError, match="withers"):
        side_view(plausible(1), ghost=plausible(2), ghost_align="nose")


def test_ellipses_hold_95_percent_by_the_chi_square_distribution():
    assert pytest.approx(np.sqrt(stats.chi2.ppf(0.95, 2))) == FACTOR
    # Uncorrelated errors (identity): semi-axes are the factor times the standard deviations.
    assert semi_axes([[0.25, 0.0], [0.0, 0.04]]) == pytest.approx((0.5 * FACTOR, 0.2 * FACTOR))


def test_ellipses_hold_95_percent_of_simulated_points():
    covariance = np.array([[0.5, 0.3], [0.3, 0.4]])
    figure = place({"height_at_withers": 50.0})
    scene = side_view(figure, ellipses={"stifle": covariance}, show_bones=False)
    drawn = next(part for part in scene.primitives if isinstance(part, Path) and part.closed
                 and part.style.stroke == "accent")  # fmt: skip
    edge = np.array([piece.end for piece in drawn.segments])
    layout = Layout.fit(Form.of(figure), 1100.0, 760.0)
    draws = np.random.default_rng(4).multivariate_normal(figure["stifle"], covariance, 20_000)
    centre = edge.mean(axis=0)
    fitted = np.linalg.lstsq(_quadratic(edge - centre), np.ones(len(edge)), rcond=None)[0]
    inside = _quadratic(layout.many(draws) - centre) @ fitted <= 1
    assert inside.mean() == pytest.approx(0.95, abs=0.01)
    assert LABEL in to_svg(scene)


def _quadratic(points):
    x, y = points.T
    return np.column_stack([x * x, x * y, y * y])


@pytest.mark.parametrize(
    "bad", [[[1.0, 2.0], [2.0, 1.0]], [[1.0, 0.5], [0.1, 1.0]], [1.0, 2.0], [[np.nan, 0], [0, 1]]]
)
def test_what_is_no_covariance_is_refused(bad):
    with pytest.raises(GeometryError, match="stifle"):
        side_view(plausible(1), ellipses={"stifle": bad})


def test_side_by_side_has_one_floor_and_one_scale():
    dogs = [Named(f"dog {height}", place({"height_at_withers": height})) for height in (30.0, 60.0)]
    scene = side_by_side(dogs)
    small, large = (
        np.array([piece.end for piece in part.segments])
        for part in scene.primitives
        if isinstance(part, Path) and part.style.fill == "coat"
    )
    assert np.ptp(large[:, 1]) == pytest.approx(2 * np.ptp(small[:, 1]), rel=1e-6)
    assert large[:, 1].max() == pytest.approx(small[:, 1].max())
    assert small[:, 0].max() < large[:, 0].min()
    assert {"dog 30.0", "dog 60.0"} <= {
        part.content for part in scene.primitives if isinstance(part, Text)
    }


def test_side_by_side_needs_a_dog():
    with pytest.raises(GeometryError, match="at least one dog"):
        side_by_side([])


def test_two_dogs_over_each_other_are_told_apart_without_colour():
    scene = overlaid(Named("Ash", plausible(7)), Named("Birch", plausible(8)))
    second = [part for part in scene.primitives if isinstance(part, Path | Line)
              and part.style.stroke == "plumb" and part.style.width > 2]  # fmt: skip
    assert second
    assert all(part.style.dash for part in second)
    words = {part.content for part in scene.primitives if isinstance(part, Text)}
    assert any(word.startswith("Ash") for word in words)
    assert any(word.startswith("Birch") for word in words)


@pytest.mark.slow
def test_the_sheet_of_standards_shows_every_one():
    scene = standards_sheet(height=50.0, per_row=7)
    bodies = [part for part in scene.primitives if isinstance(part, Path)
              and part.style.fill == "coat"]  # fmt: skip
    assert len(bodies) == len(shipped_standards())


def test_views_with_a_wrong_breadth_are_refused(tmp_path):
    path = tmp_path / "across.toml"
    path.write_text('[front.outer]\nrows = [[0.1, 0.2, "chest_width"]]\n')
    with pytest.raises(DataFileError, match="chest_width"):
        read_views(path)
    assert set(views()) == {"front", "rear", "above", "head"}


@pytest.mark.parametrize("draw", [front_view, rear_view, top_view, four_views])
def test_svg_is_wellformed_and_alone(draw):
    text = to_svg(draw(place({"height_at_withers": 42.0}), title="Aa & <b>"))
    root = ElementTree.fromstring(text)  # noqa: S314 - our own text
    assert root.find(f"{SVG}title").text == "Aa & <b>"
    assert "42.0 cm high" in root.find(f"{SVG}desc").text
    assert text.count("http") == text.count("http://www.w3.org/2000/svg") == 1


@pytest.mark.browser
@pytest.mark.parametrize("kind", ["four", "ghost"])
def test_browser_and_matplotlib_show_the_same_sheet(tmp_path, kind):
    browser = chromium_or_skip()
    figure = place(MEASURED)
    ghost = target_figure(load_standard("boxer-fci"), 50.0)
    covariances = {"elbow": [[0.5, 0.2], [0.2, 0.4]]}
    scene = four_views(figure) if kind == "four" else side_view(
        figure, ghost=ghost, ghost_label="target", ellipses=covariances)  # fmt: skip
    (tmp_path / "dog.svg").write_text(to_svg(scene), encoding="utf-8")
    save(scene, tmp_path / "mine.png", dpi=96)
    mine = imread(tmp_path / "mine.png")[..., :3]
    shot = tmp_path / "browser.png"
    subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
            f"--window-size={mine.shape[1]},{mine.shape[0]}", f"--screenshot={shot}",
            (tmp_path / "dog.svg").as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=90,
    )  # fmt: skip
    theirs = imread(shot)[..., :3]
    assert mine.shape == theirs.shape
    apart = np.abs(mine - theirs).max(axis=2)
    assert (apart > 0.15).mean() < 0.02  # only edges of lines and letters differ
