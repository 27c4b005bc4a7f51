"""Sections of the Markdown summary that tell estimates: time out of the body, quality, yield."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from textwrap import fill
from typing import TypeVar

from orroom.figures.quality import ALIKE
from orroom.figures.wording import (
    NO_DATA,
    decimal,
    grafts,
    hours_minutes,
    minutes_seconds,
    percent,
    several,
)
from orroom.formats.page import Page, escaped, table
from orroom.summary.drying import DryingSummary
from orroom.summary.quality import Limited, QualitySummary

T = TypeVar("T")


def out_of_body(page: Page) -> Iterator[str]:
    """Times out of the body by lot, what lots that mix leave open, and drying times on the bench."""
    told = page.summary
    if not told.out_of_body and told.drying is None:
        return
    yield "## Time out of the body"
    if told.out_of_body:
        yield table(
            ("lot", "quarter by", "half by", "3 quarters by", "longest"),
            (
                (
                    escaped(each.label),
                    between(hours_minutes, each.lower_quartile_low_ms, each.lower_quartile_high_ms),
                    between(hours_minutes, each.median_low_ms, each.median_high_ms),
                    between(hours_minutes, each.upper_quartile_low_ms, each.upper_quartile_high_ms),
                    between(hours_minutes, each.longest_placed_low_ms, each.longest_placed_high_ms),
                )
                for each in told.out_of_body
            ),
        )
        yield (
            "Time out of the body by which so much is placed; grafts that wait are counted as\n"
            "placed later (Kaplan-Meier). A dash: not reached yet."
        )
        yield table(
            ("lot", "placed", "waiting", "graft-hours", "over 2 h", "4 h", "6 h"),
            (
                (
                    escaped(each.label),
                    between(grafts, each.placed_low, each.placed_high),
                    between(grafts, each.waiting_low, each.waiting_high),
                    between(_whole, each.graft_hours_low, each.graft_hours_high),
                    between(percent, each.over_2_h_low, each.over_2_h_high),
                    between(percent, each.over_4_h_low, each.over_4_h_high),
                    between(percent, each.over_6_h_low, each.over_6_h_high),
                )
                for each in told.out_of_body
            ),
        )
        if any(min(each.dish, each.bench) < 0 for each in told.accounts):
            yield (
                "Waiting: what was taken beyond the tally (see Mismatches) counts as none here, and as less\n"
                "than none under Lots."
            )
        if len(told.out_of_body) > 1:
            yield (
                "Which lot a graft was taken from is not recorded. A range: at least and at most, whichever\n"
                "lot each graft came from. One figure: the two agree."
            )
        yield escaped(told.out_of_body_reference[:1].upper() + told.out_of_body_reference[1:])
    if (bench := told.drying) is not None:
        over = between(grafts, bench.over_limit_low, bench.over_limit_high)
        share = between(_percent_1, bench.over_limit_share_low, bench.over_limit_share_high)
        yield (
            f"On the bench without wetting: longest {longest_on_bench(bench)}, {over} of "
            f"{grafts(bench.grafts)} grafts\n({share}) beyond the limit of "
            f"{minutes_seconds(bench.limit_ms or 0)} (minutes:seconds)."
        )
        if (bench.longest_low_ms, bench.over_limit_low) != (bench.longest_high_ms, bench.over_limit_high):
            yield (
                "Batches of one size lay on the bench together. Which one a graft was taken from is not\n"
                "recorded: at least and at most."
            )


def longest_on_bench(bench: DryingSummary) -> str:
    """The longest time without wetting, in minutes and seconds."""
    return between(lambda each: minutes_seconds(each or 0), bench.longest_low_ms, bench.longest_high_ms)


def _percent_1(share: float | None) -> str:
    return percent(share, 1)


def quality(page: Page) -> Iterator[str]:
    """Shares with their limits, in all and by person."""
    told = page.summary
    if not told.quality:
        return
    header = ("count", "share", "Wilson", "exact")
    yield "## Quality"
    yield table(("what", *header), ((each.measure, *_share(each)) for each in told.quality))
    if told.quality_by_person:
        yield table(
            ("what", "who", *header),
            ((each.measure, escaped(each.who), *_share(each)) for each in told.quality_by_person),
            texts=2,
        )
    yield (
        "95 % limits, in per cent. In cutting: of the grafts cut. Discarded, divided: of all there\n"
        "were, pieces of divided ones too. Reseated: of the placed. Spot checks: by who looked.\n"
        f"{fill(ALIKE, 90)}"
    )
    if len({each.hour for each in told.quality_by_hour}) > 1:
        yield table(
            ("what", "hour", *header),
            ((each.measure, _hour(each.hour), *_share(each)) for each in told.quality_by_hour),
            texts=2,
        )
        yield f"Hours since the first harvest, by when it was entered.\n{fill(ALIKE, 90)}"


def _hour(hour: int) -> str:
    return f"{hour}–{hour + 1} h".replace("-", "−")


def _share(each: QualitySummary) -> tuple[str, ...]:
    return (f"{grafts(each.count)} of {grafts(each.of)}", *_limited(each))


def _limited(each: Limited) -> tuple[str, ...]:
    return (
        percent(each.share, 1),
        _per_cent(each.wilson_low, each.wilson_high),
        _per_cent(each.exact_low, each.exact_high),
    )


def hairs_lost(page: Page) -> Iterator[str]:
    """Follicles transected in the grafts of spot checks, and hairs lost where grafts were divided."""
    seen, divided = page.summary.follicles, page.summary.division_losses
    if seen is None and not divided:
        return
    yield "## Follicles and hairs lost"
    if seen is not None:
        yield table(
            ("follicles transected", "in", "share", "Wilson", "exact"),
            [(f"{seen.transected} of {seen.follicles}", several(seen.looked_at, "graft"), *_limited(seen))],
        )
        yield (
            f"In spot checks: {decimal(seen.hairs_per_graft_intact, 2)} hairs per graft of "
            f"{decimal(seen.hairs_per_graft_possible, 2)} possible. 95 % limits, in per cent, as\n"
            "if follicles were independent; those of one graft are not, so the doubt is wider."
        )
    if divided:
        yield table(
            ("divided", "grafts", "hairs lost", "per graft"),
            (
                (
                    escaped(each.label),
                    grafts(each.divided),
                    decimal(each.hairs_lost),
                    decimal(each.hairs_lost_per_graft, 2),
                )
                for each in divided
            ),
        )


def _per_cent(low: float | None, high: float | None) -> str:
    return NO_DATA if low is None or high is None else f"{decimal(low * 100)}–{decimal(high * 100)}"


def projected(page: Page) -> Iterator[str]:
    """What the finished segments say of the whole, beside plan and count."""
    rows = page.summary.projected
    if not rows:
        return
    yield "## Yield: projected and usable so far"
    yield table(
        ("what", "plan", "usable", "projected", "80 %", "95 %"),
        (
            (
                escaped(each.what),
                grafts(each.planned),
                grafts(each.usable),
                _whole(each.projected),
                _limits(each.low_80, each.high_80),
                _limits(each.low_95, each.high_95),
            )
            for each in rows
        ),
    )
    yield (
        "From the segments finished and in hand, as if they were cut in random order: their mean times\n"
        "all segments, with t limits; where all were measured, their grafts per mm times the\n"
        "strip's length. If thin ends are cut last, less will come. Limits of each row alone: with\n"
        "several sizes, one or another is often outside its own. Once all is cut, it is the count."
    )


def _limits(low: float | None, high: float | None) -> str:
    return NO_DATA if low is None else between(_whole, low, high)


def _whole(value: float | None) -> str:
    return decimal(value, 0)


def between(said: Callable[[T | None], str], low: T | None, high: T | None) -> str:
    """Both ends, or one where they are said alike, or from which on."""
    if high is None:
        return NO_DATA if low is None else f"from {said(low)}"
    return said(low) if said(low) == said(high) else f"{said(low)}–{said(high)}"
