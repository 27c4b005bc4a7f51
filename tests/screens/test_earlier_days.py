"""What earlier cases placed is next to the zone at placing; kept grafts are of a day before."""

from __future__ import annotations

import pytest
from cases import MORNING_MS
from three_days import DAY_MS, day_1, day_2

from orroom.case.evolve import fold
from orroom.case.state import CaseState
from orroom.figures.case_times import case_times
from orroom.figures.counts import by_zone
from orroom.figures.earlier import before_in
from orroom.figures.wording import clock_time
from orroom.screens.stations.views.placing_zone import zone_detail
from orroom.screens.terminal.painting import text_of
from orroom.words.explanation import Asked
from orroom.words.status import status_at
from orroom.words.worked_out import worked_out


@pytest.fixture(scope="module")
def second() -> CaseState:
    return day_2(day_1().state).state


def detail(state: CaseState, zone: str, width: int) -> list[str]:
    [count] = [each for each in by_zone(state) if each.zone.key == zone]
    return [text_of(line) for line in zone_detail(count, width, before_in(state.plan, count.zone))]


def test_a_zone_in_detail_shows_what_was_there_before(second: CaseState):
    # Day 1 placed 30 twos and 10 threes on 10 cm², day 2 6 twos of 80 grafts planned with 170 hairs.
    assert detail(second, "FRONT", 80)[1].strip() == (
        "grafts/cm² 0.6 of 8.0, before 4.0 · hairs/cm² 1.2 of 17.0, before 9.0"
    )
    assert detail(second, "FRONT", 120)[1].strip().endswith("before 9.0 · 10.0 cm²")
    assert "before" not in detail(day_1().state, "FRONT", 120)[1]
    assert detail(day_1().state, "MID", 120)[1].strip().endswith("12.0 cm² · 2 beyond the plan")


def test_the_formula_of_a_density_names_what_earlier_cases_placed(second: CaseState):
    asked = Asked(
        state=second, now_ms=MORNING_MS + DAY_MS, who="CD", harvest="A", zone="FRONT", foretold=None
    )
    [found] = [each for each in worked_out("placing", asked) if "per cm²" in each.numbers]
    assert "of earlier cases: 40: 4.0 grafts, 9.0 hairs per cm²" in found.numbers
    [usable] = [each for each in worked_out("overview", asked) if each.name == "USABLE"]
    assert usable.value == "22"
    assert usable.numbers.startswith("13 kept from an earlier case + 10 cut + 0 pieces of divided grafts ")
    assert "− 0 discarded − 1 not found by hand count" in usable.numbers
    [all_zones] = [each for each in worked_out("overview", asked) if each.name == "placed before"]
    assert (all_zones.value, all_zones.source) == ("67", "the records of P7-1")
    assert all_zones.numbers == (
        "hairline 25: 6.2 grafts, 6.2 hairs per cm²; frontal 40: 4.0 grafts, 9.0 hairs per cm²; "
        "mid-scalp 2: 0.2 grafts, 0.3 hairs per cm²"
    )


def test_times_are_of_the_day_of_this_case_and_kept_grafts_of_the_day_before(second: CaseState):
    opened = fold(second.log[:1])
    times = case_times(second)
    assert clock_time(second.tally.harvests["K1"].started_at_ms, times) == "day before 07:30"
    assert clock_time(second.log[-1].stamp.at_ms, times) == "07:30"
    assert clock_time(opened.tally.harvests["K1"].started_at_ms, case_times(opened)) == "day before 07:30"
    shown = status_at(opened, MORNING_MS + DAY_MS)
    assert shown.oldest_out_ms == DAY_MS
    assert shown.prompts["wet"].due_at_ms == opened.log[0].stamp.at_ms + 15 * 60_000
    assert "harvest K1: 8 twos kept, not counted again in this case" in shown.mismatches.values()
