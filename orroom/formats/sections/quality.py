"""How well it was done, as far as counts show: shares with their ranges, follicles, spot checks."""

from collections.abc import Iterator
from textwrap import wrap

from orroom.figures.quality import ALIKE
from orroom.figures.wording import NO_DATA, decimal, grafts, percent, several
from orroom.formats.blocks import Block, Heading, Paragraph, Table, lines, listed, table
from orroom.formats.sections.wording import clock
from orroom.summary.quality import QualitySummary, RangedShare
from orroom.summary.summary import Summary

_RANGES = ("share", "95 % range")
_ALIKE = wrap(ALIKE, 90)


def quality(summary: Summary) -> Iterator[Block]:
    """Shares with their ranges, in all, by person and by hour."""
    if not summary.quality and not summary.not_entered:
        return
    yield Heading("Quality")
    header = ("count", *_RANGES)
    if summary.quality:
        yield Table(["what", *header], [[each.measure, *_share(each)] for each in summary.quality])
    if summary.not_entered:
        yield Paragraph(f"Not entered, which does not mean none: {', '.join(summary.not_entered)}.")
    if summary.quality_by_person:
        rows = [[each.measure, each.who, *_share(each)] for each in summary.quality_by_person]
        yield Table(["what", "who", *header], rows, texts=2)
    yield lines(
        "95 % ranges, in per cent. In cutting: of the grafts cut. Discarded, divided: of all grafts,",
        "pieces included. Reseated: of those placed. Spot checks: of those looked at; by the person",
        "whose work it was, where that was entered.",
        *_ALIKE,
    )
    if len({each.hour for each in summary.quality_by_hour}) > 1:
        rows = [[each.measure, _hour(each.hour), *_share(each)] for each in summary.quality_by_hour]
        yield Table(["what", "hour", *header], rows, texts=2)
        yield lines("Hours since the first harvest, at the time of entry.", *_ALIKE)


def _looked_at(each: QualitySummary) -> str:
    """The work that was looked at; that it was in a spot check, the heading says."""
    return each.measure.removeprefix("spot check, ")


def _hour(hour: int) -> str:
    return f"{hour}–{hour + 1} h".replace("-", "−")


def _share(each: QualitySummary) -> list[str]:
    return [f"{grafts(each.count)} of {grafts(each.of)}", *_ranged(each)]


def _ranged(each: RangedShare) -> list[str]:
    return [percent(each.share, 1), _per_cent(each.wilson_low, each.wilson_high)]


def _per_cent(low: float | None, high: float | None) -> str:
    return NO_DATA if low is None or high is None else f"{decimal(low * 100)}–{decimal(high * 100)}"


def hairs_lost(summary: Summary) -> Iterator[Block]:
    """Follicles transected in the grafts of spot checks, and hairs lost where grafts were divided."""
    seen, divided = summary.follicles, summary.division_losses
    if seen is None and not divided:
        return
    yield Heading("Follicles and hairs lost")
    if seen is not None:
        of = [f"{seen.transected} of {seen.follicles}", several(seen.looked_at, "graft"), *_ranged(seen)]
        yield Table(["follicles transected", "in", *_RANGES], [of])
        yield lines(
            f"In spot checks: {decimal(seen.hairs_per_graft_intact, 2)} hairs per graft of "
            f"{decimal(seen.hairs_per_graft_possible, 2)} possible. 95 % ranges, in per cent.",
            *_ALIKE,
        )
    if divided:
        yield table(
            divided,
            ("divided", lambda each: each.label),
            ("grafts", lambda each: grafts(each.divided)),
            ("hairs lost", lambda each: decimal(each.hairs_lost)),
            ("per graft", lambda each: decimal(each.hairs_lost_per_graft, 2)),
        )


def divisions_asked(summary: Summary) -> Iterator[Block]:
    """What accepted re-plans asked to divide, against what was divided."""
    if summary.divisions_asked:
        yield Heading("Dividing asked for by a re-plan")
        yield table(
            summary.divisions_asked,
            ("accepted", lambda each: f"{clock(summary, each.at)} {each.who}"),
            ("size", lambda each: each.label),
            ("into", lambda each: each.into.replace("+", " + ")),
            ("asked", lambda each: grafts(each.asked)),
            ("divided", lambda each: grafts(each.divided)),
        )


def spot_checks(summary: Summary) -> Iterator[Block]:
    """What close looks found."""
    if not summary.spot_checks:
        return
    yield Heading("Spot checks")
    yield table(
        summary.spot_check_totals,
        ("subject", lambda each: each.subject),
        ("checks", lambda each: str(each.checks)),
        ("looked at", lambda each: grafts(each.looked_at)),
        ("faulty", lambda each: grafts(each.faulty)),
    )
    if summary.faults:
        header = ("count", *_RANGES)
        rows = [[_looked_at(each), each.fault, *_share(each)] for each in summary.faults]
        yield Table(["what", "fault", *header], rows, texts=2)
        if summary.faults_by_person:
            rows = [
                [_looked_at(each), each.who, each.fault, *_share(each)] for each in summary.faults_by_person
            ]
            yield Table(["what", "whose", "fault", *header], rows, texts=3)
        if len({each.hour for each in summary.faults_by_hour}) > 1:
            rows = [
                [_looked_at(each), _hour(each.hour), each.fault, *_share(each)]
                for each in summary.faults_by_hour
            ]
            yield Table(["what", "hour", "fault", *header], rows, texts=3)
        yield lines(
            "Of the grafts looked at, of the person's work or in the hour since the first harvest. 95 %",
            "ranges, in per cent.",
            *_ALIKE,
        )
    yield listed(
        f"{clock(summary, each.at)} {each.who}: {each.subject}"
        f"{'' if each.whose is None else f' by {each.whose}'}"
        f"{'' if each.label is None else f', {each.label}'}"
        f", {each.faulty} of {each.looked_at} faulty"
        f"{'' if each.fault is None else f', {each.fault}'}"
        f"{'' if each.follicles is None else f', {each.transected} of {each.follicles} follicles transected'}"
        for each in summary.spot_checks
    )
