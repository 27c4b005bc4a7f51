"""How far apart sites lie, as text: for one density, or for every zone of a plan."""

from orroom.case.plan import Plan, Zone
from orroom.figures.density import planned_grafts_per_cm2, sites_in_area, sites_in_row, spacing_of
from orroom.figures.wording import NO_DATA, decimal, grafts, several
from orroom.words.columns import columns

HOW: tuple[str, ...] = (
    "Interlocked rows, each site at equal distance from its six neighbours: 10 mm · √(2 / (√3 · sites",
    "per cm²)), rows √3/2 of that apart (geometry; Dermatol Surg 1999;25:294–298, not verified).",
)


def density_spacing(sites_per_cm2: float, front_mm: float | None, area_cm2: float | None) -> str:
    """The spacing of one density; sites of a front row and of an area where their measure is given."""
    spacing = spacing_of(sites_per_cm2)
    rows = [
        ["between neighbours", f"{decimal(spacing.neighbours_mm, 2)} mm"],
        ["between rows", f"{decimal(spacing.row_pitch_mm, 2)} mm"],
        ["square grid, for comparison", f"{decimal(spacing.square_grid_mm, 2)} mm"],
    ]
    if front_mm is not None:
        count = sites_in_row(front_mm, spacing.neighbours_mm)
        rows.append([f"front row of {front_mm:g} mm", several(count, "site")])
    if area_cm2 is not None:
        rows.append([f"area of {area_cm2:g} cm²", several(sites_in_area(area_cm2, sites_per_cm2), "site")])
    return "\n".join([columns([f"{sites_per_cm2:g} sites/cm²", ""], rows, words=1), "", *HOW])


def plan_spacing(plan: Plan) -> str:
    """The spacing of every zone as planned, in placing order; a site for each graft."""
    head = ["zone", "cm²", "per cm²", "neighbours mm", "rows mm", "sites"]
    return "\n".join([columns(head, [_row(zone) for zone in plan.zones], words=1), "", *HOW])


def _row(zone: Zone) -> list[str]:
    area, density = zone.measured_cm2, planned_grafts_per_cm2(zone)
    if density is None:
        return [zone.label, decimal(area), NO_DATA, NO_DATA, NO_DATA, "0"]
    spacing = spacing_of(density)
    distances = [decimal(spacing.neighbours_mm, 2), decimal(spacing.row_pitch_mm, 2)]
    return [zone.label, decimal(area), decimal(density), *distances, grafts(sites_in_area(area, density))]
