"""Shared between tests: the tables of outside figures are importable from here."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
