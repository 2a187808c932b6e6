"""Starts Jupyter on a copy of a notebook, with the kit's own settings."""
