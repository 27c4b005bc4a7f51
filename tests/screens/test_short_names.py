"""Names in fewer columns: left and right stay whole, and two zones never get the same name."""

from __future__ import annotations

import re

import pytest
from cases import Record
from hypothesis import given
from hypothesis import strategies as st
from painted import said
from readme_screens import EVENTS
from rich.cells import cell_len

from orroom.case.evolve import fold
from orroom.case.plan import Zone
from orroom.record.events_file import read_events
from orroom.screens.stations.views.zone_names import sided, zone_names
from orroom.screens.terminal.short_names import short_name, short_names

SAMPLE = (
    "hairline left",
    "hairline right",
    "temporal left",
    "temporal right",
    "second line left",
    "second line right",
    "frontal tuft",
    "frontal core",
    "mid-scalp left",
    "mid-scalp right",
)
HEADS = (
    "hairline",
    "temporal",
    "temple",
    "second line",
    "second row",
    "frontal core",
    "frontal tuft",
    "mid-scalp",
)


@pytest.mark.parametrize(
    ("name", "width", "short"),
    [
        ("temporal right", 14, "temporal right"),
        ("temporal right", 11, "temp. right"),
        ("second line left", 15, "sec. line left"),
        ("second line left", 13, "second left"),
        ("mid-scalp right", 12, "mid-s. right"),
        ("mid-scalp right", 10, "mid. right"),
        ("frontal tuft", 11, "front. tuft"),
        ("hairline, left", 13, "hairli. left"),
        ("hairline", 6, "hairl."),
        ("hairline left", 5, "left"),
    ],
)
def test_a_name_keeps_its_side_and_a_beginning_that_is_known(name: str, width: int, short: str):
    assert short_name(name, width) == short


def test_the_two_of_a_pair_are_cut_alike():
    for width in range(8, 17):
        names = short_names(SAMPLE, width)
        for left, right in zip(SAMPLE[:6:2], SAMPLE[1:6:2], strict=True):
            assert names[left].removesuffix("left") == names[right].removesuffix("right")


zones_of_a_plan = st.lists(
    st.tuples(st.sampled_from(HEADS), st.sampled_from(("left", "right", ""))),
    min_size=1,
    max_size=12,
    unique=True,
).map(lambda each: tuple(f"{head} {side}".strip() for head, side in each))


@given(zones_of_a_plan, st.integers(11, 30))
def test_two_zones_of_a_plan_never_get_the_same_name(names: tuple[str, ...], width: int):
    short = short_names(names, width)
    assert len({*short.values()}) == len(names)


@given(st.lists(st.text("abcé 前-, ", min_size=1, max_size=25), max_size=6, unique=True), st.integers(5, 30))
def test_no_name_is_too_long_and_sides_are_whole(heads: list[str], width: int):
    names = tuple(f"{head} {side}" for head in heads for side in ("left", "right"))
    for name, short in short_names(names, width).items():
        assert cell_len(short) <= width
        assert short.endswith(name.rsplit(" ", 1)[1])


def test_the_side_is_in_the_name_where_only_the_plan_has_it():
    zone = Zone(key="F", label="flank", side="left", area_cm2=4, targets={"1": 4})
    assert sided(zone) == "flank, left"
    assert sided(Zone(key="F", label="left flank", side="left", area_cm2=4, targets={"1": 4})) == "left flank"


@pytest.mark.parametrize("width", range(40, 121, 4))
@pytest.mark.parametrize("role", ["placing", "overview"])
def test_every_zone_on_a_screen_has_a_name_of_its_own(role: str, width: int):
    state = fold(read_events(EVENTS)[:1990])
    record = Record(state, state.log[-1].stamp.at_ms)
    rows = said(record, role, width=width, height=40).split("\n")  # type: ignore[arg-type]
    found = [re.match(r"[ 0-9b]? {0,2}[▲●○] ([a-z. -]+?)  ?[▇░ ]*[·\d\[]", row) for row in rows]
    names = [each[1].strip() for each in found if each]
    assert len(names) == len(set(names)) == len(state.plan.zones)
    assert set(zone_names(state.plan, 40).values()) == set(SAMPLE)
    for name in names:
        assert "…" not in name
        assert re.search(r"(left|right|tuft|core)$", name)
