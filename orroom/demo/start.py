"""The demo: an invented case with a simulated team, some of its day gone already."""

from pathlib import Path
from typing import Final

from orroom.case.plan import Plan
from orroom.clock import FastClock, WallClock, utc_offset_minutes
from orroom.demo.recorded import entries_of
from orroom.demo.team import Team
from orroom.demo.workday import workday
from orroom.files.plan_file import load_plan
from orroom.record.case_file import CaseFile
from orroom.recording import record_all

DAY_MS: Final = 24 * 3_600_000
EIGHT_MS: Final = 8 * 3_600_000


def demo_plan() -> Plan:
    """The plan that the demo runs on."""
    return load_plan(Path(__file__).with_name("plan.toml"))


def start_demo(path: Path, plan: Plan, seed: int, speed: float, skip_minutes: float) -> tuple[CaseFile, Team]:
    """A new case file, opened at eight today in its own time, and a team already at work on it.

    The first ``skip_minutes`` of the day are in the file; the rest happens ``speed`` times as fast as the
    machine's clock. Raises ``CaseFileError`` if the file cannot be made.
    """
    turns = workday(plan, seed)
    offset_minutes = utc_offset_minutes()
    opened_at_ms = _eight_today_ms(offset_minutes)
    skipped_ms = round(skip_minutes * 60_000)
    gone = [turn for turn in turns if turn.after_ms <= skipped_ms]
    entries = entries_of(plan, gone, opened_at_ms, offset_minutes)
    clock = FastClock(WallClock().now_ms(), opened_at_ms + skipped_ms, speed)
    case_file = CaseFile.create(path, clock)
    record_all(case_file, entries, str(path))
    team = Team(path, turns[len(gone) :], opened_at_ms, clock)
    team.start()
    return case_file, team


def _eight_today_ms(offset_minutes: int) -> int:
    local_ms = WallClock().now_ms() + offset_minutes * 60_000
    return local_ms - local_ms % DAY_MS + EIGHT_MS - offset_minutes * 60_000
