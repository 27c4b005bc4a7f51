"""What is said of a final count that is being made: who counts, who is wanted next, how it is stopped."""

from typing import Final

from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.figures.case_times import case_times
from orroom.figures.wording import clock_time, how_long

#: A count takes some minutes: after so long it may have been left. Common practice, no source.
LONG_MS: Final = 20 * 60_000


def running_words(state: CaseState, where: str) -> tuple[str, ...]:
    """Who counts since when, or that the first count is done, and ``where`` the second begins."""
    running = count_running(state)
    if running is None:
        return ()
    times = case_times(state)
    if running.first is not None and not running.under_way:
        return (f"First count by {running.first.who} done: second person, please: {where}",)
    return tuple(f"{each.who} counts since {clock_time(each.at_ms, times)}" for each in running.under_way)


def hidden_words(counting: str) -> str:
    """That a count hides all counts, and who is ``counting``."""
    return f"final count under way: counts are hidden. {counting}"


def left_words(state: CaseState, now_ms: int, where: str) -> tuple[str, ...]:
    """After a long time, how a count that was left is stopped."""
    running = count_running(state)
    if running is None or now_ms - running.since_ms < LONG_MS:
        return ()
    waited_ms = now_ms - running.since_ms
    waited = f"{waited_ms // 60_000} minutes" if waited_ms < 3_600_000 else how_long(waited_ms)
    return (f"No count has come for {waited}. If nobody counts any more, stop it: {where}",)
