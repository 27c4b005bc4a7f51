"""A summary as Markdown that reads well raw and rendered at 80 columns: cautions on top, narrow tables.

Every text that comes from the record is escaped, so that a note cannot change the page it stands on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from orroom.figures.wording import (
    NO_DATA,
    decimal,
    grafts,
    hours_minutes,
    several,
)
from orroom.formats import markdown_figures, markdown_pace, markdown_record, markdown_short
from orroom.formats.markdown_short import hairs
from orroom.formats.page import Page, escaped, listed, table
from orroom.summary.adding_up import where_not
from orroom.summary.grafts import SizeCounts
from orroom.summary.sign_off import SignOff
from orroom.summary.summary import Summary

#: The rows of the first table: what is told, and the field that tells it.
_GRAFT_ROWS = (
    ("planned", "planned"),
    ("cut", "cut"),
    ("divided in", "divided_in"),
    ("divided out", "divided_out"),
    ("discarded", "discarded"),
    ("missing", "missing"),
    ("in dishes", "dish"),
    ("on the bench", "bench"),
    ("placed", "placed"),
    ("owed to zones", "owed"),
)
_HAIR_ROWS = (
    ("hairs planned", "hairs_planned"),
    ("hairs usable", "hairs_usable"),
    ("hairs placed", "hairs_placed"),
)


def to_markdown(summary: Summary) -> str:
    """The whole summary, without the sections that have nothing to tell."""
    page = Page(summary)
    return "\n\n".join(block for section in SECTIONS for block in section(page)) + "\n"


Section = Callable[[Page], Iterator[str]]


def _hairs_lost(lost: float | None) -> str:
    return f"{NO_DATA} (multi-unit grafts have only a mean)" if lost is None else hairs(lost)


def _head(page: Page) -> Iterator[str]:
    told = page.summary
    title = "" if told.title is None else f": {escaped(told.title)}"
    yield f"# Case {escaped(told.case)}{title}"
    first, *others = map(escaped, told.cautions)
    yield "\n".join(f"> - {each}" for each in (first if told.not_sound is None else f"**{first}**", *others))
    if told.signed_off is None:
        status = "**Open**, not signed off."
    else:
        status = f"**Signed off** by {_signed(page, told.signed_off)}"
    yield listed(
        (
            status,
            f"Opened {page.date(told.opened)} by {escaped(told.opened_by)}.",
            f"Last entry {page.date(told.last_entry)}; {several(told.entries, 'entry', 'entries')}.",
            *((f"Head of the record {told.entries}:{told.head}.",) if told.head else ()),
            f"Times are at {page.offset()}, durations in hours:minutes.",
            *(f"Signed off before by {_signed(page, each)}" for each in told.earlier_sign_offs),
            *(
                f"Reopened {page.date(each.at)} by {escaped(each.who)}: {escaped(each.text)}"
                for each in told.reopened
            ),
        )
    )


def _signed(page: Page, signed: SignOff) -> str:
    """By whom and when, and how much was left open; what it was is said below."""
    left = sum(each.at == signed.at for each in page.summary.left_open)
    open_words = f" **{several(left, 'thing')} left open**." if left else ""
    return f"{escaped(signed.who)} and {escaped(signed.second)}, {page.date(signed.at)}.{open_words}"


def _grafts(page: Page) -> Iterator[str]:
    told, whole = page.summary, page.summary.in_all
    yield "## Grafts and hairs"
    columns = (*told.sizes, whole)
    rows = [(name, *(grafts(getattr(each, field)) for each in columns)) for name, field in _GRAFT_ROWS]
    rows += [(name, *(hairs(getattr(each, field)) for each in columns)) for name, field in _HAIR_ROWS]
    yield table(("size", *page.sizes, "all"), rows)
    yield "Sizes: " + ", ".join(f"{each.size} = {escaped(each.label)}{_mean(each)}" for each in told.sizes)
    yield (
        f"Hairs per graft: planned {decimal(whole.hairs_per_graft_planned, 2)}, "
        f"usable {decimal(whole.hairs_per_graft_usable, 2)}, "
        f"placed {decimal(whole.hairs_per_graft_placed, 2)}. "
        f"Hairs lost in dividing: {_hairs_lost(whole.hairs_lost_dividing)}."
    )
    if any(each.missing < 0 for each in columns):
        yield "Missing below 0: found by a hand count beyond the tally."
    if told.adds_up:
        yield (
            "**Adds up.** For every size of every lot, what was cut or divided in is\n"
            "in dishes, on the bench, placed, discarded, divided out or missing."
        )
    else:
        yield f"**Does not add up**: {'; '.join(map(escaped, where_not(told)))}."


def _mean(size: SizeCounts) -> str:
    """The mean hairs of a multi-unit graft; of other sizes the size says them."""
    return f" ({decimal(size.hairs_per_graft)} hairs)" if size.size == "M" else ""


def _mismatches(page: Page) -> Iterator[str]:
    yield "## Mismatches"
    yield listed(
        f"**open**: {escaped(each.sentence)}"
        if each.explanation is None
        else f"explained: {escaped(each.sentence)} — {escaped(each.explanation)}"
        for each in page.summary.mismatches
    )


def _zones(page: Page) -> Iterator[str]:
    zones = page.summary.zones
    names = [escaped(zone.label) for zone in zones]
    named = list(zip(names, zones, strict=True))
    yield "## Zones"
    yield table(
        ("zone", "planned", "placed", "owed", "over"),
        (
            (
                name,
                grafts(z.grafts_planned),
                grafts(z.grafts_placed),
                grafts(z.grafts_owed),
                grafts(z.grafts_over),
            )
            for name, z in named
        ),
    )
    yield "Placed / planned by size:"
    yield table(
        ("zone", *page.sizes),
        (
            (
                name,
                *(
                    f"{grafts(z.placed[size])} / {grafts(z.planned[size])}"
                    if z.placed[size] or z.planned[size]
                    else NO_DATA
                    for size in page.sizes
                ),
            )
            for name, z in named
        ),
    )
    yield "Placed / planned per cm²:"
    yield table(
        ("zone", "cm²", "grafts/cm²", "hairs/cm²"),
        (
            (
                name,
                decimal(z.area_cm2),
                f"{decimal(z.placed_grafts_per_cm2)} / {decimal(z.planned_grafts_per_cm2)}",
                f"{decimal(z.placed_hairs_per_cm2)} / {decimal(z.planned_hairs_per_cm2)}",
            )
            for name, z in named
        ),
    )
    if any(z.sites_made is not None or z.reseated for z in zones):
        yield table(
            ("zone", "sites made", "free", "reseated"),
            ((name, grafts(z.sites_made), grafts(z.sites_free), grafts(z.reseated)) for name, z in named),
        )


def _lots(page: Page) -> Iterator[str]:
    lots = page.summary.lots
    if not lots:
        return
    yield "## Lots"
    yield table(
        ("lot", "harvest", "segments", "cut", "waiting", "out now"),
        (
            (
                escaped(lot.label),
                f"{page.clock(lot.harvest_started)}–{page.clock(lot.harvest_ended)}",
                f"{lot.segments_done}/{grafts(lot.segments)}",
                grafts(lot.cut),
                grafts(lot.waiting),
                hours_minutes(lot.waiting_out_ms),
            )
            for lot in lots
        ),
    )
    yield "Out now: time out of the body of the grafts or tissue that wait, at the end of the work."
    yield table(
        ("lot", "placed", "mean out when placed", "longest"),
        (
            (
                escaped(lot.label),
                grafts(lot.placed),
                hours_minutes(lot.mean_out_at_placing_ms),
                hours_minutes(lot.longest_out_at_placing_ms),
            )
            for lot in lots
        ),
    )
    yield from (
        f"{escaped(lot.label)}: time out of the body not known, {lot.out_unknown}."
        for lot in lots
        if lot.out_unknown is not None
    )
    yield page.summary.remark_on_lots


SECTIONS: tuple[Section, ...] = (
    _head,
    markdown_short.in_short,
    _grafts,
    markdown_record.paper_count,
    markdown_record.final_count,
    _mismatches,
    _zones,
    _lots,
    markdown_figures.out_of_body,
    markdown_record.times,
    markdown_pace.pace,
    markdown_record.care,
    markdown_record.people,
    markdown_record.discards,
    markdown_figures.quality,
    markdown_figures.hairs_lost,
    markdown_record.donor,
    markdown_figures.projected,
    markdown_record.revisions,
    markdown_record.corrections,
    markdown_record.spot_checks,
    markdown_record.notes,
)
