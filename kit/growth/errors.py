"""Why a growth figure is not given."""

from __future__ import annotations

from kit.quantities.errors import EstimationError


class NotSupportedError(EstimationError):
    """The readings do not bear this figure; `do` says what would."""
