"""Where each landmark of one dog lies in the median plane."""

from kit.figure.adjustment import adjust
from kit.figure.equations import Observation

__all__ = ["Observation", "adjust"]
