"""The pace of the works and their finish, as Markdown."""

from __future__ import annotations

from collections.abc import Iterator

from orroom.figures.pace.rates import LEAST_MINUTES
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes
from orroom.formats.page import Page, escaped, listed, table
from orroom.summary.pace import PaceSummary


def pace(page: Page) -> Iterator[str]:
    """Pace over working time, and the finish foretold while anything is left."""
    told = page.summary
    if not told.pace:
        return
    yield "## Pace"
    yield table(
        ("work", "done", "left", "h at work", "an hour", "person-h", "each an hour"),
        (
            (
                each.work,
                grafts(each.done),
                grafts(each.left),
                decimal(each.working_hours),
                decimal(each.per_hour, 0),
                decimal(each.person_hours),
                decimal(each.per_person_hour, 0),
            )
            for each in told.pace
        ),
    )
    ends = [f"{each.work} done by {_limits(page, each)}" for each in told.pace if each.finish is not None]
    if ends:
        yield listed(ends)
    unknown = [each.work for each in told.pace if not each.as_it_went]
    if unknown:
        yield (
            f"No pace of {' and '.join(unknown)}: entered in one go, or less than {LEAST_MINUTES} minutes\n"
            "of work were seen."
        )
    yield (
        "Breaks and long silences left out; cutting: without spoilt grafts. Person-hours: of those who\n"
        "made the entries, or of the team that was told of or planned. A finish holds 8 times in 10, if\n"
        "nothing changes that is not known."
    )
    if len(told.pace_by_person) > 1:
        yield table(
            ("who", "work", "done", "h at work", "an hour"),
            (
                (
                    escaped(each.who),
                    each.work,
                    grafts(each.done),
                    NO_DATA if each.hours is None else hours_minutes(round(each.hours * 3_600_000)),
                    decimal(each.per_hour, 0),
                )
                for each in told.pace_by_person
            ),
            texts=2,
        )


def _limits(page: Page, each: PaceSummary) -> str:
    ends = (each.finish_low, each.finish, each.finish_high)
    low, middle, high = ("" if end is None else page.clock(end) for end in ends)
    return f"{middle} ({low}–{high})"
