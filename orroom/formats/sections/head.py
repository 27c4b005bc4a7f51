"""The head of a summary: which case, what everybody must read first, who signed it off."""

from __future__ import annotations

from collections.abc import Iterator

from orroom.figures.wording import several
from orroom.formats.blocks import Block, Caution, Heading, Strong, Words, listed
from orroom.formats.sections.wording import date
from orroom.summary.sign_off import SignOff
from orroom.summary.summary import Summary


def head(told: Summary) -> Iterator[Block]:
    """Title, cautions, and how the record ends."""
    yield Heading(f"Case {told.case}" + ("" if told.title is None else f": {told.title}"), level=1)
    first, *others = told.cautions
    yield Caution([first if told.not_sound is None else Strong(first), *others])
    status: Words = (Strong("Open"), ", not signed off.")
    if told.signed_off is not None:
        status = (Strong("Signed off"), " by ", *_signed(told, told.signed_off))
    items: list[Words] = [
        status,
        f"Opened {date(told, told.opened)} by {told.opened_by}.",
        f"Last entry {date(told, told.last_entry)}; {several(told.entries, 'entry', 'entries')}.",
    ]
    if told.head:
        items.append(f"Head of the record {told.entries}:{told.head}.")
    items.append(f"Times are at {_offset(told)}, durations in hours:minutes.")
    items += [("Signed off before by ", *_signed(told, each)) for each in told.earlier_sign_offs]
    items += [f"Reopened {date(told, each.at)} by {each.who}: {each.text}" for each in told.reopened]
    yield listed(items)


def _signed(told: Summary, signed: SignOff) -> tuple[str | Strong, ...]:
    """By whom and when, and how much was left open; what it was is said below."""
    by = f"{signed.who} and {signed.second}, {date(told, signed.at)}."
    left = sum(each.at == signed.at for each in told.left_open)
    return (by, " ", Strong(f"{several(left, 'thing')} left open"), ".") if left else (by,)


def _offset(told: Summary) -> str:
    """The case's offset: ``UTC+01:00``."""
    hours, minutes = divmod(abs(told.utc_offset_minutes), 60)
    return f"UTC{'-' if told.utc_offset_minutes < 0 else '+'}{hours:02d}:{minutes:02d}"
