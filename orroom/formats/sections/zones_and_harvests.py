"""Zones and harvests: what was planned and placed where, and what became of each strip."""

from collections.abc import Iterator

from orroom.figures.quality import RESEATED
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes
from orroom.formats.blocks import Block, Heading, Paragraph, Table, table
from orroom.formats.sections import charts
from orroom.formats.sections.wording import clock
from orroom.summary.summary import Summary


def zones(summary: Summary) -> Iterator[Block]:
    """Planned, placed and owed in each zone, by size and by area."""
    yield Heading("Zones")
    yield table(
        summary.zones,
        ("zone", lambda zone: zone.label),
        ("planned", lambda zone: grafts(zone.grafts_planned)),
        ("placed", lambda zone: grafts(zone.grafts_placed)),
        ("owed", lambda zone: grafts(zone.grafts_owed)),
        ("over", lambda zone: grafts(zone.grafts_over)),
    )
    if extra := [each for each in summary.zones if each.grafts_extra]:
        where = ", ".join(f"{grafts(each.grafts_extra)} in {each.label}" for each in extra)
        yield Paragraph(f"Of those placed, left at the end and placed beyond the plan: {where}.")
    yield Paragraph("Placed / planned by size:")
    sizes = [each.size for each in summary.sizes]
    rows = [
        [zone.label, *(_of(zone.placed[size], zone.planned[size]) for size in sizes)]
        for zone in summary.zones
    ]
    yield Table(["zone", *sizes], rows)
    yield Paragraph("Placed / planned per cm²:")
    before = [("hairs/cm² before", lambda zone: decimal(zone.existing_hairs_per_cm2))]
    yield table(
        summary.zones,
        ("zone", lambda zone: zone.label),
        ("cm²", lambda zone: decimal(zone.area_cm2)),
        (
            "grafts/cm²",
            lambda zone: f"{decimal(zone.placed_grafts_per_cm2)} / {decimal(zone.planned_grafts_per_cm2)}",
        ),
        (
            "hairs/cm²",
            lambda zone: f"{decimal(zone.placed_hairs_per_cm2)} / {decimal(zone.planned_hairs_per_cm2)}",
        ),
        *(before if any(zone.existing_hairs_per_cm2 is not None for zone in summary.zones) else ()),
    )
    if any(zone.sites_made is not None or zone.reseated for zone in summary.zones):
        yield table(
            summary.zones,
            ("zone", lambda zone: zone.label),
            ("sites made", lambda zone: grafts(zone.sites_made)),
            ("free", lambda zone: grafts(zone.sites_free)),
            ("reseated", lambda zone: NO_DATA if RESEATED in summary.not_entered else grafts(zone.reseated)),
        )
    yield from charts.zones(summary)


def _of(placed: int, planned: int) -> str:
    return f"{grafts(placed)} / {grafts(planned)}" if placed or planned else NO_DATA


def harvests(summary: Summary) -> Iterator[Block]:
    """Each harvest: from when to when, how far it is cut, what waits, how long its grafts were out."""
    if not summary.harvests:
        return
    yield Heading("Harvests")
    yield table(
        summary.harvests,
        ("harvest", lambda harvest: harvest.label),
        (
            "from, to",
            lambda harvest: (
                f"{clock(summary, harvest.harvest_started)}–{clock(summary, harvest.harvest_ended)}"
            ),
        ),
        ("segments", lambda harvest: f"{harvest.segments_done}/{grafts(harvest.segments)}"),
        ("cut in all", lambda harvest: grafts(harvest.cut_in_all)),
        ("waiting", lambda harvest: grafts(harvest.waiting)),
        ("out now", lambda harvest: hours_minutes(harvest.waiting_out_ms)),
    )
    yield Paragraph(
        "Out now: time out of the body of grafts or tissue still waiting, at the end of the work."
    )
    yield table(
        summary.harvests,
        ("harvest", lambda harvest: harvest.label),
        ("placed", lambda harvest: grafts(harvest.placed)),
        ("mean out when placed", lambda harvest: hours_minutes(harvest.mean_out_at_placing_ms)),
        ("longest", lambda harvest: hours_minutes(harvest.longest_out_at_placing_ms)),
    )
    for harvest in summary.harvests:
        if harvest.out_unknown is not None:
            yield Paragraph(f"{harvest.label}: time out of the body not known, {harvest.out_unknown}.")
    yield Paragraph(summary.remark_on_harvests)
