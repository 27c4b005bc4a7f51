"""Verbs that report what is in a case: its summary, its entries, whether it is intact."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from orroom.case.terms import Account, visible
from orroom.cli.common import PATH, REPLACE, Renamed, write, write_folder
from orroom.errors import CaseFileError, OrroomError, RecordNotIntactError
from orroom.formats.chosen import BRIEF, FOR, NAMES, WHOLE, Choice, named

if TYPE_CHECKING:
    from orroom.formats.chosen import Whom
    from orroom.formats.summary_formats import FhirVersion, Format
    from orroom.record.chain import Seal
    from orroom.summary.summary import ShareLevel, Summary

FORMATS = ("md", "html", "json", "csv", "pdf", "fhir")
LEVELS = ("full", "roles", "anonymous")
#: The accounts of a tally, in words, but for what is missing or was more than tallied.
_ACCOUNTS: Mapping[Account, str] = {
    "cut": "cut",
    "divided_in": "pieces from dividing",
    "divided_out": "divided",
    "placed": "placed",
    "dish": "in dishes",
    "bench": "with the placers",
    "discarded": "discarded",
}


def _sections(_: click.Context, __: click.Parameter, words: str | None) -> tuple[str, ...] | None:
    try:
        return None if words is None else named(words)
    except OrroomError as unknown:
        raise click.BadParameter(str(unknown)) from unknown


@click.command()
@click.argument("case", type=PATH)
@click.option("--format", "form", type=click.Choice(FORMATS), help="Format.  [as --output ends, or md]")
@click.option("--fhir", type=click.Choice(("r4b", "r5")), default="r4b", help="Version of FHIR.  [r4b]")
@click.option(
    "--for",
    "whom",
    type=click.Choice(tuple(FOR)),
    help="What one reader needs and may see. file: grafts, hairs, density by area; nothing of the team.",
)
@click.option(
    "--share",
    type=click.Choice(LEVELS),
    help="roles: no initials. anonymous: also no dates or notes.  [full]",
)
@click.option("--brief", is_flag=True, help="The first page alone.")
@click.option("--sections", callback=_sections, help=f"Only these, with commas: {', '.join(NAMES)}.")
@click.option("--paper", type=PATH, help="Paper count to compare: size,grafts,hairs.")
@click.option(
    "--output",
    type=PATH,
    help="Write to this file instead of the screen; csv: to a folder of tables.",
)
@click.option("--decimal", type=click.Choice(("point", "comma")), help="csv: for spreadsheets.  [point]")
@click.option("--bom", is_flag=True, help="csv: mark files as UTF-8, as some spreadsheets need.")
@REPLACE
def summary(  # noqa: PLR0913 - an option each
    *,
    case: Path,
    form: Format | None,
    fhir: FhirVersion,
    whom: Whom | None,
    share: ShareLevel | None,
    brief: bool,
    sections: Sequence[str] | None,
    paper: Path | None,
    output: Path | None,
    decimal: str | None,
    bom: bool,
    replace: bool,
) -> None:
    """Summarise a CASE so far.

    Totals, zones, times, care, people, mismatches and cancelled entries.
    """
    from orroom.formats.summary_formats import written
    from orroom.summary.sharing import shared

    form = form or _format_by(output)
    share, chosen = _choice(whom, share, sections, brief=brief)
    if chosen is not WHOLE and form in {"json", "csv", "fhir"}:
        raise click.UsageError(
            f"{form} has all figures, no sections: leave out --brief, --sections or --for, "
            "or choose md, html or pdf"
        )
    if form != "csv" and (decimal or bom):
        raise click.UsageError("--decimal and --bom are for csv alone: add --format csv, or leave them out")
    found, not_intact = summed_up(case)
    if not_intact:
        click.echo(f"orroom: {not_intact}", err=True)
    if form == "fhir":
        from orroom.formats.fhir.bundle import published_model

        if published_model(fhir) is None:
            unchecked = "Not checked against the published models; to get them: pip install 'orroom[fhir]'"
            click.echo(f"orroom: {unchecked}", err=True)
    found = shared(found if paper is None else beside_paper(found, paper), share)
    if form is None and output is None:
        from rich.console import Console

        from orroom.formats.narrow import narrowed
        from orroom.formats.summary_blocks import blocks_of
        from orroom.formats.terminal import OnTerminal

        console = Console()
        console.print(OnTerminal(narrowed(blocks_of(found, chosen), console.width)))
    elif form == "csv":
        if output is None or output.suffix.lower() == ".csv":
            raise click.UsageError("csv needs a folder for its tables, for example --output tables/")
        _write_tables(found, output, "," if decimal == "comma" else ".", bom=bom, replace=replace)
    elif form == "pdf" and output is None:
        raise click.UsageError("a PDF needs --output, for example --output summary.pdf")
    else:
        text = written(found, form or "md", fhir, chosen=chosen)
        if isinstance(text, str) and form not in {None, "md"}:
            text = text.encode()  # for programs: UTF-8 wherever it goes
        write(text, output, replace=replace)


def _write_tables(found: Summary, output: Path, decimal: str, *, bom: bool, replace: bool) -> None:
    """Write the tables, and say where an apostrophe was put before a text."""
    from orroom.formats.csv_tables import to_csv_tables
    from orroom.formats.csv_text import is_guarded

    tables = {name: visible(text) for name, text in to_csv_tables(found, decimal=decimal).items()}
    marked = {name: "\ufeff" + text for name, text in tables.items()} if bom else tables
    write_folder(marked, output, replace=replace)
    if guarded := [name for name, text in tables.items() if is_guarded(text)]:
        click.echo(
            f"orroom: In {', '.join(guarded)} an apostrophe is before texts that begin like a formula, so "
            "that no spreadsheet runs them: it is not part of the text.",
            err=True,
        )


def _choice(
    whom: Whom | None, share: ShareLevel | None, sections: Sequence[str] | None, *, brief: bool
) -> Choice:
    """How much is shared, and which sections: said one way only."""
    said = [name for name, given in (("--for", whom), ("--brief", brief), ("--sections", sections)) if given]
    if len(said) > 1:
        raise click.UsageError(f"{' and '.join(said)} choose the sections in two ways: leave one out")
    if whom is None:
        return Choice(share or "full", BRIEF if brief else sections or WHOLE)
    if share is not None:
        raise click.UsageError(f"--for {whom} chooses how much is shared: leave out --share")
    return FOR[whom]


def _format_by(output: Path | None) -> Format | None:
    """The format that a file name ends in; Markdown for a name that ends in nothing known."""
    ending = "" if output is None else output.suffix.lower().removeprefix(".")
    return cast("Format", ending) if ending in FORMATS else None


def beside_paper(found: Summary, paper: Path) -> Summary:
    """The summary of a case with a paper count to compare."""
    from orroom.record.events_file import ordinary_text
    from orroom.summary.paper_count import read_paper
    from orroom.summary.summary import with_paper

    return with_paper(found, read_paper(ordinary_text(paper, "a paper count"), str(paper)))


def summed_up(case: Path) -> tuple[Summary, str]:
    """The summary of a case, and a warning if its record is not intact, else nothing."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.record.verify import verify as verdict_on
    from orroom.summary.summary import summarise

    verdict = verdict_on(case)
    not_intact = None if verdict.intact else f"{verdict.sentence} What follows is what it says now."
    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
        found = summarise(state, case_file.hash_at(state.seq), not_intact)
    return found, f"{case} is NOT INTACT: {not_intact}" if not_intact else ""


@click.command()
@click.argument("case", type=PATH)
@click.argument("events", type=PATH)
@REPLACE
def export(case: Path, events: Path, *, replace: bool) -> None:
    """Write all entries of a CASE to an EVENTS file.

    One JSON object a line; - prints them. A name that ends in .parquet gets a Parquet table instead.
    """
    number, warning = exported(case, events, replace=replace)
    click.echo(f"{number:,} entries exported.", err=True)
    if warning:
        click.echo(f"orroom: {warning}", err=True)


def exported(case: Path, events: Path, *, replace: bool = False) -> tuple[int, str]:
    """Write all entries of a case; answers how many, and a warning if the record is not intact."""
    from orroom.record.case_file import CaseFile
    from orroom.record.encoding import lines_of
    from orroom.record.verify import verify as verdict_on

    verdict = verdict_on(case)
    if events.suffix.lower() == ".parquet":
        from orroom.archive.events_table import write_events

        number = write_events(case, events, replace=replace)
    else:
        with CaseFile.open(case, read_only=True) as case_file:
            entries = case_file.entries_after(0)
        write(lines_of(entries).encode(), None if str(events) == "-" else events, replace=replace)
        number = len(entries)
    if verdict.intact:
        return number, ""
    return number, f"{case} is NOT INTACT: {verdict.sentence} It was exported as it is."


@click.command()
@click.argument("case", type=PATH)
@click.option(
    "--seal",
    "--head",
    "printed",
    cls=Renamed,
    help="The seal printed on a summary, as NUMBER:HASH; 8 digits of the hash are enough.",
)
def verify(case: Path, printed: str | None) -> None:
    """Check that the record in a CASE is unchanged; show its totals."""
    click.echo(verified(case, None if printed is None else seal_of(printed)))


def seal_of(printed: str) -> Seal:
    """A seal as a summary prints it. Raises a usage error if it is none."""
    from orroom.record.chain import Seal

    number, _, start = printed.partition(":")
    if not re.fullmatch("[1-9][0-9]{0,8}", number) or not re.fullmatch("[0-9a-fA-F]{8,64}", start):
        raise click.UsageError("--seal takes NUMBER:HASH with at least 8 digits of the hash")
    return Seal(int(number), start.lower())


def verified(case: Path, printed: Seal | None = None) -> str:
    """That a record is intact, its seal, its totals. Raises ``RecordNotIntactError`` if it is not."""
    from orroom.record.verify import verify as verdict_on
    from orroom.words.versions import opened_with_words

    verdict = verdict_on(case, printed)
    if not verdict.intact:
        raise RecordNotIntactError(f"{case}: {verdict.sentence}", verdict.advice)
    seal = verdict.seal
    said = (
        f"{case}: {verdict.sentence}",
        f"Seal {seal.seq}:{seal.hash}",
        opened_with_words((*each, number) for each, number in verdict.opened_with.items()),
        _adds_up(case, seal.seq),
    )
    return "\n".join(filter(None, said))


def _adds_up(case: Path, seq: int) -> str:
    """The totals, to compare with a summary; or which entries this version cannot read."""
    from orroom.figures.wording import grafts
    from orroom.record.case_file import CaseFile

    try:
        with CaseFile.open(case, read_only=True) as case_file:
            tally = case_file.tally(seq)
    except CaseFileError as problem:
        return f"The totals cannot be read: {problem}"
    missing = tally.held("missing")
    found = [f"{grafts(tally.held(account))} {words}" for account, words in _ACCOUNTS.items()]
    found.append(f"{missing:,} not found" if missing >= 0 else f"{-missing:,} more found in a hand count")
    return f"Grafts: {', '.join(found)}."
