"""Zones and lots: what was planned and placed where, and what became of each strip."""

from __future__ import annotations

from collections.abc import Iterator

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
    yield Paragraph("Placed / planned by size:")
    sizes = [each.size for each in summary.sizes]
    rows = [
        [zone.label, *(_of(zone.placed[size], zone.planned[size]) for size in sizes)]
        for zone in summary.zones
    ]
    yield Table(["zone", *sizes], rows)
    yield Paragraph("Placed / planned per cm²:")
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
    )
    if any(zone.sites_made is not None or zone.reseated for zone in summary.zones):
        yield table(
            summary.zones,
            ("zone", lambda zone: zone.label),
            ("sites made", lambda zone: grafts(zone.sites_made)),
            ("free", lambda zone: grafts(zone.sites_free)),
            ("reseated", lambda zone: grafts(zone.reseated)),
        )
    yield from charts.zones(summary)


def _of(placed: int, planned: int) -> str:
    return f"{grafts(placed)} / {grafts(planned)}" if placed or planned else NO_DATA


def lots(summary: Summary) -> Iterator[Block]:
    """Each lot: its harvest, how far it is cut, what waits, and for how long its grafts were out."""
    if not summary.lots:
        return
    yield Heading("Lots")
    yield table(
        summary.lots,
        ("lot", lambda lot: lot.label),
        ("harvest", lambda lot: f"{clock(summary, lot.harvest_started)}–{clock(summary, lot.harvest_ended)}"),
        ("segments", lambda lot: f"{lot.segments_done}/{grafts(lot.segments)}"),
        ("cut", lambda lot: grafts(lot.cut)),
        ("waiting", lambda lot: grafts(lot.waiting)),
        ("out now", lambda lot: hours_minutes(lot.waiting_out_ms)),
    )
    yield Paragraph(
        "Out now: time out of the body of grafts or tissue still waiting, at the end of the work."
    )
    yield table(
        summary.lots,
        ("lot", lambda lot: lot.label),
        ("placed", lambda lot: grafts(lot.placed)),
        ("mean out when placed", lambda lot: hours_minutes(lot.mean_out_at_placing_ms)),
        ("longest", lambda lot: hours_minutes(lot.longest_out_at_placing_ms)),
    )
    for lot in summary.lots:
        if lot.out_unknown is not None:
            yield Paragraph(f"{lot.label}: time out of the body not known, {lot.out_unknown}.")
    yield Paragraph(summary.remark_on_lots)
