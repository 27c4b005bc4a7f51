"""What the fault tests share."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest
from fault_table import noted
from faults.reckoning import Kept, Reckoning, reckon
from faults.tapper import Told


@pytest.fixture
def kept(request: pytest.FixtureRequest) -> Kept:
    """Note in the table what a case kept after a fault; nothing may be lost, doubled or broken."""

    def note(fault: str, case: Path, found: Iterable[Told]) -> Reckoning:
        reckoning = reckon(case, found)
        noted(request.config, fault, {"tried": 1, **reckoning._asdict()})
        assert (reckoning.lost, reckoning.doubled) == (0, 0), fault
        return reckoning

    return note
