"""What a sound plan adds up to, in words."""

from __future__ import annotations

from cases import small_plan

from orroom.case.plan import Limits
from orroom.words.plan import plan_overview


def test_the_bench_is_overdue_its_grace_after_it_is_due():
    text = plan_overview(small_plan(limits=Limits(with_placers_seconds=180, with_placers_grace_seconds=45)))
    assert "Grafts with the placers: prompt after 180 s, overdue after 225 s" in text
