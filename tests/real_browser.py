"""Debian's Chromium for tests: where CI is set a missing one fails them, elsewhere it skips."""

from __future__ import annotations

import os
import shutil

import pytest


def chromium_or_skip() -> str:
    """Return the browser's path."""
    found = shutil.which("chromium")
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail("no chromium on this machine")
    pytest.skip("no chromium on this machine")
