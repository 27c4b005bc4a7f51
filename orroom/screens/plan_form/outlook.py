"""What a plan that is being filled in adds up to already: by size, for a zone, and what it is advised."""

from collections.abc import Mapping
from typing import NamedTuple

from orroom.case.plan import Donor, Plan, Size, Zone
from orroom.figures.checks import Advice, advice_on, left_out
from orroom.figures.donor import Range, expected_by_size, expected_grafts, expected_range
from orroom.files.checker import checked
from orroom.files.plan_draft import Draft
from orroom.files.plan_fields import entries, size_keys
from orroom.files.plan_rules import refuse_outline_that_meets_itself


class SizeOutlook(NamedTuple):
    """Grafts planned of one size, and expected by the donor estimate; ``None`` without one."""

    size: str
    planned: int
    expected: float | None


class ZoneOutlook(NamedTuple):
    """A zone's grafts and hairs per cm²; ``None`` for hairs while a size's hairs are not known.

    ``together_per_cm2`` is old and new hair, ``None`` also where the draft gives no existing hair.
    """

    label: str
    area_cm2: float
    grafts: int
    hairs: float | None
    grafts_per_cm2: float
    hairs_per_cm2: float | None
    together_per_cm2: float | None


class Outlook(NamedTuple):
    """What a draft adds up to. Zones that are not valid yet are ``left_out``; remarks need a valid plan.

    ``hairs`` are those planned, ``None`` while a size's hairs are not known; ``skipped`` says which zones
    some of the checks leave out.
    """

    sizes: tuple[SizeOutlook, ...]
    planned: int
    hairs: float | None
    expected: float | None
    expected_range: Range | None
    zones: Mapping[int, ZoneOutlook]
    left_out: int
    advice: tuple[Advice, ...] | None
    skipped: tuple[str, ...]


def outlook(draft: Draft, plan: Plan | None) -> Outlook:
    """What a draft adds up to, part by part; ``plan`` is the draft as a plan if it is valid."""
    zones = {place: zone for place, raw in entries(draft, "zones") if (zone := _zone(raw)) is not None}
    sizes = [size for _, raw in entries(draft, "sizes") if (size := checked(raw, Size)[0]) is not None]
    hairs = {str(size.key): size.hairs for size in sizes}
    donor, _ = checked(draft.get("donor"), Donor)
    expected = expected_by_size(donor) if donor is not None else None
    by_zone = {place: _zone_outlook(zone, hairs) for place, zone in zones.items()}
    known = [each.hairs for each in by_zone.values() if each.hairs is not None]
    return Outlook(
        sizes=tuple(
            SizeOutlook(
                size,
                sum(zone.planned.get(size, 0) for zone in zones.values()),
                None if expected is None else expected.get(size, 0.0),
            )
            for size in size_keys(draft)
        ),
        planned=sum(each.grafts for each in by_zone.values()),
        hairs=sum(known) if len(known) == len(by_zone) else None,
        expected=None if donor is None else expected_grafts(donor),
        expected_range=None if donor is None else expected_range(donor),
        zones=by_zone,
        left_out=sum(1 for _ in entries(draft, "zones")) - len(zones),
        advice=None if plan is None else advice_on(plan),
        skipped=() if plan is None else tuple(left_out(plan)),
    )


def _zone_outlook(zone: Zone, hairs: Mapping[str, float]) -> ZoneOutlook:
    old = zone.existing_hairs_per_cm2
    grafts, area = sum(zone.planned.values()), zone.measured_cm2
    known = all(size in hairs for size, count in zone.planned.items() if count)
    hairs_in_all = (
        sum(count * hairs[size] for size, count in zone.planned.items() if count) if known else None
    )
    return ZoneOutlook(
        label=zone.label,
        area_cm2=area,
        grafts=grafts,
        hairs=hairs_in_all,
        grafts_per_cm2=grafts / area,
        hairs_per_cm2=None if hairs_in_all is None else hairs_in_all / area,
        together_per_cm2=None if hairs_in_all is None or old is None else old + hairs_in_all / area,
    )


def _zone(raw: Mapping[str, object]) -> Zone | None:
    """The zone, if it is valid by itself and adds up to something."""
    zone, _ = checked(raw, Zone)
    if zone is None or (zone.area_cm2 is None and zone.shape is None):
        return None
    if any(refuse_outline_that_meets_itself({"zones": [raw]})):
        return None
    whole = zone.density is None or sum(zone.density.mix.values()) > 0
    return zone if whole else None
