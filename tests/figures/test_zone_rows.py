"""How zones lie: which rows take the zones at their sides."""

from __future__ import annotations

import pytest

from orroom.case.plan import Zone
from orroom.figures.zone_rows import rows_of, with_lateral


def zone(key: str, kind: str, side: str) -> Zone:
    return Zone(key=key, label=key, kind=kind, side=side, area_cm2=5, targets={"1": 9})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("hairline", "rows"),
    [
        (("left", "right"), ["temporal left, left, right, temporal right"]),
        (("left", "centre", "right"), ["left, centre, right", "temporal left, temporal right"]),
    ],
)
def test_temples_join_a_hairline_of_two_zones_and_not_one_of_three(
    hairline: tuple[str, ...], rows: list[str]
):
    zones = [zone(side, "hairline", side) for side in hairline]
    zones += [zone(f"temporal {side}", "temporal", side) for side in ("left", "right")]
    lying, _ = rows_of(zones)
    assert [", ".join(spot.zone.key for spot in row) for row in with_lateral(lying)] == rows
