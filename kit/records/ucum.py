"""UCUM codes of the units the kit reads and keeps.

Source: The Unified Code for Units of Measure, case-sensitive codes: [in_i] and [ft_i] are the
international inch and foot, [lb_av] and [oz_av] the avoirdupois pound and ounce.
"""

from __future__ import annotations

from kit.protocol.catalogue import Definition
from kit.protocol.readings import Reading, read_value
from kit.quantities.kinds import Kind

OF_KIND = {Kind.LENGTH: "cm", Kind.ANGLE: "deg", Kind.MASS: "kg", Kind.RATIO: "1"}
OF_UNIT = {
    "mm": "mm", "cm": "cm", "m": "m", "in": "[in_i]", "ft": "[ft_i]",
    "deg": "deg", "kg": "kg", "g": "g", "lb": "[lb_av]", "oz": "[oz_av]", "percent": "%", "1": "1",
}  # fmt: skip


def written_in(reading: Reading, definition: Definition) -> str:
    """Return the code of the unit a reading was written in; of 1 ft 10 in that is the foot."""
    return OF_UNIT[read_value(reading.raw, reading.unit, definition).unit]
