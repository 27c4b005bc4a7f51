"""Grafts and hairs by size, and whether they add up."""

from collections.abc import Iterator
from typing import Final

from orroom.figures.wording import NO_DATA, decimal, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, Strong, Table, Words, lines
from orroom.formats.sections import charts
from orroom.formats.sections.wording import hairs
from orroom.summary.adding_up import where_not
from orroom.summary.grafts import HAIR_COUNTS, SizeCounts
from orroom.summary.summary import Summary

#: The rows: what is counted, and the field that holds it.
_GRAFT_ROWS: Final = (
    ("planned", "planned"),
    ("kept from an earlier case", "kept_before"),
    ("cut in all", "cut_in_all"),
    ("pieces from dividing", "divided_in"),
    ("grafts divided", "divided_out"),
    ("discarded", "discarded"),
    ("not found", "not_found"),
    ("left at the end", "left_at_end"),
    ("in dishes", "dish"),
    ("with the placers", "with_placers"),
    ("placed", "placed"),
    ("owed to zones", "owed"),
)


def grafts_and_hairs(summary: Summary) -> Iterator[Block]:
    """What was planned, cut and placed, by size and in all."""
    whole = summary.in_all
    columns = (*summary.sizes, whole)
    yield Heading("Grafts and hairs")
    rows = [
        [name, *(grafts(getattr(each, field)) for each in columns)]
        for name, field in _GRAFT_ROWS
        if field != "kept_before" or whole.kept_before
    ]
    rows += [
        [name, *(hairs(getattr(each, field)) for each in columns)] for field, name in HAIR_COUNTS.items()
    ]
    yield Table(["size", *(each.size for each in summary.sizes), "all"], rows)
    yield Paragraph(
        "Sizes: " + ", ".join(f"{each.size} = {each.label}{_mean(each)}" for each in summary.sizes)
    )
    lost = whole.hairs_lost_dividing
    yield Paragraph(
        f"Hairs per graft: planned {decimal(whole.hairs_per_graft_planned, 2)}, "
        f"usable {decimal(whole.hairs_per_graft_usable, 2)}, "
        f"placed {decimal(whole.hairs_per_graft_placed, 2)}. Hairs lost in dividing: "
        f"{f'{NO_DATA} (multi-unit grafts have only a mean)' if lost is None else hairs(lost)}."
    )
    if any(each.not_found < 0 for each in columns):
        yield Paragraph("Not found: by a hand count. Below 0: it found more than the tally.")
    if summary.adds_up:
        yield lines(
            (
                Strong("Adds up."),
                f" For every size of every harvest, all grafts {'kept and ' * bool(whole.kept_before)}cut"
                " and all pieces are",
            ),
            "in dishes, with the placers, placed, discarded, divided, not found, or left at the end.",
        )
    else:
        yield Paragraph(does_not_add_up(summary))
    yield from charts.progress(summary)


def _mean(size: SizeCounts) -> str:
    """The mean hairs of a multi-unit graft; of other sizes the size says them."""
    return f" ({decimal(size.hairs_per_graft)} hairs)" if size.size == "M" else ""


def does_not_add_up(summary: Summary) -> Words:
    """Where it does not."""
    return (Strong("Does not add up"), f": {'; '.join(where_not(summary))}.")
