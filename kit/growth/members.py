"""One puppy of a litter, as a fit of the whole litter takes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.growth.curves import Curve
from kit.growth.error_models import ErrorModel
from kit.growth.fitting import checked
from kit.growth.shared import Shared
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Member:
    """One puppy of a litter: ages in days and sizes, shape (n,) each; `sex` may be empty."""

    name: str
    age: Vector
    value: Vector
    sex: str = ""
    weights: Vector | None = None


def member(name: str, age: ArrayLike, value: ArrayLike, sex: str = "") -> Member:
    """Return a puppy of a litter, its readings checked."""
    days, sizes = checked(age, value)
    if np.any(sizes <= 0):
        raise EstimationError(f"a size of {name} is not above zero", "sizes as read",
                              f"{sizes.min():g}", "look for a slip of the pen")  # fmt: skip
    return Member(name, days, sizes, sex)


def check_members(
    members: Sequence[Member], error: ErrorModel | None, family: Curve, shared: Shared | None
) -> None:
    """Raise EstimationError unless these puppies can be fitted together."""
    names = [one.name for one in members]
    if not names or len(set(names)) < len(names):
        raise EstimationError("not a litter", "puppies, each with its own name", ", ".join(names))
    if error is None and any(one.weights is None for one in members):
        raise EstimationError("nothing says how readings scatter", "an error model, or weights")
    if shared is not None and shared.curve != family:
        raise EstimationError(
            "the population was learned with another curve", family.key, shared.curve.key
        )
