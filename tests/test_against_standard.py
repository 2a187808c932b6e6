"""The picture of a dog against a standard."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import matplotlib.image
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from yardstick import in_yards

from kit.drawing.against_standard import against_standard
from kit.drawing.canvas import to_png
from kit.drawing.finding_marks import mark
from kit.drawing.lettering import broken, shortened, width_of
from kit.drawing.palette import colour
from kit.drawing.regions import region_of, regions
from kit.drawing.scene import Circle, Group, Line, Primitive, Scene, Style, Text
from kit.drawing.scene import Path as Outline
from kit.drawing.strip import LEFT, RIGHT, scale_for, strip
from kit.drawing.svg import to_svg
from kit.drawing.wording import COMPARED, limits_text, percent, value_text
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import by_dog, read_csv
from kit.quantities.kinds import Kind
from kit.standards.assessment import Assessment, assess
from kit.standards.conformity import Outcome
from kit.standards.findings import Scope
from kit.standards.standard import Clause, load_standard
from kit.traits.declarations import traits
from kit.traits.estimates import TraitEstimate

DEMO = Path(__file__).parents[1] / "data" / "demo_readings.csv"
STANDARD = load_standard("common-practice-terrier")


def assessed(dog: str, standard: str = "common-practice-terrier") -> Assessment:
    readings = dict(by_dog(read_csv(DEMO, catalogue()).readings))[dog]
    held = load_standard(standard) if standard else None
    return assess(readings, catalogue(), held, Scope("dog"))


ALDER, BRYONY = assessed("Alder"), assessed("Bryony")


def flat(primitives: tuple[Primitive, ...]) -> list[Primitive]:
    found: list[Primitive] = []
    for primitive in primitives:
        found += flat(primitive.primitives) if isinstance(primitive, Group) else [primitive]
    return found


def words(scene: Scene) -> list[str]:
    return [part.content for part in flat(scene.primitives) if isinstance(part, Text)]


def clause_with(low: float | None, high: float | None) -> Clause:
    return replace(STANDARD.clauses[0], low=low, high=high, target=None)


def estimate_at(value: float, uncertainty: float) -> TraitEstimate:
    known = ALDER.traits.known["neck_to_head"]
    low, high = value - 2 * uncertainty, value + 2 * uncertainty
    return replace(known, value=value, uncertainty=uncertainty, low95=low, high95=high)


def test_every_trait_stands_in_exactly_one_region() -> None:
    listed = [key for keys in regions().values() for key in keys]
    assert sorted(listed) == sorted(traits())
    assert all(region_of(key) in regions() for key in traits())


@pytest.mark.parametrize("case", [ALDER, BRYONY], ids=["Alder", "Bryony"])
def test_every_clause_is_shown_with_its_words_value_and_finding(case: Assessment) -> None:
    shown = words(against_standard(case))
    for finding in case.findings:
        title = traits()[finding.clause.trait].title
        capital = title[:1].upper() + title[1:]
        if finding.outcome in COMPARED:
            assert finding.estimate is not None
            assert {capital, finding.clause.words, value_text(finding.estimate)} <= set(shown)
        else:
            assert f"{capital}: {finding.outcome.value}" in shown
    for outcome in Outcome:
        findings = [f for f in case.findings if f.outcome is outcome and outcome in COMPARED]
        # The legend names three outcomes by the very word.
        assert shown.count(outcome.value) >= len(findings)


@pytest.mark.parametrize("case", [ALDER, BRYONY, assessed("Alder", "boxer-fci"),
                                  assessed("Cob", "")])  # fmt: skip
def test_nothing_runs_out_of_the_picture(case: Assessment) -> None:
    scene = against_standard(case)
    for part in flat(scene.primitives):
        if isinstance(part, Text):
            width = width_of(part.content, part.size, part.weight)
            left = part.at[0] - {"start": 0.0, "middle": width / 2, "end": width}[part.anchor]
            assert left >= 0
            # The estimate of a width is on the wide side; a few px of paper are left anyway.
            assert left + width <= scene.width + 12
            assert part.at[1] <= scene.height - 8


def test_the_svg_is_well_formed_and_needs_nothing_from_outside() -> None:
    text = to_svg(against_standard(BRYONY))
    root = ElementTree.fromstring(text)  # noqa: S314  (our own text)
    assert root.find("{http://www.w3.org/2000/svg}title") is not None
    assert text.count("href=") == text.count('href="#')
    assert "url(" not in text.replace("url(#", "")


def test_a_name_cannot_break_out_of_the_svg() -> None:
    scene = against_standard(replace(ALDER, dog='<script>"&'))
    root = ElementTree.fromstring(to_svg(scene))  # noqa: S314
    assert not [element for element in root.iter() if element.tag.endswith("script")]


def shape_of(outcome: Outcome) -> str:
    """The mark without its colours."""
    drawn = []
    for part in mark(outcome, (0.0, 0.0), 8.0):
        fill = "" if part.style.fill == "white" else "full"
        drawn.append((type(part).__name__, fill, part.style.dash, geometry(part)))
    return repr(drawn)


def geometry(part: Primitive) -> object:
    if isinstance(part, Circle):
        return part.radius
    return (part.start, part.segments) if isinstance(part, Outline) else (part.start, part.end)


def test_marks_differ_by_shape_or_filling_not_by_colour_alone() -> None:
    assert len({shape_of(outcome) for outcome in Outcome}) == len(Outcome)


def luminance(role: str) -> float:
    """Relative luminance of WCAG 2.2."""
    code = colour(role)
    parts = [int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("ground", ["paper", "white"])
def test_text_and_marks_have_contrast(ground: str) -> None:
    # W3C, WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for marks (1.4.11).
    scene = against_standard(BRYONY)
    roles = {part.role for part in flat(scene.primitives) if isinstance(part, Text)}
    assert all(contrast(role, ground) >= 4.5 for role in roles)
    assert contrast("unsure", ground) >= 3.0
    # What is drawn over the band stays apart from it when printed grey.
    assert all(contrast(role, "band") >= 3.0 for role in ("inside", "outside", "quiet_text"))


numbers = st.floats(-200, 200, allow_nan=False)


@settings(max_examples=200, deadline=None)
@given(low=numbers, width=st.floats(0.01, 50), value=numbers, u=st.floats(0.001, 30))
def test_a_strip_shows_the_value_where_it_lies(
    low: float, width: float, value: float, u: float
) -> None:
    clause, estimate = clause_with(low, low + width), estimate_at(value, u)
    scale = scale_for(clause, estimate)
    ends = [scale.at(limit) for limit in (low, low + width)]
    place = scale.at(value)
    assert LEFT <= place <= RIGHT
    if value < low:
        assert place <= ends[0] + 1e-6
    elif value > low + width:
        assert place >= ends[1] - 1e-6
    else:
        assert ends[0] - 1e-6 <= place <= ends[1] + 1e-6


@pytest.mark.parametrize(("low", "high"), [(1.0, None), (None, 1.0)])
@pytest.mark.parametrize("value", [0.2, 0.97, 1.0, 1.04, 5.0])
def test_an_open_range_fades_out_on_its_open_side(
    low: float | None, high: float | None, value: float
) -> None:
    clause, estimate = clause_with(low, high), estimate_at(value, 0.02)
    drawn = strip(clause, estimate, Outcome.UNDECIDED, 50.0)
    blocks = [p for p in drawn if isinstance(p, Outline) and p.style.fill == "band"]
    strengths = [block.style.opacity for block in blocks]
    assert strengths == sorted(strengths, reverse=True)
    assert strengths[0] == 1.0
    assert strengths[-1] < 0.15
    starts = [block.start[0] for block in blocks]
    assert starts == sorted(starts, reverse=low is None)
    limit = scale_for(clause, estimate).at(1.0)
    edges = [p for p in drawn if isinstance(p, Line) and p.style.width == 1.4]
    assert [edge.start[0] for edge in edges] == [limit]


def test_the_png_shows_what_the_svg_shows() -> None:
    scene = against_standard(BRYONY)
    image = matplotlib.image.imread(BytesIO(to_png(scene)), format="png")
    assert image.shape[:2] == (round(scene.height), round(scene.width))
    discs = [
        p
        for p in flat(scene.primitives)
        if isinstance(p, Circle) and p.style == Style("inside", "inside", p.style.width)
    ]
    assert len(discs) >= 4
    wanted = [int(colour("inside")[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    for disc in discs:
        x, y = (round(place) for place in disc.centre)
        assert image[y, x, :3] == pytest.approx(wanted, abs=0.02)


def test_without_a_standard_every_known_trait_is_shown() -> None:
    case = assessed("Alder", "")
    shown = words(against_standard(case))
    for estimate in case.traits.known.values():
        assert value_text(estimate) in shown


def test_a_dog_without_a_trait_still_gets_a_picture() -> None:
    scene = against_standard(assess((), catalogue()))
    assert any("No trait" in text for text in words(scene))


def test_it_is_fast_enough_to_follow_typing() -> None:
    assert len(ALDER.findings) == 26
    assert in_yards(lambda: to_svg(against_standard(ALDER))) < 3.0


@pytest.mark.parametrize(
    ("low", "high", "kind", "text"),
    [
        (0.95, 1.05, Kind.RATIO, "0.95 to 1.05"),
        (0.63365, 0.70035, Kind.RATIO, "0.634 to 0.70"),
        (None, 0.0, Kind.RATIO, "at most 0.00"),
        (0.0, None, Kind.ANGLE, "at least 0°"),
        (-5.0, 5.0, Kind.ANGLE, "−5° to 5°"),
        (57.0, 63.5, Kind.LENGTH, "57 cm to 63.5 cm"),
    ],
)
def test_limits_are_written_short(
    low: float | None, high: float | None, kind: Kind, text: str
) -> None:
    assert limits_text(clause_with(low, high), kind) == text


def test_no_probability_is_called_certain() -> None:
    assert percent(1.0) == ">99\u00a0%"
    assert percent(0.0) == "<1\u00a0%"
    assert percent(0.464) == "46\u00a0%"


def test_lines_break_before_they_are_too_wide() -> None:
    text = "breadth of shoulder blade, from the side, breadth of thigh, from the side"
    lines = broken(text, 12, 200)
    assert " ".join(lines) == text
    assert all(width_of(line, 12) <= 200 for line in lines)
    assert shortened(text, 12, 200).endswith("…")
    assert shortened("neck", 12, 200) == "neck"
