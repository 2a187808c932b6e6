"""How far a tape, a rule or a caliper bar may be wrong by itself."""

from __future__ import annotations

import math

from kit.quantities.errors import EstimationError

# OIML R 35-1:2007 clause 4 (Directive 2014/32/EU Annex X, MI-008, Table 1): millimetres.
_COEFFICIENTS = {"I": (0.1, 0.1, 0.1), "II": (0.3, 0.2, 0.2), "III": (0.6, 0.4, 0.3)}


def maximum_permissible_error(length: float, tape_class: str, *, from_end: bool = False) -> float:
    """Return the maximum permissible error of a graduated length in millimetres.

    ``a + b L`` with L in metres rounded up to the next whole metre; ``c`` is added where the first
    interval starts at a surface, as with a hook or a rule's end.

    Parameters
    ----------
    length : float
        Measured length in metres.
    tape_class : str
        Accuracy class I, II or III.
    from_end : bool
        True if measured from the tape's end surface.

    Raises
    ------
    EstimationError
        For an unknown class or a length that is not above zero.

    Source: OIML R 35-1:2007 clause 4.
    """
    if tape_class not in _COEFFICIENTS:
        raise EstimationError("unknown tape class", "I, II or III", repr(tape_class))
    if not length > 0:
        raise EstimationError("no tape error for this length", "metres above zero", f"{length}")
    fixed, per_metre, end = _COEFFICIENTS[tape_class]
    return fixed + per_metre * math.ceil(length) + (end if from_end else 0.0)
