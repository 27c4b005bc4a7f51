"""Time with the placers without wetting: both bounds against every way to assign grafts to batches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from cases import MINUTE_MS, MORNING_MS, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.care import due_at_ms, with_placers_since_ms
from orroom.case.events import CareGiven
from orroom.case.evolve import fold
from orroom.case.plan import CareRound
from orroom.case.terms import PLACERS_CARE
from orroom.figures.drying import Drying, beyond_interval_ms, drying
from orroom.figures.survival import Between
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise

LIMIT_MS = 120_000  # of the small plan


def dried(record: Record, now_ms: int | None = None) -> Drying:
    found = drying(record.state, record.now_ms if now_ms is None else now_ms)
    assert found is not None
    return found


def test_batches_that_lie_there_together_are_told_between_bounds():
    """By hand, limit 120 s: 10 twos issued at 0 s, 10 at 60; wetted at 100; 15 placed at 200; now 250.

    Until the wetting the first dried 100 s, the second 40; then all 100 s until 200, and the five that are
    left 150 s. So the longest is 150 s and five are over the limit, whichever batch they were of.
    """
    record = case_under_way()
    start = record.now_ms + 1000

    def at(second: float, command: c.Command) -> None:
        record.enter(command, at_ms=start + round(second * 1000))

    at(0, c.IssueGrafts(size="2", count=10))
    at(60, c.IssueGrafts(size="2", count=10))
    at(100, c.GiveCare(care=PLACERS_CARE))
    at(200, c.PlaceGrafts(zone="FRONT", size="2", count=15))
    whole = dried(record, start + 250_000)
    assert (whole.grafts, whole.longest_ms) == (20, Between(150_000, 150_000))
    assert (whole.over_limit, whole.share_over_limit) == (Between(5, 5), Between(0.25, 0.25))
    assert whole.beyond_limit_ms == Between(5 * 30_000, 5 * 30_000)


def test_the_clock_is_that_of_the_oldest_that_may_still_lie_there():
    """By hand, limit 120 s: 10 twos issued at 0 s, 10 at 60; 10 placed at 100; 10 at 170.

    If the second ten were placed first, the first ten lay 170 s; else the first lay 100 s, the second 110.
    """
    record = case_under_way()
    start = record.now_ms + 1000
    record.enter(c.IssueGrafts(size="2", count=10), at_ms=start)
    record.enter(c.IssueGrafts(size="2", count=10), at_ms=start + 60_000)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10), at_ms=start + 100_000)
    assert with_placers_since_ms(record.tally) == start
    assert due_at_ms(record.tally, PLACERS_CARE) == start + LIMIT_MS
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10), at_ms=start + 170_000)
    assert with_placers_since_ms(record.tally) is None
    whole = dried(record)
    assert whole.longest_ms == Between(110_000, 170_000)
    assert whole.over_limit == Between(0, 10)
    page = " ".join(to_markdown(summarise(record.state)).split())
    assert (
        "longest 1 min 50 s–2 min 50 s, 0–10 of 20 grafts (0.0 %–50.0 %) beyond the limit of 2 min 00 s"
        in page
    )
    assert "Which one a graft was taken from is not recorded, so a range shows the least and the most" in page
    assert (
        "**0–10 of 20 grafts with the placers beyond the limit** of 2 min 00 s, the longest 1 min 50 s–2 "
        "min 50 s" in page
    )


def test_grafts_in_dishes_beyond_the_interval_of_a_wetting_round():
    """By hand, interval 15 min: 4 twos cut at 0 min, 4 at 10; wetted at 20; 2 placed at 40; now 50.

    Until 20 the first four lay 5 min beyond: 20. Of all since 20: 2 for 5 beyond, 6 for 15: 10 + 90.
    """
    wet = CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15)
    record = opened_case(small_plan(care=(wet,)))
    record.enter(c.CutGrafts(harvest="A", size="2", count=4))
    start = record.now_ms
    for minute, command in (
        (10, c.CutGrafts(harvest="A", size="2", count=4)),
        (20, c.GiveCare(care="wet")),
        (40, c.PlaceGrafts(zone="FRONT", size="2", count=2)),
    ):
        record.enter(command, at_ms=start + minute * MINUTE_MS)
    found = beyond_interval_ms(record.state, wet, start + 50 * MINUTE_MS)
    assert found == Between(120 * MINUTE_MS, 120 * MINUTE_MS)
    # never wetted, all beyond since 25 min: 2 × 10 less than 8 × 35 − 4 × 10
    dry = fold([each for each in record.state.log if not isinstance(each.event, CareGiven)])
    found = beyond_interval_ms(dry, wet, start + 50 * MINUTE_MS)
    assert found == Between(220 * MINUTE_MS, 220 * MINUTE_MS)


def test_an_emptied_bench_begins_again():
    record = case_under_way()
    for minute in (0, 10):
        record.wait(minute)
        record.enter(c.IssueGrafts(size="2", count=10))
        issued = record.now_ms
        record.wait(0.5)
        if not minute:
            record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))
    assert with_placers_since_ms(record.tally) == issued


def test_sizes_have_clocks_of_their_own_and_harvests_have_not():
    """Which harvest a graft with the placers was of is as little entered as its batch."""
    record = case_under_way()
    record.enter(c.StartHarvest(harvest="B"))
    record.enter(c.CutGrafts(harvest="B", size="2", count=10))
    record.enter(c.IssueGrafts(size="2", count=5, harvest="A"))
    first = record.now_ms
    record.wait(1)
    record.enter(c.IssueGrafts(size="2", count=5, harvest="B"))
    record.enter(c.IssueGrafts(size="3", count=5))
    threes = record.now_ms
    record.wait(1)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5, harvest="A"))
    assert with_placers_since_ms(record.tally) == first
    record.enter(c.ReturnGrafts(size="2", count=5))
    assert with_placers_since_ms(record.tally) == threes


class Step(NamedTuple):
    """Grafts come to the placers or, below 0, leave it; 0: it is wetted."""

    seconds: int
    grafts: int


STEPS = st.lists(
    st.builds(Step, st.integers(1, 90), st.sampled_from((1, 2, 3, -1, -1, -2, 0))), min_size=1, max_size=9
)


class Way(NamedTuple):
    """How long each graft of the bench dried at most, and since when the oldest that lies there dries (s).

    ``beyond``: the time of each beyond the limit, all its spells together (s).
    """

    longest: tuple[int, ...]
    since: int | None
    beyond: tuple[int, ...]


class Lying(NamedTuple):
    """Since when a graft lies there without wetting, its longest time and its time beyond so far (s)."""

    since: int
    longest: int = 0
    beyond: int = 0

    def until(self, at: int) -> Lying:
        dried = at - self.since
        return Lying(at, max(self.longest, dried), self.beyond + max(0, dried - LIMIT_MS // 1000))


Grafts = tuple[Lying, ...]


def ways(steps: Sequence[Step], now: int) -> Iterator[Way]:
    """Every way to say which batch each graft was of."""

    def going_on(place: int, at: int, there: Grafts, gone: Grafts) -> Iterator[Way]:
        if place == len(steps):
            every = (*gone, *(each.until(now) for each in there))
            yield Way(
                tuple(each.longest for each in every),
                min((each.since for each in there), default=None),
                tuple(each.beyond for each in every),
            )
            return
        seconds, grafts = steps[place]
        at += seconds
        if grafts > 0:
            yield from going_on(place + 1, at, (*there, *(Lying(at),) * grafts), gone)
        elif grafts == 0:
            yield from going_on(place + 1, at, tuple(each.until(at) for each in there), gone)
        else:
            yield from taking(place, at, there, gone, min(-grafts, len(there)))

    def taking(place: int, at: int, there: Grafts, gone: Grafts, left: int) -> Iterator[Way]:
        if not left:
            yield from going_on(place + 1, at, there, gone)
        for one in set(there) if left else ():
            rest = list(there)
            rest.remove(one)
            yield from taking(place, at, tuple(rest), (*gone, one.until(at)), left - 1)

    yield from going_on(0, 0, (), ())


@settings(max_examples=150, deadline=None)
@given(STEPS, st.integers(0, 90))
def test_every_way_to_say_which_batch_a_graft_was_of_is_within_the_bounds(steps: list[Step], later: int):
    """And the bounds are reached; the prompt counts from the oldest that may lie there in any of them."""
    record = case_under_way()
    start, at, there, done = record.now_ms, 0, 0, []
    for seconds, grafts in steps:
        at += seconds
        taken = max(grafts, -there)
        there += taken
        done.append(Step(seconds, taken if grafts else 0))
        if grafts and not taken:
            done[-1] = Step(seconds, -99)  # nothing there to take: no entry
            continue
        command: c.Command = c.GiveCare(care=PLACERS_CARE)
        if taken > 0:
            command = c.IssueGrafts(size="2", count=taken)
        elif taken < 0:
            command = c.PlaceGrafts(zone="FRONT", size="2", count=-taken)
        record.enter(command, at_ms=start + at * 1000)
    found = list(ways(done, at + later))
    known = drying(record.state, start + (at + later) * 1000)
    since = min((way.since for way in found if way.since is not None), default=None)
    assert with_placers_since_ms(record.tally) == (None if since is None else start + since * 1000)
    if known is None:
        assert not any(way.longest for way in found)
        return
    longest = [max(way.longest) * 1000 for way in found]
    over = [sum(each * 1000 > LIMIT_MS for each in way.longest) for way in found]
    assert known.longest_ms == Between(min(longest), max(longest))
    assert known.over_limit == Between(min(over), max(over))
    beyond = [sum(way.beyond) * 1000 for way in found]
    assert known.beyond_limit_ms == Between(min(beyond), max(beyond))
    assert {known.grafts} == {len(way.longest) for way in found}


def test_grafts_that_left_the_bench_before_they_were_entered_there_do_not_lie_there():
    """Three went back to the dish before anybody had entered them; of five entered then, two lie there."""
    record = case_under_way()
    record.enter(c.ReturnGrafts(size="2", count=3))
    record.enter(c.IssueGrafts(size="2", count=5))
    record.wait(1)
    assert record.state.tally.held("bench", "2") == 2
    assert dried(record).grafts == 2


def test_an_empty_bench_is_no_data():
    assert drying(case_under_way().state, MORNING_MS) is None


@settings(max_examples=60)
@given(records())
def test_the_longest_that_dries_is_no_less_than_the_prompt_says(record: Record):
    since = with_placers_since_ms(record.tally)
    assert (since is not None) is any(
        sum(count for key, count in record.tally.stock.items() if key[::2] == (size, "bench")) > 0
        for size in {key.size for key in record.tally.stock}
    )
    if since is not None:
        assert (dried(record).longest_ms.high or 0) >= record.now_ms - since


def test_a_rescued_issue_that_is_taken_late_has_dried_since_its_own_time():
    record = case_under_way()
    now_ms = record.now_ms
    record.enter(c.IssueGrafts(size="2", count=3, harvest="A"))
    record.enter(
        c.IssueGrafts(size="2", count=3, harvest="A"), at_ms=now_ms - 2 * MINUTE_MS, station="cutting-2"
    )
    assert with_placers_since_ms(record.tally) == now_ms - 2 * MINUTE_MS


def test_a_rescued_issue_may_still_lie_there_when_as_many_were_placed():
    record = case_under_way()
    now_ms = record.now_ms
    record.enter(c.IssueGrafts(size="2", count=5))
    record.enter(c.IssueGrafts(size="2", count=3), at_ms=now_ms - 2 * MINUTE_MS, station="cutting-2")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3), at_ms=now_ms + MINUTE_MS)
    assert with_placers_since_ms(record.tally) == now_ms - 2 * MINUTE_MS


def test_grafts_that_only_a_hand_count_found_on_the_bench_dry_too():
    record = case_under_way()
    record.enter(c.CountDish(size="2", harvest="A", place="bench", found=5))
    counted = record.now_ms
    record.wait(60)
    assert with_placers_since_ms(record.tally) == counted
    assert (dried(record).grafts, dried(record).longest_ms) == (5, Between(3_600_000, 3_600_000))


def test_a_cancelled_placing_lies_on_the_bench_since_it_came():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=5))
    issued = record.now_ms
    record.wait(1)
    placed = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5))
    assert with_placers_since_ms(record.tally) is None
    record.enter(c.CorrectEntry(entry=placed.seq, reason="not yet"), "EF")
    assert with_placers_since_ms(record.tally) == issued
