"""Papers from the sample survey, worked out once."""

from __future__ import annotations

import pytest
from paper_cases import sample
from paper_reading import papers_of

from skyview.report.papers.blocks import Paper


@pytest.fixture(scope="session")
def papers() -> dict[str, Paper]:
    """The sample's papers."""
    return papers_of(sample())
