"""The public propagation refuses what it cannot answer, with a reason."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import sympy

from kit.estimation import propagate
from kit.quantities.errors import EstimationError, GeometryError

a, b, c = sympy.symbols("a b c")


def test_names_and_symbols_are_the_same_inputs() -> None:
    by_symbol = propagate([a * b], {a: 2.0, b: 3.0}, np.eye(2))
    by_name = propagate(a * b, {"a": 2.0, "b": 3.0}, np.eye(2))
    # Product rule by hand: variance 3**2 + 2**2.
    for values, covariance in (by_symbol, by_name):
        assert values == pytest.approx([6.0])
        assert covariance[0, 0] == pytest.approx(13.0)


def test_fully_correlated_inputs_add_plainly() -> None:
    _, covariance = propagate([a + b], {a: 1.0, b: 2.0}, [[1, 1], [1, 1]])
    assert covariance[0, 0] == pytest.approx(4.0)


def test_a_division_by_zero_is_an_error_of_the_readings() -> None:
    with pytest.raises(GeometryError, match="b 0"):
        propagate([a / b], {a: 1.0, b: 0.0}, np.eye(2))


REFUSED: list[tuple[Any, Any, Any]] = [
    ("a + b", {a: 1.0, b: 1.0}, np.eye(2)),
    ([a + b], {a: 1.0}, [[1.0]]),
    ([a], {a: "1,5"}, [[1.0]]),
    ([a], {a: 1.0, "a": 2.0}, np.eye(2)),
    ([a], {a: np.nan}, [[1.0]]),
    ([a], {a: 1.0}, [[-1.0]]),
    ([a], {a: 1.0}, np.eye(2)),
    ([a + b], {a: 1.0, b: 1.0}, [[1.0, 0.5], [0.2, 1.0]]),
    ([a + b + c], {a: 1.0, b: 1.0, c: 1.0}, 1.9 * np.eye(3) - 0.9),
    ([sympy.gamma(a)], {a: 1.0}, [[1.0]]),
    ([a + sympy.Symbol("a", positive=True)], {"a": 1.0}, [[1.0]]),
]


@pytest.mark.parametrize(("expressions", "values", "covariance"), REFUSED)
def test_unusable_input_is_refused(expressions: Any, values: Any, covariance: Any) -> None:
    with pytest.raises(EstimationError):
        propagate(expressions, values, covariance)
