"""The dog in movement: speed, stride, footfalls and tracks, each with its uncertainty."""

from kit.movement.gait import froude, relative_stride, symmetry_index

__all__ = ["froude", "relative_stride", "symmetry_index"]
