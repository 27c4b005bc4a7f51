"""When each task was done, at what pace, and when the rest will be finished."""

from collections.abc import Iterator

from orroom.figures.pace.rates import LEAST_MINUTES
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes
from orroom.formats.blocks import Block, Heading, List, lines, listed, table
from orroom.formats.sections import charts
from orroom.formats.sections.wording import clock, date, whole
from orroom.summary.summary import Summary


def times(summary: Summary) -> Iterator[Block]:
    """First and last entry of each kind of work, and the breaks."""

    def moment(work: str, at_ms: int) -> str:
        """With its day for the whole record, which may begin the day before."""
        return date(summary, at_ms) if work == "whole record" else clock(summary, at_ms)

    yield Heading("Times")
    yield table(
        summary.times,
        ("work", lambda each: each.work),
        ("first", lambda each: moment(each.work, each.first)),
        ("last", lambda each: moment(each.work, each.last)),
        ("duration", lambda each: hours_minutes(each.duration_ms)),
    )
    if summary.breaks:
        yield listed(
            f"break {each.who} {clock(summary, each.since)}–{clock(summary, each.until)}"
            for each in summary.breaks
        )


def pace(summary: Summary) -> Iterator[Block]:
    """Pace over working time, and when each work will be done while anything is left."""
    if not summary.pace:
        return
    yield Heading("Pace")
    yield table(
        summary.pace,
        ("work", lambda each: each.work),
        ("done", lambda each: grafts(each.done)),
        ("left", lambda each: grafts(each.left)),
        ("h at work", lambda each: decimal(each.working_hours)),
        ("an hour", lambda each: whole(each.per_hour)),
        ("person-h", lambda each: decimal(each.person_hours)),
        ("each an hour", lambda each: whole(each.per_person_hour)),
    )
    ends = []
    for each in summary.pace:
        if each.finish is not None:
            moments = (each.finish_low, each.finish, each.finish_high, each.finish_later)
            low, middle, high, later = ("" if at is None else clock(summary, at) for at in moments)
            ends.append(f"{each.work} done by {middle} ({low}–{high} at this pace; to {later} if it slows)")
    if ends:
        yield List(ends)
    if unknown := [each.work for each in summary.pace if not each.as_it_went]:
        yield lines(
            f"No pace of {' and '.join(unknown)}: entered in one go, or less than {LEAST_MINUTES} minutes",
            "of work.",
        )
    yield lines(
        "Without breaks and long gaps; cutting: spoilt grafts left out. Person-hours: of those who made",
        "the entries, or of the reported or planned team. Forecasts are right 8 times in 10; no break to",
        "come that nobody entered is in them.",
    )
    if len(summary.pace_by_person) > 1:
        yield table(
            summary.pace_by_person,
            ("who", lambda each: each.who),
            ("work", lambda each: each.work),
            ("done", lambda each: grafts(each.done)),
            ("h at work", lambda each: _hours(each.hours)),
            ("an hour", lambda each: whole(each.per_hour)),
            texts=2,
        )
    yield from charts.pace(summary)


def _hours(hours: float | None) -> str:
    return NO_DATA if hours is None else hours_minutes(round(hours * 3_600_000))
