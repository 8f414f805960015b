"""A furnished workshop, for every test of the stockroom."""

from __future__ import annotations

import pytest

from tests import builders


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)
