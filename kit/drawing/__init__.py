"""Scenes (what is drawn) and the two renderers that show them alike."""
