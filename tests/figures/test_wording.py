"""Each kind of time is written in a way of its own, so that none is taken for another."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orroom.figures.wording import Times, clock_time, how_long, minutes_seconds, when_due

S, MIN, H = 1000, 60_000, 3_600_000


@pytest.mark.parametrize(
    ("milliseconds", "said"),
    [(0, "0 min"), (54 * MIN + 59 * S, "54 min"), (2 * H + 54 * MIN, "2 h 54"), (-5 * MIN, "−5 min")],
)
def test_a_duration_has_its_units(milliseconds: int, said: str):
    assert how_long(milliseconds) == said


@pytest.mark.parametrize(
    ("milliseconds", "said"),
    [(45 * S, "45 s"), (80 * S, "1 min 20 s"), (120 * S, "2 min 00 s"), (H + 4 * MIN, "1 h 04")],
)
def test_a_short_duration_has_seconds(milliseconds: int, said: str):
    assert minutes_seconds(milliseconds) == said


@pytest.mark.parametrize(
    ("late_ms", "plain", "to_the_second"),
    [
        (-13 * MIN, "in 13 min", "in 13 min"),
        (-12 * MIN - S, "in 13 min", "in 13 min"),
        (-80 * S, "in 2 min", "in 1 min 20 s"),
        (-59_001, "in 1 min 00 s", "in 1 min 00 s"),
        (-500, "in 1 s", "in 1 s"),
        (0, "0 s late", "0 s late"),
        (45 * S, "45 s late", "45 s late"),
        (125 * S, "2 min late", "2 min 05 s late"),
        (9 * MIN + 59 * S, "9 min late", "9 min 59 s late"),
        (10 * MIN, "10 min late", "10 min late"),
        (104 * MIN, "1 h 44 late", "1 h 44 late"),
    ],
)
def test_what_is_due_says_in_how_long_or_how_late(late_ms: int, plain: str, to_the_second: str):
    assert when_due(late_ms) == plain
    assert when_due(late_ms, seconds=True) == to_the_second


@given(st.integers(-(10**8), 10**8))
def test_only_a_time_of_day_has_a_colon(milliseconds: int):
    assert re.fullmatch(r"\d\d:\d\d", clock_time(abs(milliseconds), Times()))
    for said in (how_long(milliseconds), minutes_seconds(milliseconds), when_due(milliseconds)):
        assert ":" not in said
        assert re.search(r"\d (h|min|s)\b", said)
