"""Verbs that tell what is in a case: its summary, its entries, whether it is sound."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orroom.case.terms import visible
from orroom.cli.common import PATH, write
from orroom.errors import RecordUnsoundError

if TYPE_CHECKING:
    from orroom.record.chain import Head
    from orroom.reports.summary import Summary

FORMATS = ("md", "html", "json", "csv")


@click.command()
@click.argument("case", type=PATH)
@click.option("--format", "form", type=click.Choice(FORMATS), help="Plain text in this format.")
@click.option("--output", type=PATH, help="Write it to this file instead of the screen.")
def summary(case: Path, form: str | None, output: Path | None) -> None:
    """Tell what a CASE comes to so far: totals, zones, times, care, people, mismatches, corrections."""
    told, unsound = summed_up(case)
    if unsound:
        click.echo(f"orroom: {unsound}", err=True)
    if form is None and output is None:
        from rich.console import Console
        from rich.markdown import Markdown

        from orroom.reports.markdown import to_markdown

        Console().print(Markdown(visible(to_markdown(told))))
        return
    from orroom.reports.formats import FORMATTERS

    write(visible(FORMATTERS[form or "md"](told)), output)


def summed_up(case: Path) -> tuple[Summary, str]:
    """The summary of a case, and a warning if its record is not sound, else nothing."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.record.verify import verify as verdict_on
    from orroom.reports.summary import summarise

    verdict = verdict_on(case)
    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
        told = summarise(state, case_file.head_at(state.seq))
    unsound = f"{case} is NOT SOUND: {verdict.sentence} What follows is what it says now."
    return told, "" if verdict.sound else unsound


@click.command()
@click.argument("case", type=PATH)
@click.argument("events", type=PATH)
def export(case: Path, events: Path) -> None:
    """Write all entries of a CASE to an EVENTS file, one JSON object a line; - writes to the screen."""
    from orroom.record.case_file import CaseFile
    from orroom.record.encoding import lines_of

    with CaseFile.open(case, read_only=True) as case_file:
        entries = case_file.entries_after(0)
    write(lines_of(entries), None if str(events) == "-" else events)
    click.echo(f"{len(entries):,} entries exported.", err=True)


@click.command()
@click.argument("case", type=PATH)
@click.option(
    "--head", "printed", help="A head printed on a summary, as NUMBER:HASH; the hash may be cut short."
)
def verify(case: Path, printed: str | None) -> None:
    """Say in one sentence whether the record in a CASE is what was recorded."""
    from orroom.record.chain import Head

    head = None
    if printed is not None:
        number, _, start = printed.partition(":")
        if not re.fullmatch("[1-9][0-9]{0,8}", number) or not re.fullmatch("[0-9a-fA-F]{8,64}", start):
            raise click.UsageError("--head takes NUMBER:HASH with at least 8 digits of the hash")
        head = Head(int(number), start.lower())
    click.echo(verified(case, head))


def verified(case: Path, head: Head | None = None) -> str:
    """That a record is what was recorded, and its head. Raises ``RecordUnsoundError`` if it is not."""
    from orroom.record.verify import verify as verdict_on

    verdict = verdict_on(case, head)
    if not verdict.sound:
        raise RecordUnsoundError(
            f"{case}: {verdict.sentence}", f"Do not trust it from entry {verdict.from_entry} on."
        )
    return f"{case}: {verdict.sentence}\nHead {verdict.head.seq}:{verdict.head.hash}"
