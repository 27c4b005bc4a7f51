"""How the care rounds went, and each one given."""

from collections import defaultdict
from collections.abc import Iterator

from orroom.case.terms import PLACERS_CARE
from orroom.figures.wording import decimal, hours_minutes, late, several
from orroom.formats.blocks import Block, Heading, Paragraph, Strong, Words, joined, lines, listed, table
from orroom.formats.sections import charts
from orroom.formats.sections.wording import clock, graft_minutes
from orroom.summary.care import CareTime
from orroom.summary.summary import Summary


def care(summary: Summary) -> Iterator[Block]:
    """Totals of each round, then each one given; of grafts with the placers only totals."""
    if not summary.care and not summary.care_given:
        return
    yield Heading("Care rounds")
    if summary.care:
        yield table(
            summary.care,
            ("round", lambda each: each.label),
            ("due", lambda each: str(each.due)),
            ("given", lambda each: str(each.given)),
            ("on time", lambda each: str(each.on_time)),
            ("missed", lambda each: str(each.missed)),
            ("latest by", lambda each: late(each.latest_ms)),
            ("longest gap", lambda each: hours_minutes(each.longest_gap_ms)),
        )
        yield from _until(summary)
    for each in summary.care:
        if each.readings:
            span = f"{decimal(each.lowest_c)} to {decimal(each.highest_c)} °C"
            of = f"{several(each.readings, 'reading')}, {span}, {each.out_of_band} out of band"
            yield Paragraph(f"{each.label}: {of}.")
    for each in summary.care:
        if each.beyond_interval_high:
            longer = graft_minutes(each.beyond_interval_low, each.beyond_interval_high)
            yield lines(
                f"{each.label}: grafts lay in the dishes {longer} beyond its interval,",
                "counted from when each came into its dish or from the last round.",
            )
    yield from _given(summary)
    missed: defaultdict[str, list[str]] = defaultdict(list)
    for one in summary.care_missed:
        missed[one.label].append(clock(summary, one.at))
    items: list[Words] = [
        (Strong(f"{label}, missed"), f": due {', '.join(due)}.") for label, due in missed.items()
    ]
    items += [
        f"{clock(summary, pause.at)} {pause.who} paused until {clock(summary, pause.until)}: {pause.label}"
        for pause in summary.care_paused
    ]
    if items:
        yield listed(items)
    yield from charts.punctuality(summary)
    yield from charts.temperature(summary)


def broken_limits(summary: Summary) -> Iterator[Block]:
    """Each limit that was broken, what was done about it, who said so and when."""
    if not summary.broken_limits:
        return
    yield Heading("Broken limits")
    yield listed(
        (f"{clock(summary, each.at)} {each.sentence} — ", Strong("nobody said what was done"))
        if each.done is None
        else f"{clock(summary, each.at)} {each.sentence} — {each.done}, {each.who} "
        f"{clock(summary, each.done_at)}"
        for each in summary.broken_limits
    )


def _until(summary: Summary) -> Iterator[Block]:
    """What the table of rounds counts, until when, and how long each had not been given then."""
    why = (
        "the end of the work"
        if summary.care_until == summary.end_of_work
        else "when the last graft was placed"
    )
    yield Paragraph(
        "On time: before it was due or within its grace time. Missed: not given by the end of that time. "
        f"Due: given or missed, until {clock(summary, summary.care_until)}, {why}."
    )
    since: list[Words] = []
    for each in summary.care:
        if each.since_last_ms is not None:
            words = f"{each.label} {hours_minutes(each.since_last_ms)}"
            missed = Strong(f"{each.missed_at_end} missed")
            since.append((words, " (", missed, ")") if each.missed_at_end else words)
    if since:
        begins = f"Time since the last, at {clock(summary, summary.care_until)}: "
        yield Paragraph((begins, *joined(since, ", "), "."))


def _given(summary: Summary) -> Iterator[Block]:
    with_placers = [each for each in summary.care_given if each.care == PLACERS_CARE]
    if with_placers:
        delayed = [each.late_ms or 0 for each in with_placers if not each.on_time]
        most = f", the latest by {late(max(delayed))}" if delayed else ""
        times = f"{with_placers[0].label}: {several(len(with_placers), 'time')}, "
        yield Paragraph((times, Strong(f"{len(delayed)} late"), f"{most}."))
    rounds = [each for each in summary.care_given if each.care != PLACERS_CARE]
    if rounds:
        yield table(
            rounds,
            ("due", lambda each: clock(summary, each.due_at)),
            ("given", lambda each: clock(summary, each.at)),
            ("round", lambda each: each.label),
            ("who", lambda each: each.who),
            ("how", _how),
            texts=5,
        )


def _how(each: CareTime) -> Words:
    """In time or how late, and what was read."""
    read = "" if each.temperature_c is None else f", {decimal(each.temperature_c)} °C"
    read += f", {each.band}" if each.band not in {None, "in"} else ""
    return f"on time{read}" if each.on_time else (Strong("late"), f" {late(each.late_ms)}{read}")
