"""The table of faults, told at the end of the run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest
from reckoning import Kept, Reckoning, reckon
from tapper import Told

_TABLE = pytest.StashKey[dict[str, Counter[str]]]()
_COLUMNS = ("tried", *Reckoning._fields)


@pytest.fixture
def kept(request: pytest.FixtureRequest) -> Kept:
    """Note in the table what a case kept after a fault; nothing may be lost, doubled or broken."""
    table = request.config.stash.setdefault(_TABLE, {})

    def note(fault: str, case: Path, told: Iterable[Told]) -> Reckoning:
        reckoning = reckon(case, told)
        table.setdefault(fault, Counter()).update(tried=1, **reckoning._asdict())
        assert (reckoning.lost, reckoning.doubled) == (0, 0), fault
        return reckoning

    return note


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    table = config.stash.get(_TABLE, {})
    if not table:
        return
    terminalreporter.section("faults")
    width = max(len(fault) for fault in table)
    heads = "".join(f"{column:>14}" for column in _COLUMNS)
    terminalreporter.write_line(f"{'fault':{width}}{heads}")
    for fault, counts in table.items():
        cells = "".join(f"{counts[column]:>14,}" for column in _COLUMNS)
        terminalreporter.write_line(f"{fault:{width}}{cells}")
