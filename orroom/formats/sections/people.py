"""What each person did, and what was discarded."""

from collections.abc import Iterable, Iterator
from typing import Final

from orroom.figures.quality import RESEATED
from orroom.figures.wording import NO_DATA, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, Table, table
from orroom.formats.sections.wording import by_size
from orroom.summary.hands import ZoneHands
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
            _by_zone(summary.zone_hands),
            ("zone", lambda hands: hands[0].label),
            ("sites by", lambda hands: _each(hands, "sites_made")),
            ("placed by", lambda hands: _each(hands, "placed")),
            (
                "reseated by",
                lambda hands: NO_DATA if RESEATED in summary.not_entered else _each(hands, "reseated"),
            ),
            texts=4,
        )
    roles = ["" if each.role in {None, each.who} else f" ({each.role})" for each in summary.people]
    yield Paragraph(
        "Entries: "
        + ", ".join(
            f"{each.who}{role} {grafts(each.entries)}"
            for each, role in zip(summary.people, roles, strict=True)
        )
    )


def _by_zone(hands: Iterable[ZoneHands]) -> list[list[ZoneHands]]:
    found: dict[str, list[ZoneHands]] = {}
    for each in hands:
        found.setdefault(each.zone, []).append(each)
    return list(found.values())


def _each(hands: Iterable[ZoneHands], what: str) -> str:
    """Everybody with their count: ``JK 89, LM 17``."""
    counts = ((each.who, getattr(each, what)) for each in hands)
    return ", ".join(f"{who} {grafts(count)}" for who, count in counts if count) or NO_DATA


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
