"""What a sound plan adds up to, as text: sizes, zones with densities, expected yield, care, staff."""

from __future__ import annotations

from collections.abc import Sequence

from orroom.case.plan import Plan
from orroom.figures.density import per_cm2
from orroom.figures.donor import expected_by_size, expected_grafts, unassigned_share
from orroom.figures.wording import decimal, grafts, hours_minutes, percent


def plan_overview(plan: Plan) -> str:
    """The plan in short tables, for whoever wrote it to check."""
    parts = [f"{plan.case}: the plan is sound.", _sizes(plan), _zones(plan)]
    if plan.care:
        rounds = [
            f"  {care.label}: every {hours_minutes(round(care.every_minutes * 60_000))} h,"
            f" overdue {care.grace_minutes:g} min after it is due{_band(care.low_c, care.high_c)}"
            for care in plan.care
        ]
        parts.append("\n".join(["Care rounds", *rounds]))
    limits = plan.limits
    parts.append(
        f"Grafts on the bench: prompt after {limits.bench_seconds} s,"
        f" overdue after {limits.bench_seconds + limits.bench_grace_seconds} s"
    )
    if plan.staff:
        parts.append("Staff: " + ", ".join(f"{person.initials} ({person.role})" for person in plan.staff))
    return "\n\n".join(parts)


def _band(low_c: float | None, high_c: float | None) -> str:
    return "" if low_c is None or high_c is None else f", band {low_c:g}–{high_c:g} °C"


def _sizes(plan: Plan) -> str:
    expected = expected_by_size(plan.donor) if plan.donor else {}
    head = ["size", "label", "hairs", "planned"] + (["donor gives"] if plan.donor else [])
    rows = [
        [size.key, size.label, f"{size.hairs:g}", grafts(plan.planned(size.key))]
        + ([decimal(expected.get(size.key), 0)] if plan.donor else [])
        for size in plan.sizes
    ]
    rows.append(["all", "", "", grafts(plan.planned())])
    if plan.donor:
        rows[-1].append(decimal(expected_grafts(plan.donor), 0))
        left = unassigned_share(plan.donor)
        if abs(left) >= 0.0005:
            rows.append(["", "without a size in the donor mix", "", "", percent(left, 1)])
    return _table(head, rows, words=2)


def _zones(plan: Plan) -> str:
    rows = []
    for zone in plan.zones:
        total, area = sum(zone.planned.values()), zone.measured_cm2
        by_size = [
            grafts(zone.planned.get(size.key)) if zone.planned.get(size.key) else "·" for size in plan.sizes
        ]
        rows.append([zone.label, decimal(area), *by_size, grafts(total), decimal(per_cm2(total, area))])
    head = ["zone", "cm²", *(size.key for size in plan.sizes), "grafts", "per cm²"]
    return _table(head, rows, words=1)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], words: int) -> str:
    """Columns as wide as they need; the first ``words`` of them hold words, the others figures."""
    widths = [max(len(row[column]) for row in (head, *rows)) for column in range(len(head))]
    lines = []
    for row in (head, *rows):
        cells = [
            cell.ljust(width) if column < words else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return "\n".join(lines)
