"""Whether cutting is heading for the plan: cases worked by hand, and what must hold of any record."""

from __future__ import annotations

from math import sqrt

import pytest
from cases import Record, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.plan import Harvest, Zone
from orroom.figures.clusters import cluster_total, part_total
from orroom.figures.course import WRONG_CALL, Course, _off, chance_of, course_by_size
from orroom.figures.yields import Projection, yields


def course_of(record: Record) -> dict[str, Course]:
    return course_by_size(record.state.plan, yields(record.state, 80))


def heading(*segments: int, planned: int, of: int = 6) -> Record:
    """So many ones from each finished segment, of so many in the strip, where so many are planned."""
    record = opened_case(
        small_plan(
            zones=(Zone(key="ALL", label="all", area_cm2=40, targets={"1": planned}),),
            harvests=(Harvest(key="A", label="strip", segments=of),),
        )
    )
    for count in segments:
        record.enter(c.CutGrafts(harvest="A", size="1", count=count))
        record.enter(c.FinishSegment(harvest="A"))
    return record


@pytest.mark.parametrize(
    ("planned", "off", "words"),
    [
        (196, -40, "short by 13 to 67"),
        (184, -28, "short by 1 to 55"),
        (183, 0, "enough"),
        (156, 0, "enough"),
        (129, 0, "enough"),
        (128, 28, "1 to 55 spare"),
        (1_156, -1_000, "short by 973 to 1,027"),
    ],
)
def test_off_is_told_of_one_size_where_its_range_excludes_the_plan(planned: int, off: int, words: str):
    """20, 26 and 32 of six segments: 156 projected, 128.6 to 183.4 (worked by hand in ``test_yields``)."""
    found = course_of(heading(20, 26, 32, planned=planned))["1"]
    assert (found.planned, found.off, found.words) == (planned, off, words)
    assert found.projected is not None
    assert found.projected.grafts == 156


def test_nothing_is_told_below_three_segments_of_each_harvest_unless_it_has_no_more():
    for segments in ((20,), (20, 20)):
        found = course_of(heading(*segments, planned=1200))["1"]
        assert (found.projected, found.off, found.words) == (None, None, None)
    assert course_of(heading(20, 20, 20, planned=1200))["1"].words == "short by 1,064 to 1,096"
    assert course_of(heading(20, 20, planned=41, of=2))["1"].words == "short by 1"
    harvests = (Harvest(key="A", label="strip", segments=6), Harvest(key="B", label="strip", segments=6))
    record = opened_case(small_plan(harvests=harvests))
    for harvest, finished in (("A", 3), ("B", 2)):
        for _ in range(finished):
            record.enter(c.CutGrafts(harvest=harvest, size="1", count=2))
            record.enter(c.FinishSegment(harvest=harvest))
    assert course_of(record)["1"].words is None
    record.enter(c.FinishSegment(harvest="B"))
    assert course_of(record)["1"].words is not None


def test_what_is_there_already_beyond_the_plan_is_over_whatever_chance_may_do():
    found = course_of(heading(20, 26, 32, planned=77))["1"]
    assert found.words == "52 to 106 spare"  # 156 projected; 78 are there
    assert (
        course_of(heading(30, 1, 1, planned=31, of=4))["1"].words == "1 to 38 spare"
    )  # 42.7 ± 29; 32 are there


@given(st.lists(st.floats(0, 1), min_size=1, max_size=6))
def test_sizes_are_called_off_by_holms_steps(chances: list[float]):
    """Reference: ``statsmodels.stats.multitest.multipletests``, method ``holm``."""
    from statsmodels.stats.multitest import multipletests

    found = _off({str(place): chance for place, chance in enumerate(chances)})
    with pytest.MonkeyPatch.context() as library:
        library.setattr("gc.collect", lambda: 0)  # it tidies up all of this process each time
        known = multipletests(chances, WRONG_CALL, "holm")[0]
    assert found == {str(place) for place, off in enumerate(known) if off}


@pytest.mark.parametrize(("planned", "chance"), [(156, 1.0), (156 + 27.43, 0.2), (156 - 53.3, 0.05)])
def test_chance_of_a_projection_is_that_of_its_range(planned: float, chance: float):
    """156 ± 27.4 at 80 %, ± 53.3 at 95 % (worked by hand in ``test_yields``)."""
    projected = yields(heading(20, 26, 32, planned=180).state, 80).projected
    assert projected is not None
    assert chance_of(planned, 78, projected) == pytest.approx(chance, abs=0.001)  # type: ignore[arg-type]


@pytest.mark.parametrize("finished", [3, 5])
def test_a_plan_that_is_right_is_seldom_called_short_or_over(finished: int):
    """400 strips of 12 segments with fixed seeds, each size a Poisson count, its plan what will come of it.

    Five sizes, 1 to 80 grafts a segment, segments differ by 18 %. Each size by its own 80 % range: 7 in 10.
    """
    import numpy as np

    means = {"1": 20, "2": 80, "3": 10, "4": 3, "M": 1}
    chance = np.random.default_rng(finished)
    called = 0
    for _ in range(400):
        size = np.exp(chance.normal(-0.0159, 0.178, 12))
        strips = {key: [int(each) for each in chance.poisson(mean * size)] for key, mean in means.items()}
        whole = cluster_total([sum(each) for each in zip(*strips.values(), strict=True)][:finished], 12)
        assert whole is not None
        cut = sum(sum(each[:finished]) for each in strips.values())
        chances = {}
        for key, strip in strips.items():
            part = part_total(whole, strip[:finished], sum(strip[:finished]) / cut, 12)
            guess = Projection(part.total, 0, 0, sqrt(part.variance), part.degrees)
            chances[key] = chance_of(sum(strip), sum(strip[:finished]), guess)
        called += bool(_off(chances))
    assert called / 400 <= WRONG_CALL


def test_once_all_is_cut_every_graft_counts():
    segments = (20, 20, 20)
    for planned, words in ((60, "enough"), (61, "short by 1"), (59, "1 spare")):
        assert course_of(heading(*segments, planned=planned, of=3))["1"].words == words


@pytest.mark.parametrize(
    ("projected", "off", "words"),
    [(59.8, -1, "short by 1"), (60, 0, "enough"), (60.2, 1, "1 spare")],
)
def test_less_than_half_a_graft_beyond_the_range_is_told_as_one(projected: float, off: int, words: str):
    """An error of 0.05 graft, 60 planned."""
    state = heading(20, 20, 20, planned=60).state
    guess = Projection(projected, projected - 0.1, projected + 0.1, 0.05, 5)
    harvest = replace(yields(state, 80), projected_by_size={"1": guess}, usable_by_size={"1": 60})
    found = course_by_size(state.plan, harvest)["1"]
    assert (found.off, found.words) == (off, words)


@settings(max_examples=40)
@given(records())
def test_every_size_of_the_plan_has_its_course(record: Record):
    found = course_of(record)
    projected = yields(record.state, 80).projected_by_size
    assert list(found) == list(record.state.plan.size_by_key)
    harvest = yields(record.state, 80)
    for size, each in found.items():
        assert each.planned == record.state.plan.planned(size)
        assert each.projected == (projected[size] if harvest.enough else None)
        match each.projected:
            case None:
                assert (each.off, each.words) == (None, None)
            case Projection(low=low, high=high):
                assert each.off is not None
                assert each.off >= 0 or high < each.planned
                assert each.off <= 0 or low > each.planned or harvest.usable_by_size[size] > each.planned
