"""Shared between tests: the tables of outside figures are importable from here."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from kit.survey.dogs import SurveyTable

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def whole_survey() -> SurveyTable:
    """The invented survey, read once by each worker."""
    from kit.protocol.catalogue import catalogue
    from kit.protocol.shipped import shipped
    from kit.survey.dogs import read_survey

    return read_survey(shipped("data", "demo_survey.csv.gz"), catalogue())
