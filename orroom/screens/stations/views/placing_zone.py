"""The placing screen's zone at the cursor in detail, and which zone could be placed next."""

from orroom.case.state import CaseState
from orroom.figures.counts import ZoneCount, by_zone
from orroom.figures.density import density_of
from orroom.figures.earlier import Before
from orroom.figures.next_zone import sized
from orroom.figures.wording import decimal, grafts, over_plan, several
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.lanes import suggested
from orroom.screens.stations.views.zone_names import sided
from orroom.screens.terminal.painting import Line, Span, clipped, first_that_fits, line, width_of

#: What is said while no zone can be suggested.
NOTHING_NEXT = "next: nothing that is owed is waiting or has a free site"


def zone_detail(count: ZoneCount, width: int, before: Before | None = None) -> list[Line]:
    """A zone in detail: what is placed, owed and made in it; grafts and hairs per cm², with those before."""
    density = density_of(count)
    owed = ", ".join(sized(left, size) for size, left in count.owed.items() if left) or "nothing"
    sites = "sites not entered"
    if count.zone.stick_and_place:
        ahead = (count.sites_made or 0) - count.placed_total
        sites = "stick and place" + (f", {several(ahead, 'site')} made ahead free" if ahead > 0 else "")
    elif count.sites_made is not None:
        free = count.sites_free or 0
        left = f"{grafts(free)} free" if free >= 0 else f"{grafts(-free)} too few"
        sites = f"sites {grafts(count.sites_made)} made, {left}"
    reseated = f" · reseated {grafts(count.reseated)}" if count.reseated else ""
    reseated += f" · {grafts(count.extra)} beyond the plan" if count.extra else ""
    name, over = sided(count.zone), over_plan(count.over_total)
    placed = f"{grafts(count.placed_total)} of {grafts(count.planned_total)} placed"
    first = [
        f" {name}: {placed}{over} · owed {owed} · {sites}",
        f" {name}: {placed}{over.removesuffix(' plan')} · owed {owed} · {sites}",
        f" {name}: owed {owed}{over} · {sites}",
    ]
    area = density.area_cm2
    then = ["", ""]
    if before is not None and before.grafts:
        then = [f", before {decimal(each / area)}" for each in (before.grafts, before.hairs)]
    second = (
        f" grafts/cm² {decimal(density.placed_grafts_per_cm2)} of {decimal(density.planned_grafts_per_cm2)}"
        f"{then[0]} · hairs/cm² {decimal(density.placed_hairs_per_cm2)}"
        f" of {decimal(density.planned_hairs_per_cm2)}{then[1]}"
    )
    rest = f" · {decimal(area)} cm²"
    measured = first_that_fits([f"{second}{rest}{reseated}", f"{second}{reseated}", second], width)
    return [line(Span(first_that_fits(first, width), "strong")), line(clipped(measured, width))]


def next_line(state: CaseState, glance: Glance) -> list[Line]:
    """Which zone could be placed next, and why; nothing once all is placed."""
    key = Span(f" {glance.keys.shown('placing', 'next_zone')} ", "button", "next_zone")
    if (found := suggested(state, glance)) is not None:
        parts = found.reason.split(", ")  # the last reasons give way whole
        forms = [f" next: {', '.join(parts[:kept])}" for kept in range(len(parts), 0, -1)]
        words = first_that_fits(forms, glance.width - width_of((key,)) - 2)
        return [line(" ", key, Span(words, "owed", "next_zone"))]
    if not any(zone.owed_total for zone in by_zone(state)):
        return []
    return [line(" ", key, Span(clipped(f" {NOTHING_NEXT}", glance.width - 5), "dim"))]
