"""Earlier cases of the same patient: what they placed next to this one, and what they kept for it."""

from collections.abc import Iterator

from orroom.figures.wording import decimal, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, table
from orroom.formats.sections.wording import date, hairs
from orroom.summary.summary import Summary


def earlier_cases(summary: Summary) -> Iterator[Block]:
    """What earlier cases did, what is in each zone together, and the grafts that were kept."""
    if not summary.earlier_cases:
        return
    yield Heading("Earlier cases")
    yield table(
        summary.earlier_cases,
        ("case", lambda each: each.earlier_case),
        ("opened", lambda each: date(summary, each.opened)),
        ("placed", lambda each: grafts(each.grafts_placed)),
        ("hairs", lambda each: hairs(each.hairs_placed)),
        ("taken from the donor", lambda each: grafts(each.grafts_taken)),
        texts=2,
    )
    for each in summary.earlier_cases:
        sizes = ", ".join(f"{size} {grafts(count)}" for size, count in each.placed.items())
        taken = ", ".join(f"{size} {grafts(count)}" for size, count in each.taken.items())
        said = f"Case {each.earlier_case}: placed by size {sizes or 'none'}; taken by size {taken or 'none'}."
        if each.grafts_elsewhere:
            said += f" {grafts(each.grafts_elsewhere)} are in zones that this plan does not have."
        yield Paragraph(said)
        yield Paragraph(f"Seal of its record: {grafts(each.entries)}:{each.seal}.")
    yield Paragraph("Placed before, and with what this case placed:")
    yield table(
        summary.zones,
        ("zone", lambda zone: zone.label),
        ("grafts before", lambda zone: grafts(zone.grafts_before)),
        ("hairs before", lambda zone: hairs(zone.hairs_before)),
        (
            "grafts/cm²",
            lambda zone: f"{decimal(zone.before_grafts_per_cm2)} → {decimal(zone.together_grafts_per_cm2)}",
        ),
        (
            "hairs/cm²",
            lambda zone: f"{decimal(zone.before_hairs_per_cm2)} → {decimal(zone.together_hairs_per_cm2)}",
        ),
    )
    if summary.kept_grafts:
        yield Paragraph("Kept from the earlier case:")
        yield table(
            summary.kept_grafts,
            ("harvest", lambda each: each.label),
            ("size", lambda each: each.size),
            ("kept", lambda each: grafts(each.grafts)),
            ("not found", lambda each: grafts(each.not_found) if each.counted_again else "not counted"),
            (
                "out of the body since",
                lambda each: "not known" if each.out_since is None else date(summary, each.out_since),
            ),
            texts=2,
        )
