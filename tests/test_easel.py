"""The side view drawn by a second process: the same picture, and never a panel that waits for it.

The picture drawn in this process is what the other's is held against; that one is checked
elsewhere. A process that dies, hangs or writes nonsense must leave a picture all the same.
"""

from __future__ import annotations

import io
import json
import os
import signal
import sys
import time
from collections.abc import Iterator

import pytest

from kit.panels import easel as easels
from kit.panels.easel import READY, Easel, serve
from kit.panels.pictures import SideView

DOG = {"height_at_withers": 56.5, "body_length_from_prosternum": 60.0, "chest_depth": 27.0}
ANGLES = {"shoulder_angle": (105.0, 4.0)}


@pytest.fixture
def easel() -> Iterator[Easel]:
    made = Easel(aside=True)
    yield made
    made.close()


def wait_until_ready(easel: Easel) -> None:
    end = time.monotonic() + 60
    while not easel._worker.ready():
        assert time.monotonic() < end
        time.sleep(0.05)


def drawn(easel: Easel, values: dict[str, float]) -> str:
    easel.begin(values)
    easel.ask(values, ANGLES)
    return easel.take()


def test_requests_are_answered_in_order_until_they_end() -> None:
    asked = [{"values": DOG}, {"number": 7, "values": DOG, "angles": ANGLES}]
    answers = io.StringIO()
    serve(io.StringIO("".join(json.dumps(one) + "\n" for one in asked)), answers)
    ready, answer = answers.getvalue().splitlines()
    assert ready == READY
    assert json.loads(answer)["number"] == 7
    assert json.loads(answer)["svg"].startswith("<svg")


@pytest.mark.slow
def test_the_other_process_draws_the_same_picture_and_a_picture_not_taken_is_passed_over(
    easel: Easel,
) -> None:
    wait_until_ready(easel)
    easel.ask(DOG, {})
    taller = {**DOG, "height_at_withers": 58.0}
    picture = drawn(easel, taller)
    assert easel._worker is not None
    assert picture.count("<path") == SideView().svg(taller, ANGLES).count("<path")
    assert "105" in picture


@pytest.mark.slow
def test_a_process_that_was_killed_or_hangs_is_given_up(
    easel: Easel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(easels, "PATIENCE", 0.2)
    wait_until_ready(easel)
    process = easel._worker.end.peek()[2][0]
    os.kill(process.pid, signal.SIGSTOP)
    assert drawn(easel, DOG) == SideView().svg(DOG, ANGLES)
    assert easel._worker is None
    assert process.poll() is not None


@pytest.mark.parametrize(
    "code", ["pass", f"print({READY!r}); print('nonsense')", "raise SystemExit(3)"]
)
def test_a_process_that_does_not_do_its_work_is_not_waited_for(
    monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    monkeypatch.setattr(easels, "_COMMAND", (sys.executable, "-c", code))
    easel = Easel(aside=True)
    time.sleep(0.3)
    assert drawn(easel, DOG) == SideView().svg(DOG, ANGLES)
    easel.close()


def test_readings_that_place_no_dog_leave_the_picture_as_it_was() -> None:
    easel = Easel()
    before = drawn(easel, DOG)
    assert drawn(easel, {**DOG, "chest_depth": float("inf")}) == before
