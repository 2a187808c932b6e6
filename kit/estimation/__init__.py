"""From repeats to estimates, and from estimates to whatever is derived of them."""

from kit.estimation.propagation import propagate

__all__ = ["propagate"]
