"""The table of faults that is told at the end of a run, also of one shared among several processes."""

from __future__ import annotations

from collections import Counter

import pytest

TABLE = pytest.StashKey[dict[str, Counter[str]]]()
COLUMNS = ("tried", "acknowledged", "lost", "doubled")


def noted(config: pytest.Config, fault: str, counts: dict[str, int]) -> None:
    """Add what came of a fault."""
    config.stash.setdefault(TABLE, {}).setdefault(fault, Counter()).update(counts)


def told(config: pytest.Config) -> list[str]:
    """The table's lines, none without a fault."""
    table = config.stash.get(TABLE, {})
    if not table:
        return []
    width = max(len(fault) for fault in table)
    lines = [f"{'fault':{width}}" + "".join(f"{column:>14}" for column in COLUMNS)]
    for fault, counts in sorted(table.items()):
        lines.append(f"{fault:{width}}" + "".join(f"{counts[column]:>14,}" for column in COLUMNS))
    return lines
