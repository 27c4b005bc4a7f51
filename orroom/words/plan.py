"""What a valid plan adds up to, as text: sizes, zones with densities, expected yield, care, staff."""

from itertools import groupby
from statistics import fmean

from orroom.case.plan import CareRound, Donor, Plan
from orroom.case.terms import size_named
from orroom.figures.checks import advice_on, left_out, team_of
from orroom.figures.counts import hairs_per_graft
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.donor import (
    expected_grafts,
    expected_hairs_per_graft,
    expected_range,
    unassigned_share,
    whole_grafts_by_size,
)
from orroom.figures.earlier import (
    advise_codes_of_one_patient,
    before_in,
    kept_by_size,
    still_expected,
    taken_by_size,
    taken_off,
)
from orroom.figures.existing_hair import sites_that_fit, together_per_cm2
from orroom.figures.wording import NO_DATA, day, decimal, grafts, harvests_listed, moment, percent, several
from orroom.words.care import when_it_comes
from orroom.words.columns import columns


def plan_overview(plan: Plan) -> str:
    """The plan in short tables, for its author to check."""
    parts = [f"{plan.case}: the plan is valid.", _sizes(plan), f"{_zones(plan)}\n{_in_all(plan)}"]
    if any(zone.existing_hairs_per_cm2 is not None for zone in plan.zones):
        parts.append(_existing(plan))
    if plan.sessions:
        parts.append(earlier_cases(plan))
    if plan.donor:
        parts.append(_donor(plan, plan.donor))
    if plan.care:
        rounds = [
            f"  {care.label}: {when_it_comes(care)},"
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
    for _, found in groupby(given, key=lambda each: each.rule):
        about = list(found)
        lines += [f"  {each.sentence}" for each in about]
        lines += [f"    Why: {about[0].reason}.", f"    Source: {about[0].source}."]
    return "\n".join([*lines, *(f"  {each}" for each in left_out(plan))])


def _band(care: CareRound) -> str:
    if care.low_c is None or care.high_c is None:
        return ""
    band = f", band {care.low_c:g}–{care.high_c:g} °C"
    return (
        band
        if care.outside_minutes is None
        else f"{band}, every {care.outside_minutes:g} min while outside it"
    )


def _donor(plan: Plan, donor: Donor) -> str:
    """How the donor estimate comes about, and how sure the density readings make it."""
    readings, interval = donor.grafts_per_cm2, expected_range(donor)
    mean = expected_hairs_per_graft(donor, {size.key: size.hairs for size in plan.sizes})
    hairs = f"{decimal(expected_grafts(donor) * mean, 0)} hairs"
    sure = "no range, since all readings are the same"
    if len(readings) == 1:
        sure = "no range from a single reading"
    if interval:
        low, high = decimal(interval.low, 0), decimal(interval.high, 0)
        sure = f"{percent(interval.confidence)} range {low}–{high}, from the spread of the readings alone"
        hairs += f" ({decimal(interval.low * mean, 0)}–{decimal(interval.high * mean, 0)})"
    return (
        f"Donor: {donor.strip_length_cm:g} × {donor.strip_width_cm:g} cm"
        f" × {decimal(fmean(readings))} grafts/cm² ({several(len(readings), 'reading')})"
        f" less {percent(donor.loss)} = {decimal(expected_grafts(donor), 0)} grafts;\n"
        f"  {sure}; the scalp's elasticity is not included;\n"
        f"  {hairs}, by the mix of sizes{_taken(plan)}"
    )


def _taken(plan: Plan) -> str:
    """What earlier cases took of it, and what it is still expected to give."""
    if not plan.sessions:
        return ""
    if plan.donor is not None and plan.donor.after_earlier:
        return ";\n  measured after the earlier case: nothing is taken off for it"
    taken = sum(taken_off(plan).values())
    left = decimal(still_expected(plan), 0)
    return f";\n  less {grafts(taken)} taken in earlier cases = {left} still expected"


def _sizes(plan: Plan) -> str:
    expected = whole_grafts_by_size(plan.donor) if plan.donor else {}
    taken, kept = taken_by_size(plan), kept_by_size(plan)
    head = ["size", "label", "hairs", "planned"] + (["donor yield"] if plan.donor else [])
    head += ["taken before", "kept"] if plan.sessions else []
    rows = [
        [size.key, size.label, f"{size.hairs:g}", grafts(plan.planned(size.key))]
        + ([grafts(expected.get(size.key))] if plan.donor else [])
        + ([grafts(taken.get(size.key, 0)), grafts(kept.get(size.key, 0))] if plan.sessions else [])
        for size in plan.sizes
    ]
    rows.append(["all", "", "", grafts(plan.planned())])
    if plan.donor:
        rows[-1].append(decimal(expected_grafts(plan.donor), 0))
    if plan.sessions:
        rows[-1] += [grafts(sum(taken.values())), grafts(sum(kept.values()))]
    if plan.donor and abs(left := unassigned_share(plan.donor)) >= 0.0005:
        none = ["", ""] if plan.sessions else []
        rows.append(["", "no size in the donor mix", "", "", percent(left, 1), *none])
    return columns(head, rows, words=2)


def _zones(plan: Plan) -> str:
    rows = []
    for zone in plan.zones:
        total = sum(zone.planned.values())
        by_size = [
            grafts(zone.planned.get(size.key)) if zone.planned.get(size.key) else "·" for size in plan.sizes
        ]
        density = decimal(planned_grafts_per_cm2(zone))
        hairs = decimal(planned_hairs(plan, zone) / zone.measured_cm2) if total else NO_DATA
        rows.append([zone.label, decimal(zone.measured_cm2), *by_size, grafts(total), density, hairs])
    head = ["zone", "cm²", *(size.key for size in plan.sizes), "grafts", "per cm²", "hairs/cm²"]
    table = columns(head, rows, words=1)
    if missed := [zone.label for zone in plan.zones if zone.not_treated]:
        table += f"\n  not treated: {', '.join(missed)}"
    return table


def _existing(plan: Plan) -> str:
    """Hair that is there already, with what is planned, and the sites that fit between."""
    rows = [
        [zone.label, *map(decimal, (zone.existing_hairs_per_cm2, together, fit.at_random, fit.in_rows))]
        for zone in plan.zones
        if (together := together_per_cm2(plan, zone)) is not None
        and (fit := sites_that_fit(plan, zone)) is not None
    ]
    head = ["existing hair", "hairs/cm²", "with new", "sites/cm² that fit", "in shared rows"]
    return columns(head, rows, words=1)


def taken_over(plan: Plan) -> list[str]:
    """What a new case took over from the one before it, and a doubt whether that is of the same patient."""
    if not plan.sessions:
        return []
    kept = sum(kept_by_size(plan).values())
    said = f"Taken over from case {plan.earlier}: {several(kept, 'kept graft')}"
    keys = f", as {harvests_listed(tuple(plan.kept))}; count them again" if kept else ""
    return [f"{said}{keys}.", *(f"Remark: {each}" for each in advise_codes_of_one_patient(plan))]


def earlier_cases(plan: Plan) -> str:
    """What earlier cases placed, next to the plan zone by zone, and what was kept for this one."""
    cases = [
        f"Earlier case {each.case}, {day(each.opened_at_ms, each.utc_offset_minutes)}:"
        f" {grafts(sum(zone.grafts for zone in each.zones))} placed,"
        f" {grafts(sum(each.taken.values()))} taken from the donor"
        f"\n  its seal: {each.entries}:{each.seal}"
        for each in plan.sessions or ()
    ]
    rows = []
    for zone in plan.zones:
        before, area = before_in(plan, zone), zone.measured_cm2
        counts = before.grafts, before.grafts + sum(zone.planned.values())
        hairs = before.hairs, before.hairs + planned_hairs(plan, zone)
        per_cm2 = [decimal(each / area) for each in (*counts, *hairs)]
        rows.append([zone.label, grafts(before.grafts), *per_cm2])
    head = ["placed before", "grafts", "per cm²", "with plan", "hairs/cm²", "with plan"]
    lines = [*cases, columns(head, rows, words=1)]
    for each in plan.kept.values():
        counts_kept = ", ".join(
            f"{grafts(count)} {size_named(size, count)}" for size, count in each.grafts.items()
        )
        since = "start not known"
        if each.started_at_ms is not None:
            offset = (plan.sessions or ())[-1].utc_offset_minutes
            since = f"out of the body since {moment(each.started_at_ms, offset):%Y-%m-%d %H:%M}"
        lines.append(f"  {each.label}: {counts_kept}; {since}")
    return "\n".join(lines)


def _in_all(plan: Plan) -> str:
    """Grafts and hairs of the whole plan, and between which hairs per cm² its zones lie."""
    hairs = [
        (planned_hairs(plan, zone), zone.measured_cm2) for zone in plan.zones if any(zone.planned.values())
    ]
    total = sum(each for each, _ in hairs)
    if not hairs:
        return "  in all: no grafts"
    dense = decimal(total / sum(area for _, area in hairs))
    mean = decimal(hairs_per_graft(total, plan.planned()), 2)
    line = f"  in all: {decimal(total, 0)} hairs, {mean} hairs a graft, {dense} hairs/cm²"
    by_zone = sorted(each / area for each, area in hairs)
    low, high = decimal(by_zone[0]), decimal(by_zone[-1])
    return line if low == high else f"{line} ({low}–{high} by zone)"
