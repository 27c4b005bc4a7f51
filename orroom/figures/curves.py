"""How far the work had come, moment by moment: what charts and the replay's strip are drawn from."""

from itertools import accumulate
from typing import NamedTuple

from orroom.case.events import FateGiven, GraftsCut, GraftsPlaced
from orroom.case.state import CaseState
from orroom.figures.pace.work import worked
from orroom.figures.survival import kaplan_meier, observed


class Reached(NamedTuple):
    """By this time (UTC ms): grafts cut, grafts placed. What was corrected later never counted."""

    at_ms: int
    cut: int
    placed: int


def progress(
    state: CaseState, steps: int, end_ms: int | None = None, start_ms: int | None = None
) -> tuple[Reached, ...]:
    """Grafts cut and placed at ``steps`` even steps from ``start_ms`` (UTC ms) to the end of the work.

    Without a start, from the first entry. A later ``end_ms`` is the end instead, such as that of the record,
    where sign-off is too. Empty before any of it. The last step is what the record holds; times of clocks
    that ran behind count as the latest before them.
    """
    entries = worked(state)
    times = list(accumulate((entry.stamp.at_ms for entry in entries), max))
    if not any(isinstance(entry.event, GraftsCut | GraftsPlaced) for entry in entries):
        return ()
    start = times[0] if start_ms is None else start_ms
    end = max(end_ms or 0, times[-1], start + 1)
    found: list[Reached] = []
    cut = placed = place = 0
    for step in range(steps + 1):
        until = start + (end - start) * step // steps
        while place < len(entries) and times[place] <= until:
            match entries[place].event:
                case GraftsCut(count=count):
                    cut += count
                case GraftsPlaced(count=count) | FateGiven(count=count, into_zone=str()):
                    placed += count
            place += 1
        found.append(Reached(until, cut, placed))
    return tuple(found)


class Waiting(NamedTuple):
    """After so long out of the body (ms), this share of a harvest's grafts was not yet placed."""

    out_ms: int
    share: float


def waiting_curve(state: CaseState, now_ms: int) -> dict[str, tuple[Waiting, ...]]:
    """By harvest with a known start, its Kaplan-Meier curve of time out of the body, drawn as entered."""
    return {
        harvest: (Waiting(0, 1.0), *(Waiting(out_ms, share) for out_ms, share in kaplan_meier(mine)))
        for harvest, mine in observed(state, now_ms).items()
    }
