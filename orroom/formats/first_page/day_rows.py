"""What the bar of the day shows, row by row: each work, breaks, care rounds."""

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from msgspec import Struct

from orroom.case.terms import PLACERS_CARE
from orroom.figures.wording import decimal, grafts, how_long, several
from orroom.formats.first_page.looks import capital
from orroom.formats.sections.wording import clock
from orroom.summary.care import CareSummary
from orroom.summary.summary import Summary

#: What a row is filled with: the grafts' way into the body is black.
Fill = Literal["harvest", "work", "placing"]


class Mark(NamedTuple):
    """A care round on the clock (UTC ms): given in time, late or out of its band, missed; and words to it."""

    at_ms: int
    how: Literal["given", "wrong", "missed"]
    words: str = ""


class Stretch(NamedTuple):
    """From when to when (UTC ms), and whose."""

    since_ms: int
    until_ms: int
    who: str = ""


class Row(Struct, frozen=True):
    """A row of the day: from when to when, or marks; what is said at its end, and what of it was wrong."""

    name: str
    stretches: Sequence[Stretch] = ()
    fill: Fill | None = None
    marks: Sequence[Mark] = ()
    times: str = ""
    count: str = ""
    wrong: str = ""

    @property
    def said(self) -> str:
        """The row in words."""
        return f"{self.name}: {', '.join(filter(None, (self.times, self.count, self.wrong)))}"


def rows(summary: Summary) -> tuple[Row, ...]:
    """The rows from top to bottom; what did not happen has none."""
    return (*_harvest(summary), *_works(summary), *_breaks(summary), *_care(summary))


def _from_to(summary: Summary, since_ms: int, until_ms: int) -> str:
    return f"{clock(summary, since_ms)} to {clock(summary, until_ms)}"


def _harvest(summary: Summary) -> Iterator[Row]:
    begun = [each for each in summary.harvests if each.harvest_started is not None]
    if not begun:
        return
    stretches = [
        Stretch(each.harvest_started or 0, each.harvest_ended or summary.end_of_work) for each in begun
    ]
    since, until = min(each.since_ms for each in stretches), max(each.until_ms for each in stretches)
    goes_on = any(each.harvest_ended is None for each in begun)
    times = f"from {clock(summary, since)}" if goes_on else _from_to(summary, since, until)
    yield Row("Harvest", stretches, "harvest", times=times, count=several(len(begun), "harvest"))


def _works(summary: Summary) -> Iterator[Row]:
    sites = sum(each.sites_made or 0 for each in summary.zones)
    whole = summary.in_all
    shown: tuple[tuple[str, str, Fill, str], ...] = (
        ("cutting", "Cutting", "work", f"{grafts(whole.cut_in_all)} cut in all"),
        ("making sites", "Sites", "work", several(sites, "site")),
        ("placing", "Placing", "placing", several(whole.placed, "graft")),
    )
    spans = {each.work: each for each in summary.times}
    for work, name, fill, count in shown:
        if work in spans:
            span = spans[work]
            yield Row(
                name,
                [Stretch(span.first, span.last)],
                fill,
                times=_from_to(summary, span.first, span.last),
                count=count,
            )


def _breaks(summary: Summary) -> Iterator[Row]:
    if summary.breaks:
        stretches = [
            Stretch(each.since, each.until or summary.end_of_work, each.who) for each in summary.breaks
        ]
        yield Row("Breaks", stretches, count=several(len(stretches), "break"))


def _care(summary: Summary) -> Iterator[Row]:
    for each in summary.care:
        if each.care == PLACERS_CARE or not (each.due or each.given):
            continue
        given = [one for one in summary.care_given if one.care == each.care]
        marks = [Mark(one.at, "missed") for one in summary.care_missed if one.care == each.care]
        for one in given:
            words = "" if one.on_time else f"{how_long(one.late_ms)} late"
            if one.band in {"below", "above"}:
                words = f"{decimal(one.temperature_c)} °C"
            marks.append(Mark(one.at, "wrong" if words else "given", words))
        paused = [
            Stretch(one.at, one.until, "paused") for one in summary.care_paused if one.care == each.care
        ]
        yield Row(
            capital(each.label),
            paused,
            marks=sorted(marks),
            times=f"{each.given} of {each.due} given",
            wrong=_wrong(each),
        )


def _wrong(care: CareSummary) -> str:
    delayed = care.given - care.on_time
    counts = ((care.missed, "missed"), (delayed, "late"), (care.out_of_band, "out of band"))
    return ", ".join(f"{count} {words}" for count, words in counts if count)
