"""The sample ``two-days``: day 1 and day 2 of ``three_days.py``, as plans and as what was recorded.

``python tests/two_days_sample.py`` writes it again.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from cases import small_plan
from three_days import day_1, day_2, on_disk

from orroom.files.plan_draft import draft_of
from orroom.files.plan_text import text_of
from orroom.record.encoding import lines_of
from orroom.record.verify import verify

FOLDER = Path(__file__).parent.parent / "sample_cases" / "two-days"
FIRST, SECOND = "DEMO-0715-1", "DEMO-0715-2"


def two_days_sample(work: Path) -> dict[str, str]:
    """Its files by name, but for what explains it; ``work`` is a folder to make the first case in."""
    first = day_1(FIRST)
    seal = verify(on_disk(first, work / f"{FIRST}.orroom")).seal
    second = day_2(first.state, SECOND, seal)
    plans = {"first-plan": small_plan(case=FIRST), "plan": small_plan(case=SECOND, earlier=FIRST)}
    return {
        **{f"{name}.toml": text_of(draft_of(plan)).text for name, plan in plans.items()},
        "first-events.jsonl": lines_of(first.state.log),
        "events.jsonl": lines_of(second.state.log),
    }


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as work:
        for name, text in two_days_sample(Path(work)).items():
            (FOLDER / name).write_text(text, "utf-8")
