"""Components of uncertainty: how large, how well known, and of what shape."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from kit.quantities.errors import EstimationError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Shape = Literal["normal", "rectangular"]


@dataclass(frozen=True)
class Component:
    """One source of error of one estimate.

    Attributes
    ----------
    name : str
        For example ``repeat``, ``posture``, ``resolution`` or ``instrument``.
    uncertainty : float
        Standard uncertainty, in the unit of the estimate.
    dof : float
        Degrees of freedom; infinite where the figure is taken as known.
    shape : str
        ``normal`` (Student's t where `dof` is finite) or ``rectangular``.
    """

    name: str
    uncertainty: float
    dof: float = math.inf
    shape: Shape = "normal"

    def sample(self, generator: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Draw errors of this component (JCGM 101:2008, 6.4.2 and 6.4.9)."""
        if self.shape == "rectangular":
            half_width = self.uncertainty * math.sqrt(3.0)
            return generator.uniform(-half_width, half_width, count)
        if math.isinf(self.dof):
            return generator.normal(0.0, self.uncertainty, count)
        return self.uncertainty * generator.standard_t(self.dof, count)


def rectangular(name: str, half_width: float) -> Component:
    """Build the component of limits ±half_width (JCGM 100:2008, 4.3.7)."""
    return Component(name, half_width / math.sqrt(3.0), math.inf, "rectangular")


def combined(components: Iterable[Component]) -> float:
    """Return the root sum of squares of the standard uncertainties."""
    return math.sqrt(sum(component.uncertainty**2 for component in components))


def effective_dof(uncertainties: Iterable[float], dofs: Iterable[float]) -> float:
    """Return the effective degrees of freedom by Welch and Satterthwaite.

    Parameters
    ----------
    uncertainties : iterable of float
        Contributions to the combined standard uncertainty, in one unit.
    dofs : iterable of float
        Their degrees of freedom, above zero; may be infinite.

    Source: JCGM 100:2008, G.4.1, equation G.2b.
    """
    pairs = list(zip(uncertainties, dofs, strict=True))
    if any(dof <= 0 for _, dof in pairs):
        raise EstimationError("degrees of freedom must be above zero", given=repr(pairs))
    total = sum(uncertainty**2 for uncertainty, _ in pairs) ** 2
    weighted = sum(uncertainty**4 / dof for uncertainty, dof in pairs)
    return total / weighted if weighted > 0 else math.inf
