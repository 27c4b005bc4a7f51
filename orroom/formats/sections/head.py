"""The head of a summary: which case, what everybody must read first, who signed it off."""

from collections.abc import Iterator

from orroom.figures.wording import day, moment, several, which_day
from orroom.formats.blocks import Block, Caution, Heading, Paragraph, Strong, Words, listed
from orroom.formats.sections.wording import clock, date, summary_times
from orroom.summary.sign_off import SignOff
from orroom.summary.summary import Summary
from orroom.words.versions import opened_with_words


def head(summary: Summary) -> Iterator[Block]:
    """Title, cautions, and how the record ends."""
    yield Heading(f"Case {summary.case}" + ("" if summary.title is None else f": {summary.title}"), level=1)
    first, *others = summary.cautions
    yield Caution([first if summary.not_intact is None else Strong(first), *others])
    yield listed(_items(summary))


def title(summary: Summary) -> Iterator[Block]:
    """The title of a page of chosen sections, of which day it is, and the cautions."""
    yield Heading(f"Case {summary.case}" + ("" if summary.title is None else f": {summary.title}"), level=1)
    signed = summary.signed_off
    status = Strong("Open, not signed off.") if signed is None else f"Signed off {clock(summary, signed.at)}."
    times = f" Clock times {offset(summary)}, durations in hours:minutes."
    if summary.share_level == "anonymous":
        times = " Times from the opening of the case, durations in hours:minutes."
    yield Paragraph((f"{days(summary)}. " if days(summary) else "", status, times))
    first, *others = summary.cautions
    yield Caution([first if summary.not_intact is None else Strong(first), *others])


def days(summary: Summary) -> str:
    """The day of the work, or from when to when; nothing where dates are left out."""
    if summary.share_level == "anonymous":
        return ""
    start = summary.opened if summary.start_of_work is None else summary.start_of_work
    first, last = (moment(at_ms, summary.utc_offset_minutes) for at_ms in (start, summary.end_of_work))
    if last.date() <= first.date():
        return f"{first:%A} {first.day} {first:%B %Y}"
    month = "" if (first.month, first.year) == (last.month, last.year) else f" {first:%B}"
    return f"{first:%a} {first.day}{month} to {last:%a} {last.day} {last:%B %Y}"


def record(summary: Summary) -> Iterator[Block]:
    """How the record ends, for a page whose head says less of it."""
    yield Heading("The record")
    still = ((Strong("Still open"), f": {each.sentence}.") for each in summary.still_open)
    yield listed((*_items(summary), *left_open(summary), *still))


def _items(summary: Summary) -> Iterator[Words]:
    if summary.signed_off is None:
        yield (Strong("Open"), ", not signed off.")
    else:
        yield (Strong("Signed off"), " by ", *_signed(summary, summary.signed_off))
    yield f"Opened {date(summary, summary.opened)} by {summary.opened_by}."
    entries = several(summary.entries, "entry", "entries")
    yield f"Last entry {date(summary, summary.last_entry)}; {entries}."
    if summary.seal:
        yield f"Seal of the record {summary.entries}:{summary.seal}."
    opened = opened_with_words((each.version, each.who, each.stations) for each in summary.opened_with)
    if opened:
        yield opened
    times = summary_times(summary)
    more_days = which_day(summary.last_entry, times)
    day_1 = f", day 1 is {day(times.work_began_ms, times.offset_minutes)}" if more_days else ""
    yield f"Times are at {offset(summary)}{day_1}, durations in hours:minutes."
    for each in summary.earlier_sign_offs:
        yield ("Signed off before by ", *_signed(summary, each))
    for reopening in summary.reopened:
        yield f"Reopened {date(summary, reopening.at)} by {reopening.who}: {reopening.text}"


def left_open(summary: Summary) -> Iterator[Words]:
    """What each sign-off left open, why, and who was informed."""
    for each in summary.left_open:
        signed = summary.signed_off
        when = "" if signed is not None and each.at == signed.at else f" before, {date(summary, each.at)}"
        yield (
            Strong(f"Left open at sign-off{when}: {each.sentence}"),
            f": {each.open_because} (informed: {each.informed}).",
        )


def _signed(summary: Summary, signed: SignOff) -> tuple[str | Strong, ...]:
    """By whom and when, and how much was left open; what it was is said below."""
    by = f"{signed.who} and {signed.second}, {date(summary, signed.at)}."
    left = sum(each.at == signed.at for each in summary.left_open)
    return (by, " ", Strong(f"{several(left, 'thing')} left open"), ".") if left else (by,)


def offset(summary: Summary) -> str:
    """The case's offset: ``UTC+01:00``."""
    hours, minutes = divmod(abs(summary.utc_offset_minutes), 60)
    return f"UTC{'-' if summary.utc_offset_minutes < 0 else '+'}{hours:02d}:{minutes:02d}"
