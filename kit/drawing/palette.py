"""Every colour of the kit's pictures, by the part it plays.

Warm neutrals of clearly different lightness carry the drawing, so it prints in grey; the accents
are taken from the colour-blind safe set of Okabe & Ito, "Color Universal Design" (2008), darkened
or lightened where text or bands need it (from memory).
"""

from __future__ import annotations

from types import MappingProxyType

PALETTE = MappingProxyType(
    {
        "paper": "#fdfbf6",
        "ink": "#3b3029",
        "text": "#2f2823",
        "quiet_text": "#6f655b",
        "faint_line": "#b9ada0",
        "hairline": "#ded5c8",
        "coat": "#e2d0b5",
        "coat_light": "#f2e7d5",
        "coat_shade": "#8c6c4e",
        "far_coat": "#bfa587",
        "ear_coat": "#c0a07c",
        "contour": "#7a5f49",
        "nose": "#2e2521",
        "eye": "#2b1d14",
        "iris": "#6d4526",
        "eye_light": "#ffffff",
        "bone": "#fbf5e4",
        "bone_line": "#7d6b55",
        "bone_shade": "#d8c9aa",
        "accent": "#a63d1f",
        "plumb": "#0b5f8a",
        "floor": "#8f8376",
        "ground": "#efe8dc",
        "inside": "#0072b2",
        "outside": "#b5480f",
        "unsure": "#8a8178",
        "band": "#cfe3ee",
        "white": "#ffffff",
    }
)


def colour(role: str) -> str:
    """Return the colour of a role as ``#rrggbb``; an unknown role raises KeyError."""
    return PALETTE[role]
