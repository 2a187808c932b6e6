"""Entries as hands write them. Factors: international yard and pound agreement 1959."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.quantities.entry import MAXIMUM_CHARACTERS, parse_entry
from kit.quantities.errors import EntryError, UnitError
from kit.quantities.registry import convert, registry

WRITTEN = [
    ("56.5", "length", "cm", 56.5),
    ("56,5 cm", "length", None, 56.5),
    ("22 1/2 in", "length", None, 57.15),
    ('22½"', "length", None, 57.15),
    ("22½″", "length", None, 57.15),
    ("22-1/2 inches", "length", None, 57.15),
    ("1 ft 10 in", "length", None, 55.88),
    ("1′ 10½″", "length", None, 57.15),
    ("565mm", "length", None, 56.5),
    ("0,565 m", "length", None, 56.5),
    ("\u00a056,5\u00a0cm ", "length", None, 56.5),
    ("½ in", "length", None, 1.27),
    ("112°", "angle", None, 112.0),
    ("-3 deg", "angle", None, -3.0),
    ("−3°", "angle", None, -3.0),
    ("28.4 kg", "mass", None, 28.4),
    ("650 g", "mass", None, 0.65),
    ("62 lb", "mass", None, 28.12272694),
    ("3 lb 4 oz", "mass", None, 1.47417520),
    ("48 %", "ratio", None, 0.48),
]
REFUSED = [
    ("", "length", "cm"),
    ("   ", "length", "cm"),
    ("-", "length", "cm"),
    ("cm", "length", None),
    ("56.5", "length", None),
    ("1.234,5 cm", "length", None),
    ("1,234 cm", "length", None),
    ("56.5 57.0 cm", "length", None),
    ("22 1/2", "length", "cm"),
    ("5 6/4 in", "length", None),
    ("1/0 in", "length", None),
    ("1 ft 14 in", "length", None),
    ("5 cm 5 mm", "length", None),
    ("56.5 kg", "length", None),
    ("56.5 cubits", "length", None),
    ("9999 cm", "length", None),
    ("1e2 cm", "length", None),
    ("nan", "length", "cm"),
    ("inf cm", "length", None),
    ("٥٦ cm", "length", None),
    ("5² cm", "length", None),
    ("__import__('os')", "length", "cm"),
    ("5" * (MAXIMUM_CHARACTERS + 1), "length", "cm"),
]


@pytest.mark.parametrize(("text", "kind", "unit", "expected"), WRITTEN)
def test_written_entries_are_understood(text: str, kind: str, unit: str, expected: float) -> None:
    assert parse_entry(text, kind, unit).value == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("text", "kind", "unit"), REFUSED)
def test_ambiguous_or_absurd_entries_are_refused(text: str, kind: str, unit: str | None) -> None:
    with pytest.raises(EntryError) as refusal:
        parse_entry(text, kind, unit)
    for part in ("needed:", "given:", "do:"):
        assert part in str(refusal.value)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        entry = parse_entry(text, "length", "cm")
    except EntryError:
        return
    assert abs(entry.value) <= 300.0
    assert entry.raw == text


@given(st.floats(0.1, 290.0), st.sampled_from(["cm", "mm", "in", "ft", "m"]))
def test_the_unit_written_changes_nothing(length: float, unit: str) -> None:
    written = f"{convert(length, 'cm', unit):.6f} {unit}"
    assert parse_entry(written, "length").value == pytest.approx(length, abs=2e-4)
    with_comma = parse_entry(written.replace(".", ","), "length")
    assert with_comma.value == parse_entry(written, "length").value


def test_an_angle_is_not_a_number() -> None:
    with pytest.raises(pint.DimensionalityError):
        registry().Quantity(30, "deg") + 0.5
    with pytest.raises(UnitError):
        convert(1.0, "deg", "percent")
    with pytest.raises(UnitError):
        convert(1.0, "furlong", "cm")


def test_nothing_is_redefined() -> None:
    with pytest.raises(pint.RedefinitionError):
        registry().define("inch = 3 * centimeter")
