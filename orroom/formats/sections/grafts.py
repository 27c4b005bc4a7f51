"""Grafts and hairs by size, and whether they add up."""

from collections.abc import Iterator
from typing import Final

from orroom.figures.survival import HOUR_MS
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes
from orroom.formats.blocks import Block, Heading, Paragraph, Strong, Table, Words, lines
from orroom.formats.sections import charts
from orroom.formats.sections.wording import beyond_limit, hairs, half_out, longest_out, whole
from orroom.summary.adding_up import where_not
from orroom.summary.grafts import HAIR_COUNTS, SizeCounts
from orroom.summary.out_of_body import in_all
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
    together = summary.in_all
    columns = (*summary.sizes, together)
    yield Heading("Grafts and hairs")
    rows = [
        [name, *(grafts(getattr(each, field)) for each in columns)]
        for name, field in _GRAFT_ROWS
        if field != "kept_before" or together.kept_before
    ]
    rows += [
        [name, *(hairs(getattr(each, field)) for each in columns)] for field, name in HAIR_COUNTS.items()
    ]
    rows += _times_out(summary)
    yield Table(["size", *(each.size for each in summary.sizes), "all"], rows)
    if summary.out_of_body_sizes:
        yield lines(
            "Half placed by, longest, beyond the limit: time out of the body. Mean wait: in dishes and with",
            "the placers, of all that came there; one that was lost or waits still counts until then.",
        )
    yield Paragraph(
        "Sizes: " + ", ".join(f"{each.size} = {each.label}{_mean(each)}" for each in summary.sizes)
    )
    lost = together.hairs_lost_dividing
    yield Paragraph(
        f"Hairs per graft: planned {decimal(together.hairs_per_graft_planned, 2)}, "
        f"usable {decimal(together.hairs_per_graft_usable, 2)}, "
        f"placed {decimal(together.hairs_per_graft_placed, 2)}. Hairs lost in dividing: "
        f"{f'{NO_DATA} (multi-unit grafts have only a mean)' if lost is None else hairs(lost)}."
    )
    if any(each.not_found < 0 for each in columns):
        yield Paragraph("Not found: by a hand count. Below 0: it found more than the tally.")
    if summary.adds_up:
        yield lines(
            (
                Strong("Adds up."),
                f" For every size of every harvest, all grafts {'kept and ' * bool(together.kept_before)}cut"
                " and all pieces are",
            ),
            "in dishes, with the placers, placed, discarded, divided, not found, or left at the end.",
        )
    else:
        yield Paragraph(does_not_add_up(summary))
    yield from charts.progress(summary)


def _times_out(summary: Summary) -> Iterator[list[str]]:
    """Rows of times out of the body and times waiting."""
    if not summary.out_of_body_sizes:
        return
    found = {each.size: each for each in summary.out_of_body_sizes}
    columns = [*(found.get(each.size) for each in summary.sizes), in_all(summary.out_of_body)]
    yield ["half placed by", *map(half_out, columns)]
    yield ["longest out", *map(longest_out, columns)]
    if limit := summary.out_of_body_limit_ms:
        yield [f"out beyond {hours_minutes(limit)}", *map(beyond_limit, columns)]
    sizes = [found.get(each.size) for each in summary.sizes]
    came = sum(each.came for each in found.values())
    hours = sum(each.graft_hours_waiting for each in found.values())
    mean = round(hours * HOUR_MS / came) if came else None
    yield ["waited in all", *(grafts(each.came) if each else NO_DATA for each in sizes), grafts(came)]
    waited = (whole(each.graft_hours_waiting) if each else NO_DATA for each in sizes)
    yield ["graft-hours waiting", *waited, whole(hours)]
    means = (hours_minutes(each.mean_wait_ms) if each else NO_DATA for each in sizes)
    yield ["mean wait", *means, hours_minutes(mean)]


def _mean(size: SizeCounts) -> str:
    """The mean hairs of a multi-unit graft; of other sizes the size says them."""
    return f" ({decimal(size.hairs_per_graft)} hairs)" if size.size == "M" else ""


def does_not_add_up(summary: Summary) -> Words:
    """Where it does not."""
    return (Strong("Does not add up"), f": {'; '.join(where_not(summary))}.")
