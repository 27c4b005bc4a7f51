"""What the donor area was expected to give, and what its segments have given."""

from collections.abc import Iterator

from orroom.figures.wording import NO_DATA, between, decimal, grafts, percent
from orroom.formats.blocks import Block, Heading, Paragraph, Table, lines, table
from orroom.formats.sections.wording import whole
from orroom.summary.summary import Summary


def donor(summary: Summary) -> Iterator[Block]:
    """What the plan expected of the donor area against what is usable."""
    part = summary.donor
    if part is None:
        return
    yield Heading("Donor: expected and usable so far")
    rows = [
        [
            each.size,
            decimal(part.expected_by_size.get(each.size)),
            grafts(part.usable_by_size.get(each.size, 0)),
        ]
        for each in summary.sizes
    ]
    rows.append(["all", decimal(part.expected), grafts(part.usable)])
    yield Table(["size", "expected", "usable"], rows)
    if part.taken_before:
        yield Paragraph(f"Expected: the estimate less {grafts(part.taken_before)} taken in earlier cases.")
    if part.difference is None:
        yield Paragraph("Not every segment is finished; more may come.")
    else:
        share = percent(part.difference_share, 1)
        yield Paragraph(f"Usable minus expected: {decimal(part.difference)} ({share}).")
    if part.unassigned_share:
        yield Paragraph(f"The expected mix leaves {percent(part.unassigned_share, 1)} without a size.")


def projected(summary: Summary) -> Iterator[Block]:
    """What the finished segments say of the whole, next to plan and count."""
    if not summary.projected:
        return
    yield Heading("Yield: projected and usable so far")
    yield table(
        summary.projected,
        ("what", lambda each: each.what),
        ("plan", lambda each: grafts(each.planned)),
        ("usable", lambda each: grafts(each.usable)),
        ("projected", lambda each: whole(each.projected)),
        ("80 %", lambda each: _range(each.low_80, each.high_80)),
        ("95 %", lambda each: _range(each.low_95, each.high_95)),
    )
    yield lines(
        "From the segments finished and in progress, taken as typical of the harvest: their mean times all",
        "segments (t ranges); where all were measured, their grafts per mm times the strip's length.",
        "If thin ends are cut last, less will come. Each range is for its row alone: with several",
        "sizes, one is often outside its own. Once all is cut, this is the actual count.",
    )


def _range(low: float | None, high: float | None) -> str:
    return NO_DATA if low is None else between(whole, low, high)
