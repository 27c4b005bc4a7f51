"""Hair that is there already: old and new together, and how many sites still fit."""

from __future__ import annotations

import math
from random import Random
from statistics import fmean
from typing import Any

import pytest
from cases import small_plan
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case.plan import Limits, Plan, Zone
from orroom.figures.existing_hair import (
    HAIRS_PER_UNIT,
    JAMMING,
    advise_sites_that_fit,
    sites_that_fit,
    together_per_cm2,
)
from orroom.words.plan import plan_overview


def plan_of(*zones: dict[str, Any], **limits: Any) -> Plan:
    made = [
        Zone(**{"key": f"Z{n}", "label": f"zone {n}", "area_cm2": 10, **each}) for n, each in enumerate(zones)
    ]
    return small_plan(zones=tuple(made), limits=Limits(**limits))


def test_old_and_new_hairs_are_added():
    """50 twos and 20 threes on 10 cm² are 16 hairs/cm²."""
    plan = plan_of({"targets": {"2": 50, "3": 20}, "existing_hairs_per_cm2": 40}, {"targets": {"2": 50}})
    assert together_per_cm2(plan, plan.zones[0]) == 56
    assert together_per_cm2(plan, plan.zones[1]) is None


def test_sites_in_shared_rows_are_as_dense_as_rows_can_be():
    """2/√3 = 1.1547 sites per d² in interlocked rows: at 1 mm 115.47 per cm² (elementary geometry)."""
    plan = plan_of({"targets": {}, "existing_hairs_per_cm2": 0})
    fitting = sites_that_fit(plan, plan.zones[0])
    assert fitting is not None
    assert fitting.in_rows == pytest.approx(200 / math.sqrt(3))
    half = plan_of({"targets": {}, "existing_hairs_per_cm2": 50 * HAIRS_PER_UNIT}, least_site_mm=1)
    taken = sites_that_fit(half, half.zones[0])
    assert taken is not None
    assert taken.in_rows == pytest.approx(200 / math.sqrt(3) - 50)
    assert taken.at_random == pytest.approx(JAMMING / (math.pi / 4 * 0.01) - 50)


@given(st.floats(0, 400), st.floats(0.3, 5))
def test_more_hair_or_more_distance_leaves_fewer_sites(hairs: float, apart: float):
    plan = plan_of({"targets": {}, "existing_hairs_per_cm2": hairs}, least_site_mm=apart)
    more = plan_of({"targets": {}, "existing_hairs_per_cm2": hairs + 1}, least_site_mm=apart)
    wider = plan_of({"targets": {}, "existing_hairs_per_cm2": hairs}, least_site_mm=apart + 0.1)
    here, *fewer = (sites_that_fit(each, each.zones[0]) for each in (plan, more, wider))
    assert here is not None
    assert 0 <= here.at_random <= here.in_rows
    for each in fewer:
        assert each is not None
        assert each.at_random <= here.at_random
        assert each.in_rows <= here.in_rows


def test_discs_put_at_random_cover_as_much_as_is_said():
    """Simulated. What is missing falls with 1/√tries (J Theor Biol 1980;87:237, from memory): four times
    the tries halve it, so twice the later cover less the earlier one is the end.
    """
    ends = [2 * later - earlier for earlier, later in map(covered, (1, 2, 3, 7, 11))]
    assert fmean(ends) == pytest.approx(JAMMING, abs=0.012)


def covered(seed: int, side: int = 20) -> list[float]:
    """The share of a torus of 20 × 20 discs that is covered after 40,000 tries, and after 160,000."""
    rng, discs, found = Random(seed), 0, []
    cells: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for tries in range(1, 160_001):
        x, y = rng.uniform(0, side), rng.uniform(0, side)
        around = (((int(x) + dx) % side, (int(y) + dy) % side) for dx in (0, 1, -1) for dy in (0, 1, -1))
        near = (each for cell in around for each in cells.get(cell, ()))
        if all(_apart(x - a, side) ** 2 + _apart(y - b, side) ** 2 >= 1 for a, b in near):
            cells.setdefault((int(x), int(y)), []).append((x, y))
            discs += 1
        if tries in (40_000, 160_000):
            found.append(discs * math.pi / 4 / side**2)
    return found


def _apart(along: float, side: int) -> float:
    """A distance along one side of a torus."""
    return (along + side / 2) % side - side / 2


def test_check_prints_them_beside_each_other():
    """By hand: 61.1 units of 69.65 discs of 1 mm, and of 115.47 in rows."""
    plan = plan_of({"targets": {"2": 50}, "existing_hairs_per_cm2": 111.2}, {"targets": {"2": 50}})
    text = plan_overview(plan).splitlines()
    (row,) = [each.split() for each in text if each.startswith("  zone 0") and "111.2" in each]
    assert row == ["zone", "0", "111.2", "121.2", "8.5", "54.4"]
    assert "existing hair" not in plan_overview(small_plan())
    assert not [*advise_sites_that_fit(small_plan())]


def test_check_names_zones_that_are_not_treated():
    plan = plan_of({"not_treated": True}, {"targets": {"2": 5}})
    assert "  not treated: zone 0" in plan_overview(plan).splitlines()
    treated = replace(plan, zones=(plan.zones[1],))
    assert "not treated" not in plan_overview(treated)
