"""The work: from when to when, how far it had come over the day, how fast it went, when it will be done."""

from typing import Final, Literal

from pydantic import Field

from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES, WORKS
from orroom.figures import curves
from orroom.figures.pace import rates
from orroom.figures.pace.finish import outlook
from orroom.figures.pace.work import end_of_work_ms, start_of_work_ms, work_done, work_goes_on
from orroom.figures.yields import yields
from orroom.summary.fields import Duration, EnteredAt, Grafts, Hours, Moment, Ours, Part, Person, Rate

Work = Literal["cutting", "making sites", "placing", "whole record"]
#: Steps of the day that are shown.
PROGRESS_STEPS: Final = 48


class Span(Part):
    """From the first to the last entry of one kind of work, by number."""

    work: Work = Field(description="which work")
    first: Moment = Field(description="its first entry")
    last: Moment = Field(description="its last entry")
    duration_ms: Duration = Field(description="from the first to the last")


class Progress(Part):
    """Grafts cut, without those spoilt in cutting, and placed by a moment of the day."""

    at: EnteredAt
    cut_spoilt_left_out: Grafts = Field(description="grafts cut by then, spoilt ones left out")
    placed: Grafts = Field(description="grafts placed by then")


class PaceSummary(Part):
    """A work's pace over working time; its finish with its ranges while it goes on.

    ``as_it_went``: entries were made as the work went. Otherwise there are no hours and no pace.
    """

    work: Ours = Field(description="which work")
    done: Grafts = Field(description="grafts (cut: spoilt ones left out) or sites done")
    left: Grafts = Field(description="grafts or sites left")
    as_it_went: bool = Field(
        description="whether entries were made during the work; if not, there is no pace"
    )
    working_hours: Hours = Field(description="hours in which somebody worked on it")
    person_hours: Hours = Field(description="hours of all people together")
    per_hour: Rate = Field(description="grafts or sites an hour at work")
    per_person_hour: Rate = Field(description="grafts or sites an hour of one person")
    finish_low: Moment | None = Field(description="forecast finish, 10th percentile at this pace")
    finish: Moment | None = Field(description="forecast finish, median")
    finish_high: Moment | None = Field(description="forecast finish, 90th percentile at this pace")
    finish_later: Moment | None = Field(
        description="forecast finish, 90th percentile if somebody may leave or the end slow down"
    )


class PersonPace(Part):
    """One person's pace at a work, ``None`` if their entries were not made as it went."""

    who: Person = Field(description="whose pace")
    work: Ours = Field(description="which work")
    done: Grafts = Field(description="grafts (cut: spoilt ones left out) or sites done")
    hours: Hours = Field(description="hours at work")
    per_hour: Rate = Field(description="grafts or sites an hour at work")


def spans(state: CaseState) -> tuple[Span, ...]:
    """First and last time of each work and of the whole record; a rescued tap, taken late, keeps its time."""
    outputs: tuple[tuple[Work, str | None], ...] = (
        ("cutting", "cutting"),
        ("making sites", "sites"),
        ("placing", "placing"),
        ("whole record", None),
    )
    found = []
    for work, output in outputs:
        times = [
            entry.stamp.at_ms
            for entry in state.standing()
            if output is None or entry.event.does.output_of == output
        ]
        if times:
            first, last = min(times), max(times)
            found.append(Span(work=work, first=first, last=last, duration_ms=last - first))
    return tuple(found)


def progress(state: CaseState) -> tuple[Progress, ...]:
    """Grafts cut and placed over the day, in even steps from the first work on."""
    return tuple(
        Progress(at=each.at_ms, cut_spoilt_left_out=each.cut, placed=each.placed)
        for each in curves.progress(state, PROGRESS_STEPS, start_ms=start_of_work_ms(state))
    )


def pace(state: CaseState) -> tuple[PaceSummary, ...]:
    """Each work of which anything was done, at the end of the work."""
    goes_on = work_goes_on(state)
    found = []
    for each in outlook(state, yields(state, 80), end_of_work_ms(state)).works:
        done = each.pace
        if not done.done:
            continue
        finish = each.finish if goes_on else None
        found.append(
            PaceSummary.read_off(
                done,
                each,
                work=WORK_NAMES[each.work],
                as_it_went=done.over_case is not None,
                person_hours=done.hand_hours,
                per_hour=done.over_case,
                per_person_hour=done.per_hand,
                finish_low=finish and finish.low_ms,
                finish=finish and finish.middle_ms,
                finish_high=finish and finish.high_ms,
                finish_later=finish and finish.later_ms,
            )
        )
    return tuple(found)


def pace_by_person(state: CaseState) -> tuple[PersonPace, ...]:
    """Everybody's own pace at each work whose entries are their own."""
    return tuple(
        PersonPace.read_off(person, work=WORK_NAMES[work])
        for work in WORKS
        for person in rates.pace(work_done(state, work, end_of_work_ms(state))).people
    )
