"""Time out of the body, by harvest, and with the placers without wetting."""

from collections.abc import Callable, Iterator

from orroom.figures.wording import between, grafts, hours_minutes, minutes_seconds, percent
from orroom.formats.blocks import Block, Heading, Paragraph, lines, table
from orroom.formats.sections import charts
from orroom.formats.sections.wording import (
    beyond_limit,
    graft_minutes,
    half_out,
    longest_out,
    whole,
)
from orroom.summary.drying import DryingSummary
from orroom.summary.out_of_body import OutOfBodySummary
from orroom.summary.summary import Summary


def out_of_body(summary: Summary) -> Iterator[Block]:
    """Times out of the body by harvest, what mixing leaves open, and drying times with the placers."""
    if not summary.out_of_body and summary.drying is None:
        return
    yield Heading("Time out of the body")
    if summary.out_of_body:
        yield from _by_harvest(summary)
    if summary.drying is not None:
        yield from _with_placers(summary.drying)
    yield from charts.out_of_body(summary)


def _by_harvest(summary: Summary) -> Iterator[Block]:
    def times(low: int | None, high: int | None) -> str:
        return between(hours_minutes, low, high)

    yield table(
        summary.out_of_body,
        ("harvest", lambda each: each.label),
        ("quarter by", lambda each: times(each.lower_quartile_low_ms, each.lower_quartile_high_ms)),
        ("half by", half_out),
        ("3 quarters by", lambda each: times(each.upper_quartile_low_ms, each.upper_quartile_high_ms)),
        ("longest", longest_out),
    )
    yield lines(
        "Placed by this time out of the body; waiting grafts are assumed to be placed later",
        "(Kaplan-Meier). — = not yet.",
    )
    limit = summary.out_of_body_limit_ms
    beyond: list[tuple[str, Callable[[OutOfBodySummary], str]]] = [
        (f"limit {hours_minutes(limit)}", beyond_limit)
    ]
    yield table(
        summary.out_of_body,
        ("harvest", lambda each: each.label),
        ("placed", lambda each: between(grafts, each.placed_low, each.placed_high)),
        ("waiting", lambda each: between(grafts, each.waiting_low, each.waiting_high)),
        ("graft-hours", lambda each: between(whole, each.graft_hours_low, each.graft_hours_high)),
        ("over 2 h", lambda each: between(percent, each.over_2_h_low, each.over_2_h_high)),
        ("4 h", lambda each: between(percent, each.over_4_h_low, each.over_4_h_high)),
        ("6 h", lambda each: between(percent, each.over_6_h_low, each.over_6_h_high)),
        *(beyond if limit else ()),
    )
    if any(min(each.dish, each.with_placers) < 0 for each in summary.accounts):
        yield lines(
            "Waiting: what was taken beyond the tally (see Mismatches) counts as 0 here, and as less than 0",
            "under Harvests.",
        )
    if len(summary.out_of_body) > 1:
        yield lines(
            "Which harvest a graft was taken from is not recorded. A range: the least and the most that is",
            "possible. One figure: the two are the same.",
        )
    reference = summary.out_of_body_reference
    yield Paragraph(reference[:1].upper() + reference[1:])


def _with_placers(with_placers: DryingSummary) -> Iterator[Block]:
    over = between(grafts, with_placers.over_limit_low, with_placers.over_limit_high)
    share = between(
        lambda each: percent(each, 1), with_placers.over_limit_share_low, with_placers.over_limit_share_high
    )
    yield lines(
        f"With the placers and not wetted: longest {longest_with_placers(with_placers)}, {over} of "
        f"{grafts(with_placers.grafts)} grafts",
        f"({share}) beyond the limit of {minutes_seconds(with_placers.limit_ms or 0)}, "
        f"{graft_minutes(with_placers.beyond_limit_low, with_placers.beyond_limit_high)} beyond it in all.",
    )
    if (with_placers.longest_low_ms, with_placers.over_limit_low) != (
        with_placers.longest_high_ms,
        with_placers.over_limit_high,
    ):
        yield lines(
            "Batches of one size lay with the placers together. Which one a graft was taken from is not",
            "recorded, so a range shows the least and the most that is possible.",
        )


def longest_with_placers(with_placers: DryingSummary) -> str:
    """The longest time without wetting, in minutes and seconds."""
    return between(
        lambda each: minutes_seconds(each or 0), with_placers.longest_low_ms, with_placers.longest_high_ms
    )
