"""What each person did, and what was discarded."""

from collections.abc import Iterator
from typing import Final

from orroom.figures.quality import RESEATED
from orroom.figures.wording import NO_DATA, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, Table, table
from orroom.formats.sections.wording import by_size
from orroom.summary.summary import Summary

#: What is counted of a person, and its field.
DONE: Final = (
    ("cut, spoilt left out", "cut_spoilt_left_out"),
    ("placed", "placed"),
    ("divided", "divided"),
    ("discarded", "discarded"),
)


def people(summary: Summary) -> Iterator[Block]:
    """What each person did, by size."""
    yield Heading("People")
    rows = [
        [person.who, did, *by_size(summary, counts)]
        for person in summary.people
        for did, field in DONE
        if (counts := getattr(person, field))
    ]
    if rows:
        yield Table(["who", "did", *(each.size for each in summary.sizes), "all"], rows, texts=2)
        yield Paragraph("What was spoilt in cutting is among the discarded.")
    if summary.zone_hands:
        yield table(
            summary.zone_hands,
            ("zone", lambda each: each.label),
            ("who", lambda each: each.who),
            ("sites made", lambda each: grafts(each.sites_made)),
            ("placed", lambda each: grafts(each.placed)),
            ("reseated", lambda each: NO_DATA if RESEATED in summary.not_entered else grafts(each.reseated)),
        )
    roles = ["" if each.role in {None, each.who} else f" ({each.role})" for each in summary.people]
    yield Paragraph(
        "Entries: "
        + ", ".join(
            f"{each.who}{role} {grafts(each.entries)}"
            for each, role in zip(summary.people, roles, strict=True)
        )
    )


def discards(summary: Summary) -> Iterator[Block]:
    """What was discarded, by reason."""
    if not summary.discards:
        return
    yield Heading("Discards")
    rows = [
        [each.reason, when, *by_size(summary, counts)]
        for each in summary.discards
        for when, counts in (("in cutting", each.in_cutting), ("later", each.later))
        if counts
    ]
    yield Table(["reason", "when", *(each.size for each in summary.sizes), "all"], rows, texts=2)
