"""A summary as blocks: its sections, by the names of ``chosen.py``, in the order in which they are read."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Final

from msgspec.structs import replace

from orroom.formats.blocks import Block, Heading, runs
from orroom.formats.chosen import AREAS, FIRST, WHOLE
from orroom.formats.first_page.page import FirstPage, Followed, first_page
from orroom.formats.sections import (
    areas,
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

SECTIONS: Final[Mapping[str, Callable[[Summary], Iterator[Block]]]] = {
    AREAS: areas.areas,
    "zones": zones_and_harvests.zones,
    "grafts": grafts.grafts_and_hairs,
    "paper": counts.paper_count,
    "count": counts.final_count,
    "mismatches": counts.mismatches,
    "earlier": earlier.earlier_cases,
    "harvests": zones_and_harvests.harvests,
    "out": out_of_body.out_of_body,
    "times": pace.times,
    "pace": pace.pace,
    "limits": care.broken_limits,
    "care": care.care,
    "people": people.people,
    "discards": people.discards,
    "quality": quality.quality,
    "hairs": quality.hairs_lost,
    "donor": yields.donor,
    "yield": yields.projected,
    "revisions": changes_and_notes.revisions,
    "dividing": quality.divisions_asked,
    "corrections": changes_and_notes.corrections,
    "checks": quality.spot_checks,
    "notes": changes_and_notes.notes,
    "record": head.record,
}


def sections_of(summary: Summary, chosen: Sequence[str] = WHOLE) -> list[list[Block]]:
    """The blocks of each chosen section but the first page, from its heading on; none that says nothing."""
    found = []
    for name in chosen:
        if name != FIRST and (blocks := [*SECTIONS[name](summary)]):
            heading, *rest = blocks
            assert isinstance(heading, Heading)  # noqa: S101 - what else would name a section
            found.append([replace(heading, name=name), *rest])
    return found


def blocks_of(summary: Summary, chosen: Sequence[str] = WHOLE) -> Iterator[Block]:
    """What is chosen, for a page that is not laid out; its head says how the record ends."""
    if FIRST in chosen:
        yield from head.head(summary)
        yield from in_short.in_short(summary)
        chosen = [name for name in chosen if name != "record"]
    else:
        yield from head.title(summary)
    yield from chain.from_iterable(sections_of(summary, chosen))


def laid_out(summary: Summary, chosen: Sequence[str] = WHOLE) -> tuple[FirstPage | None, list[Block]]:
    """The first page, which names what follows, and that; without a first page a title comes first."""
    sections = sections_of(summary, chosen)
    rest = [*chain.from_iterable(sections)]
    if FIRST not in chosen:
        return None, [*head.title(summary), *rest]
    follows = [Followed(each.name, _short(each)) for each in rest if isinstance(each, Heading)]
    return first_page(summary, follows), rest


def _short(heading: Heading) -> str:
    """What a heading says up to its colon."""
    return "".join(text for text, _ in runs(heading.words)).partition(":")[0]


def after_first_page(summary: Summary, chosen: Sequence[str] = WHOLE) -> list[Block]:
    """What follows the first page."""
    return laid_out(summary, chosen)[1]
