"""The stage on which visits are made."""

from __future__ import annotations

import pytest

from tests.cast import Cast, assemble


@pytest.fixture
def cast(db: None) -> Cast:
    """Everybody, with their sites, openings and the one grant."""
    return assemble()
