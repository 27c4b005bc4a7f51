"""What the tests of the screens share."""

from __future__ import annotations

import pytest
from cases import Record
from larger_cases import busy_day


@pytest.fixture
def busy() -> Record:
    """2,400 grafts planned in ten zones; cutting and placing go on."""
    return busy_day()
