"""What a sound plan adds up to, as text: sizes, zones with densities, expected yield, care, staff."""

from __future__ import annotations

from itertools import groupby
from statistics import fmean

from orroom.case.plan import CareRound, Donor, Plan
from orroom.figures.checks import advice_on, team_of
from orroom.figures.density import planned_grafts_per_cm2
from orroom.figures.donor import expected_grafts, expected_range, unassigned_share, whole_grafts_by_size
from orroom.figures.wording import decimal, grafts, percent, several
from orroom.words.columns import columns


def plan_overview(plan: Plan) -> str:
    """The plan in short tables, for its author to check."""
    parts = [f"{plan.case}: the plan is valid.", _sizes(plan), _zones(plan)]
    if plan.donor:
        parts.append(_donor(plan.donor))
    if plan.care:
        rounds = [
            f"  {care.label}: every {care.every_minutes:g} min,"
            f" overdue {care.grace_minutes:g} min after it is due{_band(care)}"
            for care in plan.care
        ]
        parts.append("\n".join(["Care rounds", *rounds]))
    limits = plan.limits
    parts.append(
        f"Grafts with the placers: prompt after {limits.with_placers_seconds} s,"
        f" overdue after {limits.with_placers_seconds + limits.with_placers_grace_seconds} s"
    )
    if plan.staff:
        staff = "Staff: " + ", ".join(f"{person.initials} ({person.role})" for person in plan.staff)
        parts.append("\n".join([staff, *_hours(plan)]))
    parts.append(_advice(plan))
    return "\n\n".join(parts)


def _hours(plan: Plan) -> list[str]:
    """How long the team takes at published rates, where the plan names who cuts and places."""
    team = team_of(plan)
    if team.placing_hours is None:
        return []
    line = f"  at published rates placing takes {decimal(team.placing_hours)} h"
    if team.all_work_hours is not None:
        line += f", cutting and placing up to {decimal(team.all_work_hours)} h"
    return [f"{line} (for reference, not a forecast)"]


def _advice(plan: Plan) -> str:
    """The remarks on it, rule by rule, each with its reason and where that comes from."""
    given = advice_on(plan)
    lines = ["Remarks (none blocks the plan):" if given else "Remarks: none."]
    for _, told in groupby(given, key=lambda each: each.rule):
        about = list(told)
        lines += [f"  {each.sentence}" for each in about]
        lines += [f"    Why: {about[0].reason}.", f"    Source: {about[0].source}."]
    unknown = [zone.label for zone in plan.zones if zone.kind is None]
    if unknown:
        lines.append(f"  No kind given, so some checks skip: {', '.join(unknown)}")
    return "\n".join(lines)


def _band(care: CareRound) -> str:
    if care.low_c is None or care.high_c is None:
        return ""
    band = f", band {care.low_c:g}–{care.high_c:g} °C"
    return (
        band
        if care.outside_minutes is None
        else f"{band}, every {care.outside_minutes:g} min while outside it"
    )


def _donor(donor: Donor) -> str:
    """How the donor estimate comes about, and how sure the density readings make it."""
    readings, interval = donor.grafts_per_cm2, expected_range(donor)
    sure = "no range, since all readings are the same"
    if len(readings) == 1:
        sure = "no range from a single reading"
    if interval:
        low, high = decimal(interval.low, 0), decimal(interval.high, 0)
        sure = f"{percent(interval.confidence)} range {low}–{high}, from the spread of the readings alone"
    return (
        f"Donor: {donor.strip_length_cm:g} × {donor.strip_width_cm:g} cm"
        f" × {decimal(fmean(readings))} grafts/cm² ({several(len(readings), 'reading')})"
        f" less {percent(donor.loss)} = {decimal(expected_grafts(donor), 0)} grafts;\n"
        f"  {sure}; the scalp's elasticity is not included"
    )


def _sizes(plan: Plan) -> str:
    expected = whole_grafts_by_size(plan.donor) if plan.donor else {}
    head = ["size", "label", "hairs", "planned"] + (["donor yield"] if plan.donor else [])
    rows = [
        [size.key, size.label, f"{size.hairs:g}", grafts(plan.planned(size.key))]
        + ([grafts(expected.get(size.key))] if plan.donor else [])
        for size in plan.sizes
    ]
    rows.append(["all", "", "", grafts(plan.planned())])
    if plan.donor:
        rows[-1].append(decimal(expected_grafts(plan.donor), 0))
        left = unassigned_share(plan.donor)
        if abs(left) >= 0.0005:
            rows.append(["", "no size in the donor mix", "", "", percent(left, 1)])
    return columns(head, rows, words=2)


def _zones(plan: Plan) -> str:
    rows = []
    for zone in plan.zones:
        total = sum(zone.planned.values())
        by_size = [
            grafts(zone.planned.get(size.key)) if zone.planned.get(size.key) else "·" for size in plan.sizes
        ]
        density = decimal(planned_grafts_per_cm2(zone))
        rows.append([zone.label, decimal(zone.measured_cm2), *by_size, grafts(total), density])
    head = ["zone", "cm²", *(size.key for size in plan.sizes), "grafts", "per cm²"]
    return columns(head, rows, words=1)
