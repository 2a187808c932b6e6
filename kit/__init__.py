"""Measure a dog's conformation with honest error and hold it against a written standard."""

__version__ = "0.1.0"
