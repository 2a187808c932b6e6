"""The invented dogs in movement: written by their script, and their truth found again."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import pytest

from kit.movement.assessment import movement_of
from kit.movement.body import Body
from kit.movement.observations import make_observation, read_movement
from kit.quantities.errors import DataFileError
from kit.standards.columns import ColumnError

DATA = Path(__file__).parents[1] / "data"


def test_the_demo_files_are_what_their_script_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    maker = _maker()
    monkeypatch.setattr(maker, "FOLDER", tmp_path)
    maker.main()
    for name in ("demo_movement.csv", "demo_grades.csv"):
        assert (tmp_path / name).read_bytes() == (DATA / name).read_bytes()


def test_the_true_tracks_of_the_invented_dogs_are_found_again() -> None:
    """The script knows the truth; 95 % intervals of ten tracks should hold nearly all."""
    rows = read_movement(DATA / "demo_movement.csv").rows
    held = []
    for mover in _maker().MOVERS:
        found = movement_of(mover.name, rows, Body(None, "", None, {})).tracks
        for end, tracks, stance in zip(("front", "rear"), (mover.front, mover.rear),
                                       mover.stance, strict=True):  # fmt: skip
            one = found.get(f"{end}_track_to_stance")
            if one is not None:
                held.append(one.low95 <= tracks[1] / stance <= one.high95)
    assert len(held) == 10
    assert sum(held) >= 8


def _maker() -> Any:
    spec = importlib.util.spec_from_file_location("maker", DATA / "make_demo_movement.py")
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    sys.modules["maker"] = maker
    spec.loader.exec_module(maker)
    return maker


def test_bad_rows_are_named_and_the_rest_counts(tmp_path: Path) -> None:
    path = tmp_path / "movement.csv"
    path.write_text(
        'dog,run,pace,what,value,unit,foot\nA,1,trot,time,"6,4",s,\nA,1,trot,speed,2,m/s,\n'
        "A,1,trot,time,soon,s,\nA,1,trot,time,6,kg,\nA,,trot,time,6,s,\nA,1,amble,time,6,s,\n"
        "A,1,trot,foot_down,10,frames,left\nA,1,trot,distance,0,m,\n,1,trot,time,6,s,\n",
        encoding="utf-8",
    )
    sheet = read_movement(path)
    assert [one.value for one in sheet.rows] == [6.4]
    assert [(p.row, p.column) for p in sheet.problems] == [
        (3, "what"), (4, "value"), (5, "unit"), (6, "run"), (7, "pace"), (8, "foot"),
        (9, "value"), (10, "dog"),
    ]  # fmt: skip
    path.write_text("dog,what\nA,time\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="lacks the column value and unit"):
        read_movement(path)


@pytest.mark.parametrize(
    ("what", "value", "unit", "metres"),
    [("distance", "12", "m", 12.0), ("distance", "40", "ft", 12.192),
     ("distance", "10", "yd", 9.144),
     ("front_track", "8.0", "cm", 0.08), ("hip_height", "34", "cm", 0.34)],
)  # fmt: skip
def test_units_are_read(what: str, value: str, unit: str, metres: float) -> None:
    # Foot and yard: international agreement of 1959.
    one = make_observation("A", what, value, unit, run="1", pace="trot")
    assert one.value == pytest.approx(metres, rel=1e-12)


def test_only_walk_or_trot_may_be_asked_for() -> None:
    with pytest.raises(ColumnError, match="only footfalls name a gait"):
        make_observation("A", "time", "6", "s", run="1", pace="gallop")
