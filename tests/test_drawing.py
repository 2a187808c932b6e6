"""Scenes and renderers, and the drawn dog: simple, closed, on the floor, alike in both."""

import io
import subprocess
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.image import imread
from plausible_dogs import crossings, random_readings, some_readings
from real_browser import chromium_or_skip
from yardstick import in_yards

from kit.drawing.anatomy import anatomy, read_anatomy
from kit.drawing.annotations import ANGLES
from kit.drawing.canvas import save, to_figure, to_png
from kit.drawing.outline import Form, outline
from kit.drawing.palette import PALETTE
from kit.drawing.scene import Circle, Group, Line, Path, Scene, Style, Text
from kit.drawing.side_view import CAPTION, side_view, with_angles
from kit.drawing.spline import bezier, flatten
from kit.drawing.svg import to_svg
from kit.figure.observations import observations, reading_at
from kit.figure.placement import place
from kit.figure.template import template
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError, KitError
from kit.reports.pictures import figure_of, pictures
from kit.standards.assessment import assess

SVG = "{http://www.w3.org/2000/svg}"


def test_the_crossing_check_sees_a_figure_of_eight_and_passes_a_square():
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert crossings(square) == 0
    assert crossings(square[[0, 2, 1, 3]]) == 1


@pytest.mark.parametrize("seed", range(200))
def test_the_outline_is_simple_closed_and_stands_on_the_floor(seed):
    figure = place(random_readings(seed))
    drawn = outline(figure)
    assert np.isfinite(drawn).all()
    assert crossings(drawn) == 0
    assert drawn[:, 1].min() == 0.0
    steps = np.hypot(*(np.roll(drawn, -1, axis=0) - drawn).T)
    assert steps.max() < 0.08 * figure.size  # closed: no gap anywhere, the seam included
    feet = drawn[drawn[:, 1] == 0.0, 0]
    for joint in ("front_pastern_bottom", "rear_pastern_bottom"):
        assert np.abs(feet - figure[joint][0]).min() < 0.1 * figure.size


@pytest.mark.parametrize("seed", range(0, 200, 20))
def test_angles_laid_over_a_drawn_dog_are_those_drawn_with_it(seed):
    figure, angles = place(random_readings(seed)), dict.fromkeys(ANGLES, (110.0, 3.0))
    bare = side_view(figure, modelled=False)
    whole = side_view(figure, modelled=False, angles=angles)
    assert len(whole.primitives) > len(bare.primitives)
    assert with_angles(bare, figure, angles) == whole


@pytest.mark.parametrize("seed", range(0, 200, 10))
def test_landmarks_at_the_skin_lie_at_the_outline(seed):
    # Common practice (no source): these are felt right under the skin.
    figure = place(random_readings(seed))
    drawn = outline(figure)
    for key in ("nose", "withers", "prosternum", "point_of_hock", "brisket", "tuck_up"):
        away = np.hypot(*(drawn - np.array(figure[key])).T).min()
        assert away < 0.07 * figure.size, key


@pytest.mark.parametrize("seed", range(0, 200, 20))
def test_the_bones_lie_inside_the_body(seed):
    from matplotlib.path import Path as Region

    figure = place(random_readings(seed))
    region = Region(outline(figure))
    for key in ("blade_top", "point_of_shoulder", "elbow", "wrist", "hip_joint", "stifle"):
        assert region.contains_point(figure[key]), key


# A beginner's dog of ordinary readings: the shoulder by three tapes, no height of the blade.
BEGINNERS = {
    "height_at_withers": 41.4,
    "chest_depth": 20.5,
    "body_length_from_prosternum": 46.5,
    "body_length_from_point_of_shoulder": 43.0,
    "blade_length": 17.0,
    "upper_arm_length": 16.0,
    "blade_top_to_elbow": 24.0,
    "height_at_brisket": 21.0,
    "height_at_point_of_elbow": 22.0,
}


def farthest_out(figure):
    """Greatest distance of any bone beyond the outline, in parts of the dog's size."""
    from matplotlib.path import Path as Region

    form = Form.of(figure)
    drawn = form.drawn(8)
    bones = np.vstack([flatten(form.bone(bone), 3) for bone in anatomy().bones.values()])
    outside = bones[~Region(drawn).contains_points(bones)]
    away = [np.hypot(*(drawn - point).T).min() for point in outside]
    return max(away, default=0.0) / figure.size


@pytest.mark.parametrize("start", range(0, 100, 20))
def test_whole_bones_lie_within_the_outline_whatever_was_read(start):
    for seed in range(start, start + 20):
        figure = place(some_readings(seed))
        assert figure.set_aside == ()
        assert farthest_out(figure) < 0.03, seed


def test_a_blade_without_a_height_stays_under_the_withers():
    figure = place(BEGINNERS)
    assert figure["blade_top"][1] < figure["withers"][1]
    assert farthest_out(figure) < 0.03
    # Its own height, where read, is believed.
    high = place(BEGINNERS | {"height_at_blade_top": 42.2})
    assert high["blade_top"][1] == pytest.approx(42.2, abs=0.3)


def assessed(**changes):
    known = catalogue()
    return assess(
        [
            Reading("Moss", key, value, side="left" if known.measurement(key).sided else "")
            for key, value in (BEGINNERS | changes).items()
        ],
        known,
    )


def test_readings_that_close_no_triangle_are_left_out_and_named():
    # 17 and 16 cm cannot span 40: the triangle inequality.
    impossible = assessed(blade_top_to_elbow=40.0)
    assert "shoulder_angle" in impossible.traits.faults
    figure = figure_of(impossible)
    three = {"blade_length", "upper_arm_length", "blade_top_to_elbow"}
    assert set(figure.set_aside) == three
    assert not figure.has_measured("blade_top")
    assert farthest_out(figure) < 0.03
    caption = next(one.caption for one in pictures(impossible) if one.name == "side_view")
    assert all(catalogue().measurement(key).title in caption for key in three)
    assert "all readings" not in caption
    plain = next(one.caption for one in pictures(assessed()) if one.name == "side_view")
    assert "Left out" not in plain


def test_a_dog_nobody_measured_can_have_words_of_its_own():
    text = to_svg(side_view(place({"height_at_withers": 50.0}), caption="what the clauses ask"))
    assert "what the clauses ask" in text
    assert CAPTION not in text
    assert CAPTION not in to_svg(side_view(place({}), caption=""))


def test_a_smooth_curve_passes_through_its_points():
    points = np.array([[0.0, 0.0], [2.0, 1.0], [3.0, 4.0], [-1.0, 2.0]])
    closed = bezier(points, closed=True)
    assert np.allclose(closed[:, 0], points)
    assert np.allclose(closed[:, 3], np.roll(points, -1, axis=0))
    assert len(bezier(points, closed=False)) == 3
    assert len(flatten(closed, 5)) == 20


def example(**options):
    angles = dict.fromkeys(ANGLES, (111.0, 3.9))
    return side_view(place({"height_at_withers": 42.0}), title="Aa & <b>", angles=angles, **options)


def test_svg_is_wellformed_accessible_and_alone():
    text = to_svg(example())
    root = ElementTree.fromstring(text)  # noqa: S314 - our own text
    assert root.attrib["role"] == "img"
    assert root.find(f"{SVG}title").text == "Aa & <b>"
    assert "42.0 cm high" in root.find(f"{SVG}desc").text
    assert text.count("http") == text.count("http://www.w3.org/2000/svg") == 1
    words = {element.text for element in root.iter(f"{SVG}text")}
    assert {"shoulder", "111° ± 8°", CAPTION} <= words


def test_svg_references_lead_somewhere():
    root = ElementTree.fromstring(to_svg(example()))  # noqa: S314 - our own text
    known = {element.attrib["id"] for element in root.iter() if "id" in element.attrib}
    used = {use.attrib["href"][1:] for use in root.iter(f"{SVG}use")}
    clips = {
        element.attrib["clip-path"][5:-1]
        for element in root.iter()
        if "clip-path" in element.attrib
    }
    assert used
    assert clips
    assert used | clips <= known


def test_interval_is_95_percent_of_a_normal_distribution():
    # 1.96: JCGM 100:2008, table G.1 (coverage factor for 95 %), from memory.
    scene = side_view(place({}), angles={"shoulder_angle": (100.0, 5.0)})
    assert "100° ± 10°" in to_svg(scene)


def test_a_measured_dog_is_not_called_a_template():
    points = {key: (50 * x, 50 * y) for key, (x, y) in template().points.items()}
    full = {key: reading_at(seen, points) for key, seen in observations().items()}
    assert CAPTION not in to_svg(side_view(place(full)))
    assert CAPTION in to_svg(side_view(place({"height_at_withers": 50.0})))


def test_the_drawing_is_to_scale():
    figure = place({"height_at_withers": 50.0})
    scene = side_view(figure)
    marks = {
        float(item.content): item.at[1]
        for item in scene.primitives
        if isinstance(item, Text) and item.content.isdigit() and item.anchor == "end"
    }
    per_cm = (marks[10] - marks[50]) / 40
    body = max(
        (item for item in scene.primitives if isinstance(item, Path) and item.closed),
        key=lambda item: len(item.segments),
    )
    ends = [segment.end[1] for segment in body.segments]
    top = outline(figure, 1)[:, 1].max()
    assert (max(ends) - min(ends)) / per_cm == pytest.approx(top, rel=1e-6)


def test_rendering_is_quick_enough_for_a_live_panel():
    scene = example()
    assert in_yards(lambda: to_svg(scene)) < 2.0


def luminance(role):
    # Relative luminance: WCAG 2.2, definition in its glossary (from memory).
    code = PALETTE[role]
    channels = [int(code[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("role", ["text", "quiet_text", "accent", "plumb", "ink"])
def test_words_are_legible_on_paper_and_ground(role):
    # WCAG 2.2 success criterion 1.4.3: contrast of at least 4.5 to 1 for text (from memory).
    for ground in ("paper", "ground"):
        assert (luminance(ground) + 0.05) / (luminance(role) + 0.05) >= 4.5


def test_bone_coat_and_ink_stay_apart_in_grey():
    # Common practice (no source): a ratio of 1.3 is told apart in a grey print.
    shades = sorted(luminance(role) + 0.05 for role in ("bone", "coat", "far_coat", "contour"))
    assert all(light / dark > 1.3 for dark, light in pairwise(shades))


def test_unknown_colours_and_anchors_are_refused():
    with pytest.raises(ValueError, match="pink"):
        Style("pink")
    with pytest.raises(ValueError, match="anchor"):
        Text((0, 0), "x", anchor="left")


def little_scene():
    square = Path.polyline([(10, 10), (60, 10), (60, 60), (10, 60)], Style("accent"), closed=True)
    clipped = Group((Circle((60, 60), 30, Style("plumb")),), clip=square)
    line = Line((5, 90), (95, 90), Style("", "ink", 4.0))
    return Scene(100, 100, (square, clipped, line), "t", "d")


def test_matplotlib_paints_in_order_and_clips():
    picture = (imread(io.BytesIO(to_png(little_scene()))) * 255).round().astype(int)[..., :3]
    wanted = {(20, 20): "accent", (55, 55): "plumb", (70, 70): "paper", (50, 90): "ink"}
    for (x, y), role in wanted.items():
        code = PALETTE[role]
        assert list(picture[y, x]) == [int(code[at : at + 2], 16) for at in (1, 3, 5)], role


@pytest.mark.parametrize("ending", ["png", "pdf", "svg"])
def test_files_of_each_kind_are_written(tmp_path, ending):
    path = save(little_scene(), tmp_path / f"x.{ending}", dpi=50)
    head = {"png": b"\x89PNG", "pdf": b"%PDF", "svg": b"<?xml"}[ending]
    assert path.read_bytes().startswith(head)


def test_other_endings_are_refused(tmp_path):
    with pytest.raises(KitError, match="bmp"):
        save(little_scene(), tmp_path / "x.bmp")


def test_the_figure_has_the_size_of_its_scene():
    assert tuple(to_figure(little_scene()).get_size_inches()) == (100 / 96, 100 / 96)


def test_an_anatomy_with_a_wrong_frame_is_refused(tmp_path):
    path = tmp_path / "anatomy.toml"
    path.write_text('[frames]\nskull = ["occiput", "tip of ear", "head"]\n')
    with pytest.raises(DataFileError, match="skull"):
        read_anatomy(path)


@pytest.mark.browser
def test_browser_and_matplotlib_show_the_same_dog(tmp_path):
    browser = chromium_or_skip()
    scene = side_view(place({}), show_bones=True)
    (tmp_path / "dog.svg").write_text(to_svg(scene), encoding="utf-8")
    save(scene, tmp_path / "mine.png", dpi=96)
    shot = tmp_path / "browser.png"
    subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
            "--window-size=1100,760", f"--screenshot={shot}", (tmp_path / "dog.svg").as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=90,
    )  # fmt: skip
    mine, theirs = imread(tmp_path / "mine.png")[..., :3], imread(shot)[..., :3]
    assert mine.shape == theirs.shape
    apart = np.abs(mine - theirs).max(axis=2)
    assert (apart > 0.15).mean() < 0.02  # only edges of lines and letters differ
