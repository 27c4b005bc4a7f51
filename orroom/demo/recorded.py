"""A workday as the record that it leaves, without anybody waiting for it to happen."""

from collections import Counter
from collections.abc import Iterable

from orroom.case.commands import Command, JoinStation, LeaveStation, OpenCase
from orroom.case.events import Entry, Stamp
from orroom.case.evolve import evolve
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.demo.room import Turn, crew_of, entered
from orroom.demo.workday import workday


def recorded(plan: Plan, seed: int, opened_at_ms: int, utc_offset_minutes: int) -> list[Entry]:
    """The whole day of this plan and seed, from the opening until every station is left."""
    return entries_of(plan, workday(plan, seed), opened_at_ms, utc_offset_minutes)


def entries_of(plan: Plan, turns: Iterable[Turn], opened_at_ms: int, utc_offset_minutes: int) -> list[Entry]:
    """The entries of these turns, people joining and leaving. Raises ``ValueError`` if one is refused."""
    record = _Record(opened_at_ms)
    opening = OpenCase(plan=plan, utc_offset_minutes=utc_offset_minutes)
    record.enter(0, "desk", crew_of(plan).recorder, opening)
    stations: dict[tuple[str, Role], str] = {}
    joined: Counter[Role] = Counter()
    after_ms = 0
    for turn in turns:
        after_ms = turn.after_ms
        if turn.seat not in stations:
            joined[turn.role] += 1
            stations[turn.seat] = f"{turn.role}-{joined[turn.role]}"
            record.enter(after_ms, stations[turn.seat], turn.who, JoinStation(role=turn.role))
        station = stations[turn.who, turn.role] = stations[turn.seat]
        record.enter(after_ms, station, turn.who, turn.command)
    last_there = {station: who for (who, _), station in stations.items()}
    for station, who in last_there.items():
        record.enter(after_ms, station, who, LeaveStation())
    return record.entries


class _Record:
    """Entries in the making, numbered by station."""

    def __init__(self, opened_at_ms: int) -> None:
        self.entries: list[Entry] = []
        self._opened_at_ms = opened_at_ms
        self._state = CaseState()
        self._taps: Counter[str] = Counter()

    def enter(self, after_ms: int, station: str, who: str, command: Command) -> None:
        self._taps[station] += 1
        stamp = Stamp(self._opened_at_ms + after_ms, station, self._taps[station], who)
        entry = entered(self._state, command, stamp)
        self._state = evolve(self._state, entry)
        self.entries.append(entry)
