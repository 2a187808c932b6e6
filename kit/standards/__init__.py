"""Written standards, and findings that say no more than the readings bear."""

from kit.standards.conformity import conformance_probability

__all__ = ["conformance_probability"]
