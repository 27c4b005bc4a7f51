"""What else was entered: revisions of the plan, cancelled and moved entries, notes."""

from collections.abc import Iterator

from orroom.figures.wording import several
from orroom.formats.blocks import Block, Heading, listed
from orroom.formats.sections.wording import clock
from orroom.summary.changes import Correction
from orroom.summary.summary import Summary
from orroom.words.entries import UNDONE


def revisions(summary: Summary) -> Iterator[Block]:
    """How the plan changed."""
    if summary.revisions:
        yield Heading("Plan revisions")
        yield listed(
            f"{clock(summary, each.at)} {each.who}: {each.reason} ({several(each.planned, 'graft')} planned)"
            for each in summary.revisions
        )


def corrections(summary: Summary) -> Iterator[Block]:
    """What was entered and cancelled, or placed and moved to another zone."""
    yield Heading("Cancelled and moved entries")
    yield listed(
        f"{clock(summary, each.at)} {each.who} {_corrected(summary, each)}" for each in summary.corrections
    )


def _corrected(summary: Summary, each: Correction) -> str:
    what = f"entry {each.entry} ({each.said}; {each.entered_by} {clock(summary, each.entered_at)})"
    if each.label is not None:
        return f"moved {what} to {each.label}"
    return f"undid {what}" if each.reason == UNDONE else f"cancelled {what}: {each.reason}"


def notes(summary: Summary) -> Iterator[Block]:
    """What else was written down."""
    yield Heading("Notes")
    yield listed(f"{clock(summary, each.at)} {each.who}: {each.text}" for each in summary.notes)
