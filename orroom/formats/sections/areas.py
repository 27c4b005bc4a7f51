"""What was placed where, for the patient's file: nobody's name, and nothing of the team's work."""

from collections.abc import Iterator

from orroom.figures.wording import decimal, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, Strong, Table, Words, lines
from orroom.formats.sections.wording import hairs
from orroom.summary.summary import Summary


def areas(summary: Summary) -> Iterator[Block]:
    """Grafts, hairs and density of each area, then grafts and hairs of each size."""
    whole, area_cm2 = summary.in_all, sum(zone.area_cm2 for zone in summary.zones)
    yield Heading("Grafts placed, by area")
    if unsure := _may_change(summary):
        yield Paragraph((Strong("These figures may still change"), f": {unsure}."))
    rows = [
        [zone.label, *_row(zone.area_cm2, zone.grafts_placed, zone.hairs_placed)] for zone in summary.zones
    ]
    rows.append(["all", *_row(area_cm2, whole.placed, whole.hairs_placed)])
    yield Table(["area", "cm²", "grafts", "hairs", "grafts/cm²", "hairs/cm²"], rows)
    yield Paragraph("By size:")
    sizes: list[list[Words]] = [
        [each.label, grafts(each.placed), hairs(each.hairs_placed)] for each in summary.sizes
    ]
    yield Table(
        ["size", "grafts", "hairs"], [*sizes, ["all", grafts(whole.placed), hairs(whole.hairs_placed)]]
    )
    if mean := [each for each in summary.sizes if each.size == "M"]:
        yield Paragraph(
            f"Hairs of {mean[0].label} grafts: {decimal(mean[0].hairs_per_graft)} each on average."
        )
    yield lines(
        "Hairs are counted by the size of the grafts. What grew there before is not counted, and nothing",
        "here says how many will grow.",
    )


def _may_change(summary: Summary) -> str:
    reasons = []
    if summary.not_intact is not None:
        reasons.append("the record is not intact")
    if summary.signed_off is None:
        reasons.append("the case is not signed off")
    if any(each.explanation is None for each in summary.mismatches):
        reasons.append("a mismatch in the record is not explained")
    return "; ".join(reasons)


def _row(area_cm2: float, placed: int, hairs_placed: float) -> list[str]:
    per_cm2 = (decimal(count / area_cm2) if area_cm2 else decimal(None) for count in (placed, hairs_placed))
    return [decimal(area_cm2), grafts(placed), hairs(hairs_placed), *per_cm2]
