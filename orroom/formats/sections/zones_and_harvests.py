"""Zones and harvests: what was planned and placed where, and what became of each strip."""

from collections.abc import Callable, Iterator

from orroom.figures.quality import RESEATED
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes
from orroom.formats.blocks import Block, Column, Heading, Paragraph, lines, table
from orroom.formats.sections.wording import beyond_limit, clock, half_out, longest_out
from orroom.summary.summary import Summary
from orroom.summary.zones import ZoneSummary


def zones(summary: Summary) -> Iterator[Block]:
    """A row for each zone: what was planned, placed and owed, by size, by area, and its sites."""
    yield Heading("Zones")
    parts = (_counts(), _by_size(summary), _by_area(summary), _sites(summary), _times_out(summary))
    groups = [*map(list, parts)]
    yield table(summary.zones, ("zone", lambda zone: zone.label), groups=groups)
    yield lines(
        "Two figures: placed / planned; one, where both are the same. Owed / over: not yet placed /",
        "placed beyond the plan. Sites / free: made / without a graft.",
    )
    if summary.out_of_body_zones:
        yield Paragraph("Half by, longest, beyond: time out of the body of the grafts placed there.")
    if extra := [each for each in summary.zones if each.grafts_extra]:
        where = ", ".join(f"{grafts(each.grafts_extra)} in {each.label}" for each in extra)
        yield Paragraph(f"Of those placed, left at the end and placed beyond the plan: {where}.")


def _counts() -> Iterator[Column[ZoneSummary]]:
    yield "planned", lambda zone: grafts(zone.grafts_planned)
    yield "placed", lambda zone: grafts(zone.grafts_placed)
    yield "owed / over", lambda zone: _two(zone.grafts_owed, zone.grafts_over)


def _by_size(summary: Summary) -> Iterator[Column[ZoneSummary]]:
    for each in summary.sizes:
        yield each.size, _of_size(each.size)


def _of_size(size: str) -> Callable[[ZoneSummary], str]:
    return lambda zone: _against(grafts(zone.placed[size]), grafts(zone.planned[size]), nothing="0")


def _by_area(summary: Summary) -> Iterator[Column[ZoneSummary]]:
    yield "cm²", lambda zone: decimal(zone.area_cm2)
    yield (
        "grafts/cm²",
        lambda zone: _against(decimal(zone.placed_grafts_per_cm2), decimal(zone.planned_grafts_per_cm2)),
    )
    yield (
        "hairs/cm²",
        lambda zone: _against(decimal(zone.placed_hairs_per_cm2), decimal(zone.planned_hairs_per_cm2)),
    )
    if any(zone.existing_hairs_per_cm2 is not None for zone in summary.zones):
        yield "hairs/cm² before", lambda zone: decimal(zone.existing_hairs_per_cm2)


def _sites(summary: Summary) -> Iterator[Column[ZoneSummary]]:
    if any(zone.sites_made is not None or zone.reseated for zone in summary.zones):
        yield "sites / free", lambda zone: _two(zone.sites_made, zone.sites_free)
        known = RESEATED not in summary.not_entered
        yield "reseated", lambda zone: grafts(zone.reseated) if known else NO_DATA


def _times_out(summary: Summary) -> Iterator[Column[ZoneSummary]]:
    """Times out of the body of what was placed in each zone."""
    found = {each.zone: each for each in summary.out_of_body_zones}
    if not found:
        return
    yield "half by", lambda zone: half_out(found.get(zone.zone))
    yield "longest", lambda zone: longest_out(found.get(zone.zone))
    if limit := summary.out_of_body_limit_ms:
        yield f"beyond {hours_minutes(limit)}", lambda zone: beyond_limit(found.get(zone.zone))


def _against(placed: str, planned: str, nothing: str = "") -> str:
    """What was placed and planned, or one figure where both are the same; a dash where both are nothing."""
    if placed == planned:
        return NO_DATA if placed == nothing else placed
    return f"{placed} / {planned}"


def _two(one: int | None, other: int | None) -> str:
    return f"{grafts(one)} / {grafts(other)}" if one or other else NO_DATA


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
