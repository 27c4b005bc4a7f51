"""Whether a work is at a standstill, on a break by plan, or has lost somebody."""

from typing import Final

from orroom.figures.pace.forecast import Rest
from orroom.figures.pace.work import WorkDone

#: More likely than not, it is asked whether somebody has left.
LIKELY: Final = 0.5


def asks_who_left(done: WorkDone, rest: Rest) -> bool:
    """Whether to ask if somebody has left: of a team whose size was entered, not of people seen by name."""
    return rest.fewer > LIKELY and set(done.there) == {""}


def none_for_ms_of(done: WorkDone, now_ms: int) -> int | None:
    """How long nothing was done where nobody is at work now; ``None`` while somebody is.

    Each of several people may well be silent for so long, but not all of them at once.
    """
    silent = any(not each.who and each.start_ms < each.end_ms == now_ms for each in done.ahead)
    if not silent and max((stint.end_ms for stint in done.stints), default=now_ms) >= now_ms:
        return None
    return now_ms - done.marks[-1].at_ms


def breaks_ahead_ms(done: WorkDone, now_ms: int, until_ms: int) -> int:
    """For how long everybody will be on a break before ``until_ms``, as far as it is planned."""
    ahead = ((max(each.start_ms, now_ms), min(each.end_ms, until_ms)) for each in done.ahead if not each.who)
    return sum(max(0, end - start) for start, end in ahead)
