"""The figures of a plan on one page: grafts and hairs in all, by size, by zone, and the donor's."""

from collections.abc import Iterator

from orroom.case.plan import Donor, Plan
from orroom.figures.counts import hairs_per_graft
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.donor import expected_grafts, expected_range, whole_grafts_by_size
from orroom.figures.wording import decimal, grafts, percent
from orroom.formats.blocks import Block, Caution, Heading, Paragraph, Strong, table


def figures(plan: Plan) -> Iterator[Block]:
    """What a plan adds up to."""
    total, hairs = plan.planned(), sum(planned_hairs(plan, zone) for zone in plan.zones)
    area = sum(zone.measured_cm2 for zone in plan.zones)
    whole = f"{grafts(total)} grafts, {decimal(hairs, 0)} hairs"
    yield Paragraph(
        (
            Strong(whole),
            f"; {decimal(hairs_per_graft(hairs, total), 2)} hairs a graft; {decimal(area)} cm²; "
            f"{decimal(total / area)} grafts and {decimal(hairs / area)} hairs per cm².",
        )
    )
    expected = whole_grafts_by_size(plan.donor) if plan.donor else {}
    if plan.cautions:
        yield Caution(plan.cautions)
    yield Heading("By size")
    yield table(
        plan.sizes,
        ("size", lambda each: each.key),
        ("label", lambda each: each.label),
        ("hairs a graft", lambda each: f"{each.hairs:g}"),
        ("grafts planned", lambda each: grafts(plan.planned(each.key))),
        ("hairs planned", lambda each: decimal(plan.planned(each.key) * each.hairs, 0)),
        ("donor gives", lambda each: grafts(expected.get(each.key))),
        texts=2,
    )
    yield Heading("By zone")
    yield table(
        plan.zones,
        ("zone", lambda each: f"{each.key} {each.label}"),
        ("cm²", lambda each: decimal(each.measured_cm2)),
        ("grafts", lambda each: grafts(sum(each.planned.values()))),
        ("hairs", lambda each: decimal(planned_hairs(plan, each), 0)),
        (
            "hairs a graft",
            lambda each: decimal(hairs_per_graft(planned_hairs(plan, each), sum(each.planned.values())), 2),
        ),
        ("grafts/cm²", lambda each: decimal(planned_grafts_per_cm2(each))),
        ("hairs/cm²", lambda each: decimal(planned_hairs(plan, each) / each.measured_cm2)),
    )
    if plan.donor:
        yield Heading("Donor")
        yield Paragraph(_donor(plan.donor))


def _donor(donor: Donor) -> str:
    said = (
        f"Strip {donor.strip_length_cm:g} × {donor.strip_width_cm:g} cm, less {percent(donor.loss)}: "
        f"{decimal(expected_grafts(donor), 0)} grafts expected"
    )
    if found := expected_range(donor):
        said += (
            f", {percent(found.confidence)} range {decimal(found.low, 0)}–{decimal(found.high, 0)} "
            "from the spread of the readings alone"
        )
    return f"{said}."
