"""A studio with a booked job of €-money, for all tests of money."""

from __future__ import annotations

import pytest

from tests import builders


@pytest.fixture
def shop(owner, rates):
    builders.house(tax_number="EU 123", address="1 Quay", request_prefix="R-", request_first_number=41, payment_details="Bank of Quays, 12-34")
    return builders.Workshop(owner)
