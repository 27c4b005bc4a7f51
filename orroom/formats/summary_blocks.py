"""A summary as blocks: its sections in the order in which they are read."""

from collections.abc import Callable, Iterator
from typing import Final

from orroom.formats.blocks import Block
from orroom.formats.sections import (
    care,
    changes_and_notes,
    counts,
    earlier,
    grafts,
    head,
    in_short,
    out_of_body,
    pace,
    people,
    quality,
    yields,
    zones_and_harvests,
)
from orroom.summary.summary import Summary

Section = Callable[[Summary], Iterator[Block]]
#: What a first page says in its own way.
FIRST: Final[tuple[Section, ...]] = (head.head, in_short.in_short)
SECTIONS: Final[tuple[Section, ...]] = (
    zones_and_harvests.zones,
    grafts.grafts_and_hairs,
    counts.paper_count,
    counts.final_count,
    counts.mismatches,
    earlier.earlier_cases,
    zones_and_harvests.harvests,
    out_of_body.out_of_body,
    pace.times,
    pace.pace,
    care.care,
    people.people,
    people.discards,
    quality.quality,
    quality.hairs_lost,
    yields.donor,
    yields.projected,
    changes_and_notes.revisions,
    quality.divisions_asked,
    changes_and_notes.corrections,
    quality.spot_checks,
    changes_and_notes.notes,
)


def blocks_of(summary: Summary) -> Iterator[Block]:
    """The whole summary; a section that has nothing to say is left out."""
    yield from first_blocks(summary)
    for section in SECTIONS:
        yield from section(summary)


def first_blocks(summary: Summary) -> Iterator[Block]:
    """What is read first, where a page is not laid out: which case, cautions, and all in short."""
    for section in FIRST:
        yield from section(summary)


def after_first_page(summary: Summary) -> Iterator[Block]:
    """What follows where the first page is laid out by itself."""
    for section in (*SECTIONS, head.record):
        yield from section(summary)
