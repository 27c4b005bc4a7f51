"""What a sound plan adds up to, in words."""

from __future__ import annotations

from cases import small_plan
from msgspec.structs import replace
from three_days import day_1, day_2

from orroom.case.plan import Limits
from orroom.words.plan import plan_overview


def test_the_bench_is_overdue_its_grace_after_it_is_due():
    text = plan_overview(small_plan(limits=Limits(with_placers_seconds=180, with_placers_grace_seconds=45)))
    assert "Grafts with the placers: prompt after 180 s, overdue after 225 s" in text


def test_a_plan_says_nothing_of_what_it_does_not_have():
    whole, bare = plan_overview(small_plan()), plan_overview(small_plan(care=(), staff=(), donor=None))
    for part in ("Care", "wet the dishes", "Staff: AB (cutting), CD (placing), EF (record)", "Donor"):
        assert part in whole
        assert part not in bare


def test_a_donor_measured_after_the_earlier_case_has_nothing_taken_off():
    second = day_2(day_1().state).state.plan
    after = replace(second, donor=replace(second.donor, after_earlier=True))
    assert "measured after the earlier case: nothing is taken off for it" in plan_overview(after)
    assert "taken in earlier cases" not in plan_overview(after)
    assert "taken in earlier cases" in plan_overview(second)
