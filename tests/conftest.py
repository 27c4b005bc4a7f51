"""What all tests share."""

from __future__ import annotations

import pytest
from cases import Record, case_under_way, opened_case
from hypothesis import HealthCheck, settings

# A busy machine makes a slow example no wrong one.
settings.register_profile("orroom", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("orroom")


@pytest.fixture
def record() -> Record:
    """A record that holds only its opening."""
    return opened_case()


@pytest.fixture
def under_way() -> Record:
    """A record of a case in which lot A was harvested an hour ago and 95 grafts wait in dishes."""
    return case_under_way()
