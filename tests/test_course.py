"""Whether cutting is heading for the plan: cases worked by hand, and what must hold of any record."""

from __future__ import annotations

import pytest
from cases import Record, opened_case, records, small_plan
from hypothesis import given, settings

from orroom.case import commands as c
from orroom.case.plan import Lot, Zone
from orroom.figures.course import Course, course_by_size
from orroom.figures.yields import Projection, yields


def course_of(record: Record) -> dict[str, Course]:
    return course_by_size(record.state.plan, yields(record.state, 80))


def heading(*segments: int, planned: int, of: int = 6) -> Record:
    """So many ones from each finished segment, of so many in the strip, where so many are planned."""
    record = opened_case(
        small_plan(
            zones=(Zone(key="ALL", label="all", area_cm2=40, targets={"1": planned}),),
            lots=(Lot(key="A", label="strip", segments=of),),
        )
    )
    for count in segments:
        record.enter(c.CutGrafts(lot="A", size="1", count=count))
        record.enter(c.FinishSegment(lot="A"))
    return record


@pytest.mark.parametrize(
    ("planned", "off", "words"),
    [
        (196, -40, "short by 40"),
        (184, -28, "short by 28"),
        (183, 0, "on course"),
        (156, 0, "on course"),
        (129, 0, "on course"),
        (128, 28, "28 over"),
        (1_156, -1_000, "short by 1,000"),
    ],
)
def test_off_is_told_where_the_80_per_cent_limits_exclude_the_plan(planned: int, off: int, words: str):
    """20, 26 and 32 of six segments: 156 projected, 128.3 to 183.7 (worked by hand in ``test_yields``)."""
    told = course_of(heading(20, 26, 32, planned=planned))["1"]
    assert (told.planned, told.off, told.words) == (planned, off, words)
    assert told.projected is not None
    assert told.projected.grafts == 156


def test_nothing_is_told_below_two_segments():
    told = course_of(heading(20, planned=120))["1"]
    assert (told.projected, told.off, told.words) == (None, None, None)


def test_once_all_is_cut_every_graft_counts():
    segments = (20, 20, 20)
    for planned, words in ((60, "on course"), (61, "short by 1"), (59, "1 over")):
        assert course_of(heading(*segments, planned=planned, of=3))["1"].words == words


@pytest.mark.parametrize(
    ("strip_mm", "projected", "off", "words"),
    [(29.9, 59.8, -1, "short by 1"), (30.0, 60, 0, "on course"), (30.1, 60.2, 1, "1 over")],
)
def test_less_than_half_a_graft_beyond_the_limits_is_told_as_one(
    strip_mm: float, projected: float, off: int, words: str
):
    """20 and 20 of 10 mm each, of three segments, so 2 a mm without doubt; 60 planned."""
    record = opened_case(
        small_plan(
            zones=(Zone(key="ALL", label="all", area_cm2=40, targets={"1": 60}),),
            lots=(Lot(key="A", label="strip", segments=3, strip_length_mm=strip_mm),),
        )
    )
    for _ in range(2):
        record.enter(c.CutGrafts(lot="A", size="1", count=20))
        record.enter(c.FinishSegment(lot="A", length_mm=10))
    told = course_of(record)["1"]
    assert told.projected is not None
    assert told.projected.grafts == pytest.approx(projected)
    assert (told.off, told.words) == (off, words)


@settings(max_examples=40)
@given(records())
def test_every_size_of_the_plan_has_its_course(record: Record):
    told = course_of(record)
    projected = yields(record.state, 80).projected_by_size
    assert list(told) == list(record.state.plan.size_by_key)
    for size, each in told.items():
        assert each.planned == record.state.plan.planned(size)
        assert each.projected == projected[size]
        match each.projected:
            case None:
                assert (each.off, each.words) == (None, None)
            case Projection(low=low, high=high):
                assert each.off is not None
                assert (each.off < 0) == (high < each.planned)
                assert (each.off > 0) == (low > each.planned)
